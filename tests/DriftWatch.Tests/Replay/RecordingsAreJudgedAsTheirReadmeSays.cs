using System.IO.Compression;
using System.Text.Json;
using DriftWatch.Acquisition.PracticeRig;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Tests.PracticeRig;
using DriftWatch.Watch;

namespace DriftWatch.Tests.Replay;

/// <summary>
/// Every recording that comes with the program, through the engine of a live run: what its <c>expected.json</c> says
/// must be found is found where and when it says, and nothing more severe than it allows besides.
/// </summary>
public class RecordingsAreJudgedAsTheirReadmeSays
{
    private const string Start = "2026-01-15T08:00:00.000Z";

    private static IEnumerable<string> Folders =>
        Directory.GetDirectories(GuideAndHeadTests.RepositoryFile("replay-data")).Order(StringComparer.Ordinal);

    public static TheoryData<string> Recordings => new(Folders.Select(folder => Path.GetFileName(folder)));

    [Fact]
    public void There_are_at_least_six_recordings_and_none_is_larger_than_four_megabytes()
    {
        Assert.True(Folders.Count() >= 6, $"{Folders.Count()} recordings");
        foreach (string folder in Folders)
        {
            Assert.True(File.Exists(Path.Combine(folder, "README.md")), folder);
            Assert.InRange(new DirectoryInfo(folder).GetFiles().Sum(f => f.Length), 1, 4L << 20);
        }
    }

    [Theory]
    [MemberData(nameof(Recordings))]
    public void What_must_be_found_is_found_and_nothing_worse_besides(string name)
    {
        string folder = Folder(name);
        using JsonDocument expected = JsonDocument.Parse(File.ReadAllText(Path.Combine(folder, "expected.json")));
        List<Found> findings = Judge(Path.Combine(folder, "recording.csv.gz"), Bench(folder));
        var trouble = new List<string>();
        var allowed = new HashSet<Found>();
        foreach (JsonElement must in expected.RootElement.GetProperty("must").EnumerateArray())
        {
            long by = Utc(must, "raisedBy");
            Severity least = Severities(must.GetProperty("severity").GetString()!);
            List<Found> hits = [.. findings.Where(f => Fits(must, f) && f.First.RaisedUtc <= by && f.Worst >= least)];
            allowed.UnionWith(hits);
            if (hits.Count == 0)
            {
                trouble.Add($"not found: {must}");
            }
        }

        foreach (JsonElement may in expected.RootElement.GetProperty("may").EnumerateArray())
        {
            allowed.UnionWith(findings.Where(f => Fits(may, f)));
        }

        Severity most = Severities(expected.RootElement.GetProperty("nothingElseAbove").GetString()!);
        trouble.AddRange(findings.Where(f => f.Worst > most && !allowed.Contains(f)).Select(f => $"found besides ({f.Worst}): {f.First.Text} {Line(f)}"));
        Assert.True(trouble.Count == 0, name + ":\n" + string.Join('\n', trouble) + "\nall findings:\n" + string.Join('\n', findings.Select(Line)));
    }

    [Fact]
    public void A_sound_transfer_raises_no_alarm_and_a_failing_compressor_one_with_its_cause()
    {
        Assert.Empty(Book("sound-transfer"));
        List<AlarmTransition> book = Book("failing-compressor");
        AlarmTransition alarm = Assert.Single(book, a => a.Step == AlarmStep.Raised);
        Assert.All(book, a => Assert.Equal(alarm.Id, a.Id));
        Assert.Equal("compressor-worn", book.Last(a => a.Step == AlarmStep.CauseNamed).Cause);
    }

    /// <summary>The shortest recording; the others are made by the same code. Holds on the platform that made it, as all identity does.</summary>
    [Fact]
    public void A_recording_is_made_again_bit_for_bit_by_its_command()
    {
        string folder = Folder("failing-compressor");
        BenchDefinition bench = Bench(folder);
        string again = Directory.CreateTempSubdirectory("driftwatch-replay-").FullName;
        try
        {
            Assert.True(UtcText.TryParse(Start, out long start));
            var recorder = new RigRecorder(bench, null, null, start);
            string path = Path.Combine(again, "recording.csv.gz");
            using (var csv = new RigCsv(path, bench))
            {
                foreach (EngineInput input in recorder.Record(TimeSpan.FromSeconds(recorder.Script.LengthSeconds)))
                {
                    csv.Write(input);
                }

                csv.Complete();
            }

            // Compressed bytes depend on the platform's zlib; what they hold does not.
            Assert.Equal(Unzip(Path.Combine(folder, "recording.csv.gz")), Unzip(path));
            Assert.Equal(
                Unzip(FrameFiles.PathFor(Path.Combine(folder, "recording.csv.gz"), "timing-error")),
                Unzip(FrameFiles.PathFor(path, "timing-error")));
        }
        finally
        {
            Directory.Delete(again, recursive: true);
        }
    }

