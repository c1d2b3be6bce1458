using System.Globalization;
using DriftWatch.SystemTests.Lines;
using Xunit.Abstractions;

namespace DriftWatch.SystemTests.Service;

/// <summary>
/// kill -9 of the whole service at random moments, held against the emitter's own log. The wall clock of the service
/// runs over the end of a month and from then on an hour later at each start, so that the month rolls and hours are merged
/// between the kills; a backup runs beside it all the time. No kill is aimed at any of these moments.
/// <c>DRIFTWATCH_LONG=1</c> kills 50 times.
/// </summary>
public sealed class KillTests(ITestOutputHelper output)
{
    /// <summary>A commit a second, a turn of the pipeline, the merge's bound, and the way through two pseudo-terminals.</summary>
    private const double CommittedWithinSeconds = 1.8;

    /// <summary>Lives near the end of the month, before each start is an hour later.</summary>
    private const int KillsBeforeHours = 4;

    private const int MergedEvent = 3006;

    [Fact]
    public async Task No_committed_second_is_lost_and_nothing_is_invented_whenever_the_service_is_killed()
    {
        int kills = Environment.GetEnvironmentVariable("DRIFTWATCH_LONG") == "1" ? 50 : 8;
        int seed = Random.Shared.Next();
        var random = new Random(seed);
        output.WriteLine($"seed {seed}, {kills} kills");
        using EmitterBench bench = EmitterBench.Create();
        await bench.PlugIn();
        string store = Path.Combine(bench.Folder, "store");
        Dictionary<string, string> clock = NearTheEndOfAMonth(bench.Folder);
        var spans = new List<(double From, double To)>();
        using var backups = new CancellationTokenSource();
        Task copying = CopyAgainAndAgain(Path.Combine(store, EmitterBench.Id), Path.Combine(bench.Folder, "backup"), backups.Token);
        var reopened = new List<double>();
        int merges = 0;
        for (int kill = 0; kill < kills; kill++)
        {
            SetClock(bench.Folder, hoursAhead: Math.Max(0, kill - KillsBeforeHours));
            using ServiceProcess service = await ServiceProcess.WatchAsync(bench.BenchFile, store, clock);
            double talksFrom = Now();
            await Task.Delay(TimeSpan.FromSeconds(2.5 + (random.NextDouble() * 4)), TimeProvider.System);
            double killedAt = Now();
            service.KillHard();
            merges += service.TimesLogged(MergedEvent);
            spans.Add((talksFrom + 1.5, killedAt - CommittedWithinSeconds));
            reopened.Add((service.LoggedAt(1001)! - service.LoggedAt(3000)!).Value.TotalSeconds);
        }

        using (ServiceProcess last = await ServiceProcess.WatchAsync(bench.BenchFile, store, clock))
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
        output.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"{sent.Count} lines sent, {stored.Count} stored, {due.Count} in committed seconds, 0 of them lost; from opened to watching again: median {Median(reopened):0.00} s, worst {reopened.Max():0.00} s"));
        Assert.True(merges > 0, "No hour was merged while it was killed.");
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

    /// <summary>The environment of a process whose wall clock stands twenty seconds before the end of this month.</summary>
    private static Dictionary<string, string> NearTheEndOfAMonth(string folder)
    {
        string? library = Directory.EnumerateFiles("/usr/lib", "libfaketime.so.1", SearchOption.AllDirectories).FirstOrDefault();
        Assert.True(library is not null, "libfaketime is missing: apt-get install faketime");
        SetClock(folder, hoursAhead: 0);
        return new Dictionary<string, string>
        {
            ["LD_PRELOAD"] = library!,
            ["FAKETIME_TIMESTAMP_FILE"] = Path.Combine(folder, "clock"),
            ["FAKETIME_DONT_FAKE_MONOTONIC"] = "1",
            ["DONT_FAKE_MONOTONIC"] = "1",
            ["FAKETIME_FORCE_MONOTONIC_FIX"] = "0",
        };
    }

    /// <summary>The offset of the service's wall clock: set once to the end of the month, then only moved by whole hours.</summary>
    private static void SetClock(string folder, int hoursAhead)
    {
        string first = Path.Combine(folder, "clock-first");
        if (!File.Exists(first))
        {
            DateTimeOffset now = TimeProvider.System.GetUtcNow();
            DateTimeOffset end = new DateTimeOffset(now.Year, now.Month, 1, 0, 0, 0, TimeSpan.Zero).AddMonths(1);
            File.WriteAllText(first, ((end - now).TotalSeconds - 20).ToString("0", CultureInfo.InvariantCulture));
        }

        double offset = double.Parse(File.ReadAllText(first), CultureInfo.InvariantCulture) + (3600.0 * hoursAhead);
        File.WriteAllText(Path.Combine(folder, "clock"), string.Create(CultureInfo.InvariantCulture, $"+{offset:0}\n"));
    }

    private static double Now() => TimeProvider.System.GetUtcNow().ToUnixTimeMilliseconds() / 1000.0;

    private static double Median(List<double> values) => values.Order().ElementAt(values.Count / 2);
}
