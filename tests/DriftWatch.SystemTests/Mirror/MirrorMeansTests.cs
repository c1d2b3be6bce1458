using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Mirror;
using DriftWatch.Notices.Routes;
using DriftWatch.Storage;
using DriftWatch.Storage.Mirror;
using DriftWatch.Tests.Storage;
using Microsoft.Extensions.Logging.Abstractions;

namespace DriftWatch.SystemTests.Mirror;

/// <summary>
/// Means of a second and a minute on real servers, value by value: what was written by the lane through the client is read back in the server's
/// own language, and held against means and extremes that are worked out here, from the readings, without a look at the code.
/// </summary>
public sealed class MirrorMeansTests
{
    private const int Channels = 3;

    private static readonly DateTimeOffset Begin = new(2026, 4, 5, 6, 0, 20, TimeSpan.Zero);

    /// <summary>One of them keeps twelve digits of a number that needs more (measured: 30.165277777777778 is held as 30.1652777778), so half of the last of these; the other keeps all, and means differ by how they are summed.</summary>
    private const double TwelveDigits = 5e-12, AllDigits = 1e-13;

    private static readonly string[] Fields = ["mean", "min", "max", "count", "faults"];

    [Theory]
    [InlineData("victoria-metrics", "second", 1, true)]
    [InlineData("influxdb", "second", 1, true)]
    [InlineData("victoria-metrics", "minute", 60, true)]
    [InlineData("influxdb", "minute", 60, true)]
    [InlineData("influxdb", "second", 1, false)]
    public async Task Every_mean_and_extreme_on_a_real_server_is_that_of_the_readings(string kind, string detail, int seconds, bool extremes)
    {
        using SeriesServer server = await SeriesServer.BeginAsync(kind);
        using var folder = new StoreFolder();
        using BenchStore store = folder.Open();
        var log = new LogMaker();
        log.Start(EngineTime.FromSeconds(0), Begin, LogMaker.Bench(Channels));
        var random = new Random(29);
        foreach ((double length, double faults) in ((double, double)[])[(100, 0.05), (130, 1), (190.5, 0.3), (seconds * 3, 0)])
        {
            log.Run(log.Inputs[^1].Time, length, Channels, random, extremes, faults);
        }

        store.Append([.. log.Inputs]);
        bool isPromql = kind == "victoria-metrics";
        var settings = new MirrorSettings
        {
            Id = "site", File = "bench.toml", Line = 1, Url = new WebAddress(new Uri(server.Url)), Bucket = "driftwatch", Site = "annex",
            Way = isPromql ? WriteWay.V2 : WriteWay.V1, Counts = isPromql ? CountWay.Promql : CountWay.Influxql, Detail = Enum.Parse<MirrorDetail>(detail, ignoreCase: true),
        };
        Dictionary<(string Channel, long At), Bin> due = Due(log.Inputs, seconds * 1000L);
        long open = due.Keys.Max(k => k.At) - (seconds * 1000L); // the newest bin and the one before it may still get readings
        Dictionary<(string Channel, long At), List<double>>[] held;
        await using (var lane = new MirrorLane(store, "west-bench", settings, new MirrorLaneOptions { TimeProvider = TimeProvider.System, Logger = NullLogger.Instance }))
        {
            lane.Start();
            int closed = due.Keys.Count(k => k.At < open);
            for (int i = 0; i < 150 && lane.Report.Taken < closed; i++)
            {
                await Task.Delay(TimeSpan.FromMilliseconds(100), TimeProvider.System);
            }

            held = await Task.WhenAll(Fields.Select(field => server.ValuesAsync(field, "driftwatch_" + detail)));
        }

        foreach (((string Channel, long At) key, Bin bin) in due.Where(d => d.Key.At < open))
        {
            double?[] worked = [bin.Mean, bin.Least, bin.Greatest, bin.Count, bin.Faults];
            for (int i = 0; i < Fields.Length; i++)
            {
                List<double>? kept = held[i].GetValueOrDefault(key);
                if (worked[i] is not { } value)
                {
                    Assert.True(kept is null, $"{key} has a {Fields[i]} and no reading with a value");
                    continue;
                }

                Assert.True(kept is [{ } one] && Math.Abs(one - value) <= (isPromql ? TwelveDigits : AllDigits) * Math.Abs(value), $"{key}: {Fields[i]} is {value:R}, held: {string.Join(' ', kept ?? [])}");
            }
        }

        Assert.All(held[3].Keys, k => Assert.Contains(k, due.Keys));
        Assert.Contains(due, d => d.Key.At < open && d.Value.Count == 0); // one without any value was among them
        Assert.True(!extremes || due.Values.Any(b => b.Count > 0 && b.Least < b.LeastValue), "No extreme lies outside the values.");
        Assert.Empty(await server.ValuesAsync()); // and no reading was sent beside them
    }

    /// <summary>By channel and begin of the bin, milliseconds since 1970; the calibration is that of the log: 12.5 times the raw value less 1.25.</summary>
    private static Dictionary<(string Channel, long At), Bin> Due(IReadOnlyList<EngineInput> log, long length)
    {
        var due = new Dictionary<(string, long), Bin>();
        foreach (var bin in log.Where(i => i.Kind is InputKind.Sample or InputKind.Fault).GroupBy(i => (i.Channel, At: (Begin.ToUnixTimeMilliseconds() + (i.Time.Nanoseconds / 1_000_000)) / length * length)))
        {
            EngineInput[] values = [.. bin.Where(i => i.Kind == InputKind.Sample)];
            int faults = bin.Count() - values.Length;
            due.Add(($"channel-{bin.Key.Channel}", bin.Key.At), values.Length == 0
                ? new Bin(null, null, null, null, 0, faults)
                : new Bin(
                    values.Average(v => (12.5 * v.Reading.Raw) - 1.25),
                    values.Min(v => (12.5 * (v.Reading.HasExtremes ? v.Reading.Minimum : v.Reading.Raw)) - 1.25),
                    values.Max(v => (12.5 * (v.Reading.HasExtremes ? v.Reading.Maximum : v.Reading.Raw)) - 1.25),
                    values.Min(v => (12.5 * v.Reading.Raw) - 1.25),
                    values.Length,
                    faults));
        }

        return due;
    }

    private readonly record struct Bin(double? Mean, double? Least, double? Greatest, double? LeastValue, int Count, int Faults);
}
