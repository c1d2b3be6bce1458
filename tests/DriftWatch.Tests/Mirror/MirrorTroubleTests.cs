using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Mirror;
using DriftWatch.Storage.Mirror;
using Microsoft.Extensions.Logging.Abstractions;
using Xunit;

namespace DriftWatch.Tests.Mirror;

/// <summary>What is not an answer of yes or no: too slow, too large, too late, another time, a second server that hangs.</summary>
public sealed class MirrorTroubleTests
{
    /// <summary>The books go by the same small batches as readings do, and a server that takes none is not asked without a pause.</summary>
    [Fact]
    public async Task A_book_that_is_too_large_goes_in_smaller_batches_and_one_that_never_fits_is_told()
    {
        await using var bench = new LaneBench();
        bench.Run(2);
        bench.Book(1500);
        bench.Server.Says = lines => lines.Length > 250 ? StubServer.Answer(413, "too large") : null;
        bench.Start();
        await bench.UntilAsync(() => bench.Report.Taken >= 1560, "the book"); // 60 readings
        Assert.InRange(bench.Server.Requests, 7, 40);

        bench.Server.Says = lines => lines.Any(l => l.StartsWith("driftwatch_alarm", StringComparison.Ordinal)) ? StubServer.Answer(413, "too large") : null;
        bench.Run(2);
        bench.Book(700);
        int before = bench.Server.Requests;
        await bench.UntilAsync(() => bench.Report.State == MirrorState.Waiting, "told");
        Assert.Contains("larger requests", bench.Report.Remedy, StringComparison.Ordinal);
        Assert.InRange(bench.Server.Requests - before, 1, 20);
    }

    [Fact]
    public async Task It_waits_longer_after_each_no_up_to_a_minute()
    {
        await using var bench = new LaneBench();
        bench.Run(2);
        var asked = new List<DateTimeOffset>();
        bench.Server.Says = _ =>
        {
            asked.Add(bench.Time.GetUtcNow());
            return StubServer.Answer(503);
        };
        bench.Start();
        await bench.UntilAsync(() => bench.Server.Requests == 10, "ten tries");
        double[] waits = [.. asked.Zip(asked.Skip(1)).Select(p => (p.Second - p.First).TotalSeconds)];
        double[] due = [1, 2, 4, 8, 16, 32, 60, 60, 60];
        Assert.All(due.Zip(waits), w => Assert.InRange(w.Second, 0.8 * w.First, (1.2 * w.First) + 2)); // a fifth of jitter; it is looked at once a second
    }

    /// <summary>A server with a full disk says so, ends, and can't be reached: what to do stays the same, until it takes again.</summary>
    [Fact]
    public async Task A_server_that_ends_for_its_full_disk_is_to_be_given_room()
    {
        await using var bench = new LaneBench();
        bench.Run(2);
        bench.Server.Says = _ => StubServer.Answer(500, """{"error":"engine: error writing WAL entry: no space left on device"}""");
        bench.Start();
        await bench.UntilAsync(() => bench.Report.State == MirrorState.Waiting, "waiting");
        Assert.StartsWith("make room on the server's disk", bench.Report.Remedy, StringComparison.Ordinal);

        bench.Server.Says = _ => throw new HttpRequestException("Connection refused");
        await bench.UntilAsync(() => bench.Report.Trouble?.Contains("refused", StringComparison.Ordinal) == true, "gone");
        Assert.Contains("make room on the server's disk and start it again", bench.Report.Remedy, StringComparison.Ordinal);

        bench.Server.Says = _ => null;
        await bench.UntilAsync(() => bench.Report.State == MirrorState.Level, "level");
        bench.Server.Says = _ => throw new HttpRequestException("Connection refused");
        bench.Run(2);
        await bench.UntilAsync(() => bench.Report.State == MirrorState.Waiting, "gone again");
        Assert.StartsWith("look whether the server runs", bench.Report.Remedy, StringComparison.Ordinal);
    }

    /// <summary>Each yes ends a wait, so that nothing is away; but what waits grows for ever.</summary>
    [Fact]
    public async Task A_server_that_takes_less_than_the_bench_makes_is_said_to_be_behind()
    {
        await using var bench = new LaneBench();
        bench.Run(2);
        DateTimeOffset next = bench.Time.GetUtcNow();
        bench.Server.Says = lines =>
        {
            if (lines.Length > 110)
            {
                return StubServer.Answer(413, "too large");
            }

            if (bench.Time.GetUtcNow() < next)
            {
                return StubServer.Answer(503);
            }

            next = bench.Time.GetUtcNow() + TimeSpan.FromSeconds(20);
            return null;
        };
        bench.Start();
        for (int minute = 0; minute < 60 && bench.Said.IsEmpty; minute++)
        {
            bench.Run(60);
            double until = 60;
            await bench.UntilAsync(() => (until -= 0.5) < 0, "a minute");
        }

        var fails = Assert.IsType<MirrorFailsCommand>(bench.Said.First());
        Assert.Equal("behind", fails.Trouble);
        Assert.Contains("takes less than the bench makes", fails.Text, StringComparison.Ordinal);
        Assert.InRange(fails.For.TotalMinutes, 30, 34);
    }

