using System.Globalization;
using DriftWatch.Mirror;
using Xunit;

namespace DriftWatch.Tests.Mirror;

/// <summary>Means of a second or a minute: each is of all of its readings, whatever befell the server or the service meanwhile.</summary>
public sealed class MeanLaneTests
{
    [Theory]
    [InlineData("second", 1, 30, true)]
    [InlineData("second", 1, 30, false)]
    [InlineData("minute", 60, 700, true)]
    public async Task The_past_and_what_is_new_arrive_bin_by_bin(string detail, int length, double seconds, bool extremes)
    {
        await using LaneBench bench = Bench(detail);
        bench.Run(seconds, extremes: extremes);
        bench.Start();
        await bench.UntilAsync(() => bench.Report.Taken > 0, "some");
        bench.Run(4 * length, extremes: extremes);
        await bench.UntilAsync(() => bench.Report is { State: MirrorState.Level, OlderInputs: 0 } && Held(bench, detail).Count >= Due(bench, length).Count - (3 * LaneBench.Channels), "level");
        Same(bench, detail, length, last: 3);
        Assert.Empty(bench.Server.Of("driftwatch_reading"));
        Assert.Equal(0, bench.Report.Compared);
    }

    /// <summary>Stopped and begun again in the middle of a second, seven times: no mean is of half a second.</summary>
    [Fact]
    public async Task A_restart_leaves_no_bin_out_and_sends_none_in_part()
    {
        await using LaneBench bench = Bench("second");
        bench.Run(20.3);
        for (int i = 0; i < 7; i++)
        {
            bench.Start();
            long before = bench.Server.CountHeard();
            await bench.UntilAsync(() => bench.Server.CountHeard() > before || bench.Report.OlderInputs == 0, "some");
            bench.Run(3.7);
            await bench.StopAsync();
        }

        bench.Start();
        bench.Run(6);
        await bench.UntilAsync(() => Held(bench, "second").Count >= Due(bench, 1).Count - (3 * LaneBench.Channels), "all");
        Same(bench, "second", 1, last: 3);
    }

    [Fact]
    public async Task What_a_killed_server_had_taken_is_sent_again_whole()
    {
        await using LaneBench bench = Bench("second");
        bench.Run(40);
        bench.Start();
        await bench.UntilAsync(() => Held(bench, "second").Count > 0, "some");
        for (int i = 0; i < 5; i++)
        {
            bench.Run(5.5);
            await bench.UntilAsync(() => bench.Report.State != MirrorState.Waiting, "it goes on");
            bench.Server.Says = _ => StubServer.Answer(503);
            bench.Run(2.3);
            await bench.UntilAsync(() => bench.Report.State == MirrorState.Waiting, "waiting");
            bench.Server.Forget(30);
            bench.Server.Says = _ => null;
        }

        bench.Run(6);
        await bench.UntilAsync(() => Held(bench, "second").Count >= Due(bench, 1).Count - (3 * LaneBench.Channels), "all");
        Same(bench, "second", 1, last: 3);
    }

    /// <summary>A night without a network: what is new is followed again beside it, and where the two meet nothing is missing.</summary>
    [Fact]
    public async Task A_night_is_caught_up_beside_what_is_new_and_their_seam_is_whole()
    {
        await using LaneBench bench = Bench("second");
        bench.Run(10);
        bench.Start();
        await bench.UntilAsync(() => Held(bench, "second").Count > 0, "some");
        bench.Server.Says = _ => StubServer.Answer(503);
        bench.Run(1000.4);
        await bench.UntilAsync(() => bench.Report.State == MirrorState.Waiting, "waiting");
        bench.Server.Says = _ => null;
        await bench.UntilAsync(() => bench.Report.OlderInputs > 0, "it leaps");
        bench.Run(9.5);
        await bench.UntilAsync(() => Held(bench, "second").Count >= Due(bench, 1).Count - (3 * LaneBench.Channels), "all");
        Same(bench, "second", 1, last: 3);
    }

    /// <summary>After a step of the clock the second begins anew: what was open is over, and no second is left out behind it.</summary>
    [Fact]
    public async Task A_step_of_the_clock_closes_what_is_open()
    {
        await using LaneBench bench = Bench("second");
        bench.Run(10.5);
        bench.StepClock(TimeSpan.FromHours(1));
        bench.Run(10);
        bench.Start();
        await bench.UntilAsync(() => bench.Report.Taken > 0, "some");
        bench.Run(4);
        await bench.UntilAsync(() => bench.Report is { State: MirrorState.Level, OlderInputs: 0 } && Held(bench, "second").Count >= Due(bench, 1).Count - (3 * LaneBench.Channels), "level");
        Same(bench, "second", 1, last: 3);
    }

