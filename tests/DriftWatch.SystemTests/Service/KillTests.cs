using System.Globalization;
using DriftWatch.SystemTests.Lines;
using Xunit.Abstractions;

namespace DriftWatch.SystemTests.Service;

/// <summary>
/// kill -9 of the whole service at random moments, held against the emitter's own log and against what a second reader
/// saw committed: every other kill falls into the start, within two seconds of the launch. The wall clock of the
/// service runs over the end of a month and from then on an hour later at each start, and a backup runs beside it all
/// the time. Kills that are aimed at a step have tests of their own. <c>DRIFTWATCH_LONG=1</c> kills 50 times.
/// </summary>
public sealed class KillTests(ITestOutputHelper output)
{
    /// <summary>A commit a second, a turn of the pipeline, the merge's bound, and the way through two pseudo-terminals.</summary>
    private const double CommittedWithinSeconds = 1.8;

    /// <summary>Lives near the end of the month, before each start is an hour later.</summary>
    private const int KillsBeforeHours = 6;

    [Fact]
    public async Task No_committed_second_is_lost_and_nothing_is_invented_whenever_the_service_is_killed()
    {
        int kills = Environment.GetEnvironmentVariable("DRIFTWATCH_LONG") == "1" ? 50 : 10;
        int seed = Random.Shared.Next();
        var random = new Random(seed);
        output.WriteLine($"seed {seed}, {kills} kills");
        using EmitterBench bench = EmitterBench.Create();
        await bench.PlugIn();
        string store = Path.Combine(bench.Folder, "store");
        FakedClock clock = FakedClock.Beside(bench.Folder);
        clock.GoBeforeTheMonthEnds(TimeSpan.FromSeconds(20));
        var spans = new List<(double From, double To)>();
        var committed = new HashSet<int>();
        using var backups = new CancellationTokenSource();
        Task copying = CopyAgainAndAgain(Path.Combine(store, EmitterBench.Id), Path.Combine(bench.Folder, "backup"), backups.Token);
        var reopened = new List<double>();
        for (int kill = 0; kill < kills; kill++)
        {
            clock.GoAhead(TimeSpan.FromHours(kill > KillsBeforeHours ? 1 : 0));
            if (kill % 2 == 1)
            {
                using ServiceProcess starting = ServiceProcess.Launch(bench.BenchFile, store, clock.Environment);
                await Task.Delay(TimeSpan.FromSeconds(random.NextDouble() * 2), TimeProvider.System);
                committed.UnionWith(bench.CommittedNow(store));
                starting.KillHard();
                continue;
            }

            using ServiceProcess service = await ServiceProcess.WatchAsync(bench.BenchFile, store, clock.Environment);
            double talksFrom = Now();
            await Task.Delay(TimeSpan.FromSeconds(2.5 + (random.NextDouble() * 4)), TimeProvider.System);
            committed.UnionWith(bench.Stored(store));
            double killedAt = Now();
            service.KillHard();
            spans.Add((talksFrom + 1.5, killedAt - CommittedWithinSeconds));
            reopened.Add((service.LoggedAt(1001)! - service.LoggedAt(3000)!).Value.TotalSeconds);
        }

        using (ServiceProcess last = await ServiceProcess.WatchAsync(bench.BenchFile, store, clock.Environment))
        {
            await Task.Delay(TimeSpan.FromSeconds(2), TimeProvider.System);
            Assert.Equal(0, (await last.StopAsync()).Code);
        }

        await backups.CancelAsync();
        await copying;
        bench.Unplug();

        IReadOnlyList<SentLine> sent = bench.Sent();
        IReadOnlyList<int> stored = bench.Stored(store);
        for (int i = 1; i < stored.Count; i++)
        {
            Assert.True(stored[i] > stored[i - 1], $"Line {stored[i]} is stored after line {stored[i - 1]}.");
        }

        var kept = stored.ToHashSet();
        List<SentLine> due = [.. sent.Where(s => spans.Exists(span => s.SentAtUnixSeconds >= span.From && s.SentAtUnixSeconds <= span.To))];
        Assert.NotEmpty(due);
        Assert.Empty(due.Where(s => !kept.Contains(s.Sequence)).Select(s => s.Sequence));
        Assert.NotEmpty(committed);
        Assert.Empty(committed.Except(kept));
        output.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"{sent.Count} lines sent, {stored.Count} stored, {due.Count} due by the emitter's clock and {committed.Count} seen by a second reader before a kill, 0 of them lost; from opened to watching again: median {Median(reopened):0.00} s, worst {reopened.Max():0.00} s"));
        Assert.True(Directory.EnumerateFiles(Path.Combine(store, EmitterBench.Id), "????-??.db").Count() == 2, "No month has rolled.");
    }

    private static async Task CopyAgainAndAgain(string store, string target, CancellationToken stop)
    {
        while (!stop.IsCancellationRequested)
        {
            if (File.Exists(Path.Combine(store, "records.db")))
            {
                (int code, string said) = await ServiceProcess.RunAsync("backup", store, "--out", target);
                Assert.True(code == 0, said);
            }

            try
            {
                await Task.Delay(TimeSpan.FromSeconds(3), TimeProvider.System, stop);
            }
            catch (OperationCanceledException)
            {
                return;
            }
        }
    }

    private static double Now() => TimeProvider.System.GetUtcNow().ToUnixTimeMilliseconds() / 1000.0;

    private static double Median(List<double> values) => values.Order().ElementAt(values.Count / 2);
}