    /// <summary>A board without a clock of its own is put right by hours once its network is there.</summary>
    [Fact]
    public async Task A_step_of_the_wall_clock_is_no_lag()
    {
        await using var bench = new LaneBench();
        bench.Run(2);
        bench.Server.Says = _ => StubServer.Answer(503);
        bench.Start();
        await bench.UntilAsync(() => bench.Report.State == MirrorState.Waiting, "waiting");
        bench.Wall.Ahead = TimeSpan.FromHours(9);
        int before = bench.Server.Requests;
        await bench.UntilAsync(() => bench.Server.Requests > before + 2, "tried again");
        Assert.InRange(bench.Report.Behind.TotalMinutes, 0, 5);
        Assert.Empty(bench.Said);
    }

    [Fact]
    public async Task A_server_whose_clock_is_another_is_told_of()
    {
        await using var bench = new LaneBench();
        bench.Run(2);
        bench.Server.Clock = () => bench.Time.GetUtcNow() + TimeSpan.FromSeconds(40);
        bench.Start();
        await bench.UntilAsync(() => bench.Report.Trouble is not null, "told");
        Assert.Matches("^the server's clock is (39|40|41) s ahead of this one$", bench.Report.Trouble);
        Assert.Contains("time server", bench.Report.Remedy, StringComparison.Ordinal);
        bench.Server.Clock = () => bench.Time.GetUtcNow() + TimeSpan.FromSeconds(2);
        bench.Run(2);
        await bench.UntilAsync(() => bench.Report.Trouble is null, "near enough");
    }

    /// <summary>What the bench's own retention takes away before the server had it is a loss on that server, and said; what was gone before the mirror was set up is not.</summary>
    [Fact]
    public async Task What_retention_takes_before_it_was_sent_is_said_with_a_remedy()
    {
        await using var bench = new LaneBench();
        bench.Run(20);
        bench.Start();
        await bench.UntilAsync(() => bench.Server.Count() == bench.Expected().Count, "all at first");
        bool isDown = true;
        bench.Server.Says = _ => isDown ? StubServer.Answer(503) : null;
        bench.Run(20);
        await bench.UntilAsync(() => bench.Report.State == MirrorState.Waiting, "away");
        bench.StepClock(TimeSpan.FromDays(100));
        bench.Run(20);
        bench.Store.SetRetention(new RetentionDefinition { RawMonths = 1 });
        bench.Time.SetUtcNow(bench.Time.GetUtcNow() + TimeSpan.FromDays(100));
        bench.Store.MergeDue();
        Assert.NotEmpty(bench.Store.RetainDue());
        isDown = false;
        await bench.UntilAsync(() => bench.Said.Any(s => s is MirrorFailsCommand { Trouble: "lines-expired" }), "said", mostSeconds: 7200);
        Assert.InRange(bench.Report.Expired, 1, 1300);
        Assert.Contains("[retention]", bench.Said.OfType<MirrorFailsCommand>().Last().Text, StringComparison.Ordinal);
    }

    /// <summary>A server that takes lines and thinks for ever about a count is sent what is new all the same.</summary>
    [Fact]
    public async Task A_count_that_hangs_holds_up_no_reading()
    {
        await using var bench = new LaneBench();
        bench.Run(2);
        bench.Server.CountsHang = true;
        bench.Start();
        for (int i = 0; i < 30; i++)
        {
            bench.Run(30);
            await bench.UntilAsync(() => bench.Server.Count() == bench.Expected().Count, "followed", mostSeconds: 60);
        }

        Assert.True(bench.Server.CountsAsked > 0, "Nothing was asked for.");
        Assert.Equal(MirrorState.Level, bench.Report.State);
    }

    [Fact]
    public async Task A_server_that_hangs_holds_up_no_other()
    {
        await using var bench = new LaneBench();
        bench.Run(30);
        await using var desk = new MirrorDesk(bench.Store, new MirrorLaneOptions
        {
            TimeProvider = bench.Time,
            Logger = NullLogger.Instance,
            Handler = settings => settings.Id == "annex" ? new StubServer.Door(bench.Server) : new Hanging(),
        });
        await desk.UseAsync("west-bench", [bench.Settings with { Id = "vault" }, bench.Settings]);
        for (int i = 0; i < 2000 && bench.Server.Count() < bench.Expected().Count; i++)
        {
            bench.Time.Advance(TimeSpan.FromSeconds(0.5));
            await Task.Delay(TimeSpan.FromMilliseconds(4), TimeProvider.System);
        }

        Assert.Equal(bench.Expected().Count, bench.Server.Count());
        Assert.Equal(["vault", "annex"], desk.Reports.Select(r => r.Settings.Id));
        Assert.Equal([0, bench.Expected().Count], desk.Reports.Select(r => (int)r.Taken));
    }

    private sealed class Hanging : HttpMessageHandler
    {
        protected override async Task<HttpResponseMessage> SendAsync(HttpRequestMessage request, CancellationToken cancellationToken)
        {
            await Task.Delay(Timeout.InfiniteTimeSpan, TimeProvider.System, cancellationToken);
            throw new InvalidOperationException();
        }
    }
}