    /// <summary>The machine stands silent for longer than a mirror may be behind: what is open waits for readings, and nothing is owed or behind.</summary>
    [Theory]
    [InlineData("second", 1)]
    [InlineData("minute", 60)]
    public async Task Bins_that_are_open_are_told_as_that_and_are_no_backlog(string detail, int seconds)
    {
        await using LaneBench bench = Bench(detail);
        bench.Settings = bench.Settings with { TellAfter = TimeSpan.FromMinutes(2) };
        bench.Run(10.5 * seconds);
        bench.Start();
        await bench.UntilAsync(() => bench.Report is { State: MirrorState.Level, Taken: > 0, OlderInputs: 0, IsBinOpen: true }, "level but for what is open");
        double silent = 0;
        await bench.UntilAsync(
            () =>
            {
                Assert.Equal((MirrorState.Level, 0L, TimeSpan.Zero), (bench.Report.State, bench.Report.OlderInputs, bench.Report.Behind));
                return (silent += 0.5) > 300;
            },
            "longer than it may be behind");
        Assert.Empty(bench.Said);
        Assert.Equal(9 * LaneBench.Channels, Held(bench, detail).Count); // eleven were begun, of which two may still get readings

        bench.Run(3 * seconds);
        await bench.UntilAsync(() => Held(bench, detail).Count >= 11 * LaneBench.Channels, "what was open, once it was over");
        Same(bench, detail, seconds, last: 3);
    }

    private static LaneBench Bench(string detail)
    {
        var bench = new LaneBench();
        bench.Settings = bench.Settings with { Detail = Enum.Parse<MirrorDetail>(detail, ignoreCase: true), Counts = CountWay.Influxql };
        return bench;
    }

    private static Dictionary<string, string> Held(LaneBench bench, string detail) => bench.Server.Of("driftwatch_" + detail).ToDictionary(h => h.Key, h => h.Value);

    /// <summary>Means of all readings of each bin, worked out from the log without a look at the code: by channel and begin of the bin.</summary>
    private static Dictionary<(string Channel, long At), (double Mean, double Least, double Greatest, int Count, int Faults)> Due(LaneBench bench, int seconds) =>
        bench.Measured().GroupBy(m => (m.Channel, m.UtcMilliseconds / (seconds * 1000L) * seconds * 1000L)).ToDictionary(g => g.Key, g =>
        {
            double[] values = [.. g.Where(m => m.Value is not null).Select(m => m.Value!.Value)];
            return (values.Length > 0 ? values.Average() : double.NaN, g.Min(m => m.Least ?? double.PositiveInfinity), g.Max(m => m.Greatest ?? double.NegativeInfinity), values.Length, g.Count(m => m.Value is null));
        });

    /// <summary>The server's lines against the log's, but for the last bins, which are still open.</summary>
    private static void Same(LaneBench bench, string detail, int seconds, int last)
    {
        var due = Due(bench, seconds);
        Dictionary<string, string> held = Held(bench, detail);
        long newest = due.Keys.Max(k => k.At);
        foreach (((string channel, long at), (double mean, double least, double greatest, int count, int faults)) in due)
        {
            string key = string.Create(CultureInfo.InvariantCulture, $"driftwatch_{detail},bench=west-bench,channel={channel},unit=psi,site=annex {at}");
            if (!held.TryGetValue(key, out string? line))
            {
                Assert.True(at > newest - (last * seconds * 1000L), $"{key} is missing");
                continue;
            }

            Dictionary<string, double> fields = line.Split(',').Select(f => f.Split('=')).ToDictionary(f => f[0], f => double.Parse(f[1].TrimEnd('i'), CultureInfo.InvariantCulture));
            Assert.Equal((count, faults), ((int)fields["count"], (int)fields["faults"]));
            Assert.Equal(count > 0 ? 5 : 2, fields.Count);
            if (count > 0)
            {
                Assert.Equal(mean, fields["mean"], 9);
                Assert.Equal(least, fields["min"], 9);
                Assert.Equal(greatest, fields["max"], 9);
            }
        }

        Assert.All(held.Keys, k => Assert.Contains((Channel(k), long.Parse(k.Split(' ')[1], CultureInfo.InvariantCulture)), due.Keys));

        static string Channel(string key) => key.Split("channel=")[1].Split(',')[0];
    }
}
