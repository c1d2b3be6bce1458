using System.Diagnostics;
using System.Globalization;
using System.IO.Compression;
using System.Text;
using DriftWatch.Benchmarks.Bed;
using DriftWatch.Benchmarks.Servers;
using DriftWatch.Benchmarks.Storage;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;

namespace DriftWatch.Benchmarks;

/// <summary>
/// The same 12 h x 20 channels x 10 Hz into the store and into two time-series servers of Debian, on the same disk in
/// the same run: ingest, bytes a value, and 2,000 buckets of minimum, maximum and mean of one channel.
/// </summary>
/// <remarks>
/// The servers get gzip line protocol, 10,000 values a request, two requests at a time, made ready beforehand: their
/// ingest includes HTTP and reading that text, their queries include HTTP and writing JSON, which a store inside the
/// process does not need. The store gets ten seconds of data a commit, each synced to the disk.
/// </remarks>
public static class PeerFigures
{
    private const int BucketCount = 2000;
    private const int QueriedChannels = 12;
    private const int ScansPerBody = 500;

    public static void Run(TextWriter output, Size size)
    {
        var length = TimeSpan.FromHours(size == Size.Full ? 12 : 1.0 / 6);
        using var metrics = new VictoriaMetricsPeer();
        using var influx = new InfluxPeer(size);
        Row own = Own(length);
        (List<byte[]> bodies, long values) = Bodies(length);
        Row[] rows = [own, Serve(metrics, bodies, values, length), Serve(influx, bodies, values, length)];

        output.WriteLine($"peers, {length.TotalHours:0.##} h x 20 channels x 10 Hz = {values:N0} values; buckets: {BucketCount} of minimum, maximum and mean over all of it, {QueriedChannels} channels in turn");
        output.WriteLine("| what | M values/s | M values a second of processor | B a value on disk | buckets, median ms | worst ms | ours to it: ingest, size, buckets |");
        output.WriteLine("|---|---|---|---|---|---|---|");
        foreach (Row row in rows)
        {
            string ratios = row == own ? "" : $"{own.Ingest / row.Ingest:0.0} x, {own.Bytes / row.Bytes:0.00} x, {own.Median / row.Median:0.00} x";
            output.WriteLine($"| {row.Name} | {row.Ingest:0.00} | {row.IngestByProcessor:0.00} | {row.Bytes:0.000} | {row.Median:0.0} | {row.Worst:0.0} | {ratios} |");
        }

        foreach (Row row in rows.Where(r => r.Note.Length > 0))
        {
            output.WriteLine($"{row.Name}: {row.Note}");
        }
    }

    private static Row Own(TimeSpan length)
    {
        using var folder = new TempFolder();
        var source = new QuantisedBench(10, extremes: false);
        long values = 0;
        TimeSpan wall = default;
        TimeSpan processor = default;
        var times = new List<double>();
        using (BenchStore store = BenchStore.Open(folder.Path, new BenchStoreOptions { BallastBytes = 0 }))
        {
            while (source.At.Nanoseconds < length.Ticks * 100)
            {
                EngineInput[] batch = source.Next(10);
                TimeSpan before = Environment.CpuUsage.TotalTime;
                long start = Stopwatch.GetTimestamp();
                store.Append(batch);
                wall += Stopwatch.GetElapsedTime(start);
                processor += Environment.CpuUsage.TotalTime - before;
                values += batch.Count(input => input.Kind == InputKind.Sample);
            }

            store.MergeDue();
            using BenchReader reader = store.OpenReader();
            for (int channel = 0; channel < QueriedChannels; channel++)
            {
                long start = Stopwatch.GetTimestamp();
                IReadOnlyList<RawBucket> buckets = reader.ReadBuckets(channel, default, source.At, BucketCount);
                times.Add(Stopwatch.GetElapsedTime(start).TotalMilliseconds);
                Check("the store", buckets.Count, BucketCount);
            }
        }

        (long _, long rollups) = StorageFigures.Split(folder.Path);
        long files = Directory.GetFiles(folder.Path, "????-??.db").Sum(path => new FileInfo(path).Length);
        return new Row(
            "DriftWatch's store", values / wall.TotalSeconds / 1e6, values / processor.TotalSeconds / 1e6, (double)files / values, times,
            $"month files with rollups; without rollups {(double)(files - rollups) / values:0.000} B a value");
    }

