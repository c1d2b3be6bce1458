using System.Diagnostics;
using System.IO.Compression;
using DriftWatch.Acquisition.PracticeRig;
using DriftWatch.Benchmarks.Bed;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Running;
using Sylvan.Data.Csv;

namespace DriftWatch.Benchmarks;

/// <summary>
/// A night of twenty channels at 10 Hz judged from gzip CSV, beside what merely unpacking and splitting the same file
/// costs with a general CSV reader, and what turning its fields into numbers costs on top. Target: 12 h in ≤ 8 s.
/// </summary>
public static class JudgeFigures
{
    public static void Run(TextWriter output, Size size)
    {
        var length = TimeSpan.FromHours(size == Size.Full ? 12 : 0.25);
        Night(output, length, troubled: false, rounds: size == Size.Full ? 3 : 1);
        Night(output, length, troubled: true, rounds: size == Size.Full ? 3 : 1);
    }

    private static void Night(TextWriter output, TimeSpan length, bool troubled, int rounds)
    {
        using var folder = new TempFolder();
        string path = folder.At("night.csv.gz");
        using (var csv = new RigCsv(path, PracticeBench.TwentyAtTenHertz))
        {
            foreach (EngineInput input in PracticeBench.Night(length, QuantisedBench.Begin, troubled))
            {
                csv.Write(input);
            }

            csv.Complete();
        }

        var judged = new List<double>();
        var split = new List<double>();
        var parsed = new List<double>();
        JudgeSummary summary = null!;
        double processor = double.MaxValue;
        for (int round = 0; round < rounds; round++)
        {
            TimeSpan before = Environment.CpuUsage.TotalTime;
            judged.Add(Seconds(() => summary = Judge(path, folder.At("findings.jsonl"))));
            processor = Math.Min(processor, (Environment.CpuUsage.TotalTime - before).TotalSeconds);
            split.Add(Seconds(() => Split(path, numbers: false)));
            parsed.Add(Seconds(() => Split(path, numbers: true)));
        }

        double seconds = judged.Order().ElementAt(judged.Count / 2);
        double peer = split.Order().ElementAt(split.Count / 2);
        double peerNumbers = parsed.Order().ElementAt(parsed.Count / 2);
        output.WriteLine(
            $"judge, {(troubled ? "something fails every minute" : "sound transfers")}, {length.TotalHours:0.##} h x 20 channels x 10 Hz, gzip CSV of {new FileInfo(path).Length:N0} bytes: "
            + $"{seconds:0.00} s by the clock (median of {judged.Count}: {string.Join(", ", judged.Select(s => s.ToString("0.00")))}), {processor:0.00} s of processor at best; "
            + $"{summary.Readings:N0} readings, {summary.Readings / seconds / 1e6:0.00} M/s, {summary.Lines} finding lines (target 8 s for 12 h)");
        output.WriteLine(
            $"judge, peer: unpacking and splitting the same file with Sylvan.Data.Csv {peer:0.00} s, judging takes {seconds / peer:0.0} times that; "
            + $"with every field made a number {peerNumbers:0.00} s, judging takes {seconds / peerNumbers:0.0} times that");
    }

    private static JudgeSummary Judge(string path, string findings)
    {
        using var source = new CsvSource(path, PracticeBench.TwentyAtTenHertz, ignoreUnknownColumns: false);
        using var stream = new BufferedStream(File.Create(findings), 64 * 1024);
        return JudgePass.Run(source, stream);
    }

    private static void Split(string path, bool numbers)
    {
        using var text = new StreamReader(new GZipStream(File.OpenRead(path), CompressionMode.Decompress));
        using CsvDataReader reader = CsvDataReader.Create(text);
        double sum = 0;
        while (reader.Read())
        {
            for (int i = 0; i < reader.FieldCount; i++)
            {
                ReadOnlySpan<char> field = reader.GetFieldSpan(i);
                sum += numbers && i > 0 && double.TryParse(field, out double value) ? value : field.Length;
            }
        }

        if (sum == 0)
        {
            throw new InvalidOperationException("The recording is empty.");
        }
    }

    private static double Seconds(Action work)
    {
        long start = Stopwatch.GetTimestamp();
        work();
        return Stopwatch.GetElapsedTime(start).TotalSeconds;
    }
}
