using DriftWatch.Measurement.Inputs;
using DriftWatch.Mirror;
using Xunit;

namespace DriftWatch.Tests.Mirror;

/// <summary>When a lane says that its mirror fails and takes again: once each, with why and what to do, over restarts too.</summary>
public sealed class MirrorAlarmLaneTests
{
    [Fact]
    public async Task A_mirror_behind_for_longer_than_it_may_is_said_once_and_once_that_it_takes_again()
    {
        await using var bench = new LaneBench();
        bench.Run(20);
        bench.Server.Says = _ => StubServer.Answer(503, """{"message":"the disk of the server is full"}""");
        bench.Start();
        await bench.UntilAsync(() => !bench.Said.IsEmpty, "said", mostSeconds: 2400);
        var fails = Assert.IsType<MirrorFailsCommand>(Assert.Single(bench.Said));
        Assert.Equal(("annex", "behind", TimeSpan.FromMinutes(30), "DriftWatch", "service"), (fails.Mirror, fails.Trouble, fails.May, fails.By, fails.Identity));
        Assert.InRange(fails.For.TotalMinutes, 30, 32); // it is looked at when it is tried, once a minute
        Assert.Contains("disk of the server is full", fails.Text, StringComparison.Ordinal);
        Assert.Contains("Remedy: ", fails.Text, StringComparison.Ordinal);

        await bench.UntilAsync(() => bench.Report.Behind > TimeSpan.FromMinutes(35), "longer");
        Assert.Single(bench.Said);

        bench.Run(40);
        bench.Server.Says = _ => null;
        await bench.UntilAsync(() => bench.Said.Count > 1, "said again");
        Assert.Equal("annex", Assert.IsType<MirrorTakesCommand>(bench.Said.Last()).Mirror);
        await bench.UntilAsync(() => bench.Server.Count() == bench.Expected().Count, "all after it");
        Assert.Equal(2, bench.Said.Count);
    }

    /// <summary>The process before said that it fails; this one knows how it stands when the server has answered, and not before.</summary>
    [Fact]
    public async Task A_process_that_begins_says_nothing_of_a_failing_mirror_before_its_server_takes()
    {
        await using var bench = new LaneBench { SaidTrouble = "behind" };
        bench.Run(20);
        bench.Server.Says = _ => StubServer.Answer(503);
        bench.Start();
        await bench.UntilAsync(() => bench.Report.State == MirrorState.Waiting && bench.Server.Requests > 3, "waiting and trying");
        Assert.Empty(bench.Said);

        bench.Server.Says = _ => null;
        await bench.UntilAsync(() => !bench.Said.IsEmpty, "said");
        Assert.IsType<MirrorTakesCommand>(bench.Said.First());
    }

    /// <summary>What was said and not judged, because the bench was loaded anew meanwhile, is said again.</summary>
    [Fact]
    public async Task What_was_not_heard_is_said_again_a_minute_later()
    {
        await using var bench = new LaneBench { SaidTrouble = "behind" };
        bench.Run(20);
        bench.Start();
        await bench.UntilAsync(() => !bench.Said.IsEmpty, "said");
        double gone = 0;
        await bench.UntilAsync(() => (gone += 0.5) > 0 && bench.Said.Count > 1, "again");
        Assert.InRange(gone, 55, 75);
    }

    [Fact]
    public async Task A_server_that_refuses_a_line_is_said_with_it_and_is_well_after_an_hour_without_another()
    {
        await using var bench = new LaneBench();
        bench.Run(20);
        bool refuses = true;
        bench.Server.Says = lines => refuses && lines.Any(l => l.Contains("channel-1", StringComparison.Ordinal)) && lines.Length > 1
            ? StubServer.Answer(400, """{"message":"field type conflict"}""")
            : refuses && lines is [{ } one] && one.Contains("channel-1", StringComparison.Ordinal) ? Once() : null;
        bench.Start();
        await bench.UntilAsync(() => !bench.Said.IsEmpty, "said");
        var fails = Assert.IsType<MirrorFailsCommand>(bench.Said.First());
        Assert.Equal(("lines-refused", (TimeSpan?)null), (fails.Trouble, fails.May));
        Assert.Contains("field type conflict", fails.Text, StringComparison.Ordinal);

        double gone = 0;
        await bench.UntilAsync(() => (gone += 0.5) > 0 && bench.Said.Count > 1, "well", mostSeconds: 4000);
        Assert.InRange(gone, 3590, 3700);
        Assert.IsType<MirrorTakesCommand>(bench.Said.Last());

        System.Net.Http.HttpResponseMessage Once()
        {
            refuses = false;
            return StubServer.Answer(400, """{"message":"field type conflict"}""");
        }
    }
}