    private static Row Serve(ServerPeer peer, List<byte[]> bodies, long values, TimeSpan length)
    {
        TimeSpan before = peer.Processor;
        long start = Stopwatch.GetTimestamp();
        Task.WhenAll(Enumerable.Range(0, 2).Select(lane => Task.Run(async () =>
        {
            for (int i = lane; i < bodies.Count; i += 2)
            {
                await peer.WriteAsync(bodies[i]);
            }
        }))).GetAwaiter().GetResult();
        TimeSpan wall = Stopwatch.GetElapsedTime(start);
        TimeSpan processor = peer.Processor - before;
        peer.Flush();
        DateTimeOffset from = QuantisedBench.Begin;
        DateTimeOffset to = from + length;
        long held = 0;
        Waiting.Until(() => (held = peer.Count(from, to)) >= values, TimeSpan.FromSeconds(10), $"{peer.Name} to hold all it was given");
        Check(peer.Name, held, values);
        var times = new List<double>();
        for (int channel = 0; channel < QueriedChannels; channel++)
        {
            start = Stopwatch.GetTimestamp();
            string answer = peer.Buckets(Field(channel), from, to, length / BucketCount);
            times.Add(Stopwatch.GetElapsedTime(start).TotalMilliseconds);
            Check(peer.Name, peer.CountBuckets(answer), BucketCount);
        }

        peer.Settle();
        return new Row(
            peer.Name, values / wall.TotalSeconds / 1e6, values / processor.TotalSeconds / 1e6, (double)peer.Size / values, times, peer.SizeNote);
    }

    /// <summary>All readings of a scan in one line, each the shortest text of its number.</summary>
    private static (List<byte[]> Bodies, long Values) Bodies(TimeSpan length)
    {
        var source = new QuantisedBench(10, extremes: false);
        var bodies = new List<byte[]>();
        var text = new StringBuilder();
        long values = 0;
        int scans = 0;
        bool inScan = false;
        EngineTime at = default;
        while (source.At.Nanoseconds < length.Ticks * 100)
        {
            foreach (EngineInput input in source.Next(10))
            {
                if (input.Kind == InputKind.Sample)
                {
                    text.Append(inScan ? "," : "bench ").Append(Field(input.Channel)).Append('=').Append(input.Reading.Raw.ToString("R", CultureInfo.InvariantCulture));
                    inScan = true;
                    at = input.Time;
                    values++;
                }
                else if (inScan)
                {
                    text.Append(' ').Append(QuantisedBench.Begin.ToUnixTimeMilliseconds() + (at.Nanoseconds / EngineTime.NanosecondsPerMillisecond)).Append('\n');
                    inScan = false;
                    if (++scans % ScansPerBody == 0)
                    {
                        bodies.Add(Packed(text));
                    }
                }
            }
        }

        if (text.Length > 0)
        {
            bodies.Add(Packed(text));
        }

        return (bodies, values);
    }

    private static byte[] Packed(StringBuilder text)
    {
        using var bytes = new MemoryStream();
        using (var gzip = new GZipStream(bytes, CompressionLevel.Fastest))
        {
            gzip.Write(Encoding.ASCII.GetBytes(text.ToString()));
        }

        text.Clear();
        return bytes.ToArray();
    }

    private static string Field(int channel) => $"c{channel:00}";

    private static void Check(string who, long got, long due)
    {
        if (got != due)
        {
            throw new InvalidOperationException($"{who}: {got:N0} instead of {due:N0}");
        }
    }

    private sealed record Row(string Name, double Ingest, double IngestByProcessor, double Bytes, List<double> Times, string Note)
    {
        public double Median => Times.Order().ElementAt(Times.Count / 2);

        public double Worst => Times.Max();
    }
}
