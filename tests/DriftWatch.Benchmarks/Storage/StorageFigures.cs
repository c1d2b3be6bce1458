using System.Diagnostics;
using System.Globalization;
using DriftWatch.Benchmarks.Bed;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;

namespace DriftWatch.Benchmarks.Storage;

/// <summary>
/// The store's own figures, each as the files on the disk say: ingest, bytes a value after merging, what rollups add,
/// and a plot's worth of buckets. Readings are quantised as instruments quantise.
/// </summary>
/// <remarks>
/// DRIFTWATCH_STORAGE_DAYS sets the days of the long run (default 30) at 20 channels x 1 Hz; the run at 10 Hz takes a
/// tenth of them.
/// </remarks>
public static class StorageFigures
{
    public static void Run(TextWriter output, Size size)
    {
        double days = size == Size.Smoke ? 0.25
            : double.TryParse(Environment.GetEnvironmentVariable("DRIFTWATCH_STORAGE_DAYS"), CultureInfo.InvariantCulture, out double given) ? given
            : 30;
        Append(output, size == Size.Smoke ? 120 : 1800);
        Sizes(output, days / 10, hertz: 10, extremes: false);
        Sizes(output, days / 10, hertz: 10, extremes: true);
        Sizes(output, days, hertz: 1, extremes: false);
    }

    /// <summary>Ingest by data a commit. Wall time hangs on the disk's sync; processor time is what one core must give.</summary>
    private static void Append(TextWriter output, int dataSeconds)
    {
        foreach (int seconds in (int[])[1, 10, 60])
        {
            using var folder = new TempFolder();
            using BenchStore store = BenchStore.Open(folder.Path, new BenchStoreOptions());
            var source = new QuantisedBench(10, extremes: false);
            store.Append(source.Next(60)); // the first minute pays for compiling
            long values = 0;
            TimeSpan wall = TimeSpan.Zero;
            TimeSpan processor = TimeSpan.Zero;
            for (int at = 0; at < dataSeconds; at += seconds)
            {
                EngineInput[] batch = source.Next(seconds);
                TimeSpan before = Environment.CpuUsage.TotalTime;
                long start = Stopwatch.GetTimestamp();
                store.Append(batch);
                wall += Stopwatch.GetElapsedTime(start);
                processor += Environment.CpuUsage.TotalTime - before;
                values += batch.Count(input => input.Kind == InputKind.Sample);
            }

            output.WriteLine(string.Create(
                CultureInfo.InvariantCulture,
                $"append, {seconds,2} s of data a commit: {values / wall.TotalSeconds / 1e6:0.00} M values/s by the clock, {values / processor.TotalSeconds / 1e6:0.00} M a second of processor (20 channels x 10 Hz, full sync, sealing included)"));
        }
    }

    private static void Sizes(TextWriter output, double days, int hertz, bool extremes)
    {
        using var folder = new TempFolder();
        var source = new QuantisedBench(hertz, extremes);
        long values = 0;
        int merged = 0;
        TimeSpan appending = TimeSpan.Zero;
        TimeSpan merging = TimeSpan.Zero;
        using (BenchStore store = BenchStore.Open(folder.Path, new BenchStoreOptions { BallastBytes = 0 }))
        {
            for (int minute = 0; minute < days * 1440; minute++)
            {
                EngineInput[] batch = source.Next(60);
                long start = Stopwatch.GetTimestamp();
                store.Append(batch);
                appending += Stopwatch.GetElapsedTime(start);
                values += batch.Count(input => input.Kind is InputKind.Sample or InputKind.Fault);
                if (minute % 60 == 1)
                {
                    start = Stopwatch.GetTimestamp();
                    merged += store.MergeDue();
                    merging += Stopwatch.GetElapsedTime(start);
                }
            }

            Buckets(output, store, hertz, source.At);
        }

        (long raw, long rollups) = Split(folder.Path);
        long files = Directory.GetFiles(folder.Path, "????-??.db").Sum(path => new FileInfo(path).Length);
        output.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"{days:0.#} days, 20 channels x {hertz} Hz{(extremes ? ", minimum, maximum and 1 % faults in runs" : "")}: {values:N0} values, month files {files:N0} bytes = "
            + $"{(double)files / values:0.000} B a value in all; without rollups {(double)(files - rollups) / values:0.000}, rollups {(double)rollups / values:0.000} "
            + $"(block data alone {(double)raw / values:0.000}); append {values / appending.TotalSeconds / 1e6:0.00} M/s, {merged} hours merged at {values / merging.TotalSeconds / 1e6:0.00} M/s"));
    }

    private static void Buckets(TextWriter output, BenchStore store, int hertz, EngineTime end)
    {
        using BenchReader reader = store.OpenReader();
        EngineTime from = end - TimeSpan.FromHours(12);
        var times = new List<double>();
        int count = 0;
        for (int i = 0; i < 12; i++)
        {
            long start = Stopwatch.GetTimestamp();
            count = reader.ReadBuckets(i, from, end, 2000).Count;
            times.Add(Stopwatch.GetElapsedTime(start).TotalMilliseconds);
        }

        times.Sort();
        long whole = Stopwatch.GetTimestamp();
        int readings = reader.ReadSeries(1, from, end).Readings.Count;
        double all = Stopwatch.GetElapsedTime(whole).TotalMilliseconds;
        output.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"{count} buckets over 12 h at {hertz} Hz: median {times[6]:0.0} ms, worst of 12 channels {times[^1]:0.0} ms; all {readings:N0} readings of a channel: {all:0} ms"));
    }

    /// <summary>Bytes of block data and of rollup rows, the latter with their share of the pages.</summary>
    internal static (long Raw, long Rollups) Split(string folder)
    {
        long raw = 0;
        long rollups = 0;
        foreach (string path in Directory.GetFiles(folder, "????-??.db"))
        {
            using var connection = new Microsoft.Data.Sqlite.SqliteConnection($"Data Source={path};Mode=ReadOnly;Pooling=False");
            connection.Open();
            raw += Number("SELECT coalesce(sum(length(data)), 0) FROM block") + Number("SELECT coalesce(sum(length(data)), 0) FROM times");
            rollups += Number("SELECT coalesce(sum(length(data) + 24), 0) FROM rollup");

            long Number(string sql)
            {
                using Microsoft.Data.Sqlite.SqliteCommand command = connection.CreateCommand();
#pragma warning disable CA2100 // Constant texts.
                command.CommandText = sql;
#pragma warning restore CA2100
                return (long)command.ExecuteScalar()!;
            }
        }

        return (raw, rollups);
    }
}