    [Fact]
    public void The_inputs_of_a_rehearsal_are_numbered_and_in_the_order_of_judging()
    {
        BenchDefinition bench = Bench(Folder("head-clog"));
        var recorder = new RigRecorder(bench, RigScripts.Load("tour"), 5, 0);
        EngineInput last = default;
        long expectedNumber = 1;
        foreach (EngineInput input in recorder.Record(TimeSpan.FromMinutes(2)))
        {
            Assert.Equal(expectedNumber++, input.Number);
            Assert.False(input.IsLate);
            Assert.True(input.Number == 1 || EngineInput.CompareForJudging(last, input) < 0, $"{last} before {input}");
            last = input;
        }

        Assert.Equal(EngineTime.FromSeconds(120), last.Time);
        Assert.Equal(InputKind.Tick, last.Kind);
    }

    private static string Folder(string name) => Path.Combine(GuideAndHeadTests.RepositoryFile("replay-data"), name);

    private static BenchDefinition Bench(string folder)
    {
        BenchFileResult result = BenchFile.Load(
            Path.Combine(folder, "bench.toml"), [GuideAndHeadTests.RepositoryFile("device-profiles")]);
        Assert.True(result.Bench is not null, string.Join('\n', result.Mistakes));
        return result.Bench.Definition;
    }

    private static List<Found> Judge(string recording, BenchDefinition bench)
    {
        var engine = new WatchEngine();
        var lines = new List<FindingLine>();
        var findings = new Dictionary<string, Found>(StringComparer.Ordinal);
        using var inputs = new RecordingInputs(recording, bench);
        while (inputs.Next(out EngineInput input))
        {
            engine.Apply(input, lines);
            foreach (FindingLine line in lines)
            {
                if (findings.TryGetValue(line.Id, out Found? found))
                {
                    found.Worst = line.Severity > found.Worst ? line.Severity : found.Worst;
                }
                else
                {
                    findings.Add(line.Id, new Found(line) { Worst = line.Severity });
                }
            }

            lines.Clear();
        }

        return [.. findings.Values];
    }

    private static List<AlarmTransition> Book(string name)
    {
        var engine = new WatchEngine();
        var lines = new List<FindingLine>();
        var book = new List<AlarmTransition>();
        using var inputs = new RecordingInputs(Path.Combine(Folder(name), "recording.csv.gz"), Bench(Folder(name)));
        while (inputs.Next(out EngineInput input))
        {
            lines.Clear();
            engine.Apply(input, lines, book);
        }

        return book;
    }

    private static bool Fits(JsonElement expected, Found found) =>
        found.First.Kind == expected.GetProperty("kind").GetString()
        && found.First.Channel == expected.GetProperty("channel").GetString()
        && (!expected.TryGetProperty("cause", out JsonElement cause) || found.First.Cause == cause.GetString())
        && found.First.StartUtc >= Utc(expected, "startFrom")
        && found.First.StartUtc <= Utc(expected, "startTo");

    private static long Utc(JsonElement element, string name) =>
        UtcText.TryParse(element.GetProperty(name).GetString()!, out long utc) ? utc : throw new FormatException(name);

    private static Severity Severities(string slug) =>
        Slugs.TryParse(slug, out Severity severity) ? severity : throw new FormatException(slug);

    private static string Line(Found f) =>
        $"  {UtcText.FromNanoseconds(f.First.StartUtc)} {f.Worst} {f.First.Kind} {f.First.Channel} {f.First.Cause} said {UtcText.FromNanoseconds(f.First.RaisedUtc)}";

    private static byte[] Unzip(string path)
    {
        using var file = new GZipStream(File.OpenRead(path), CompressionMode.Decompress);
        using var bytes = new MemoryStream();
        file.CopyTo(bytes);
        return bytes.ToArray();
    }

    private sealed class Found(FindingLine first)
    {
        public FindingLine First { get; } = first;

        public Severity Worst { get; set; }
    }
}
