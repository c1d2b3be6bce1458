using System.Globalization;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Mirror;
using DriftWatch.Notices;
using DriftWatch.Storage.Mirror;
using Xunit;

namespace DriftWatch.Tests.Mirror;

/// <summary>A lane against a server that does everything a server can do wrong: nothing is lost, and what is wrong is told.</summary>
public sealed class MirrorLaneTests
{
    [Fact]
    public async Task What_is_stored_arrives_value_by_value_the_past_too()
    {
        await using var bench = new LaneBench();
        bench.Run(120, extremes: true);
        bench.Start();
        await bench.UntilAsync(() => bench.Report.State == MirrorState.Level && bench.Report.Taken > 0, "level");
        bench.Run(5);
        await bench.UntilAsync(() => bench.Server.Count() == bench.Expected().Count, "the new too");
        Same(bench);
        Assert.Equal("/api/v2/write?org=-&bucket=driftwatch&precision=ms", bench.Server.LastPath);
        Assert.Null(bench.Server.LastKey);
    }

    [Fact]
    public async Task The_older_way_is_written_and_signed_as_it_wants_it()
    {
        string file = Path.GetTempFileName();
        await File.WriteAllTextAsync(file, "s3cret\n");
        if (!OperatingSystem.IsWindows())
        {
            File.SetUnixFileMode(file, UnixFileMode.UserRead | UnixFileMode.UserWrite);
        }

        await using var bench = new LaneBench();
        bench.Settings = bench.Settings with { Way = WriteWay.V1, User = "bench", Key = new SecretPlace(null, file), Bucket = "two words" };
        bench.Run(5);
        bench.Start();
        await bench.UntilAsync(() => bench.Server.Count() == bench.Expected().Count, "all");
        Same(bench);
        Assert.Equal(("/write?db=two%20words&precision=ms", "Basic YmVuY2g6czNjcmV0"), (bench.Server.LastPath, bench.Server.LastKey));
        File.Delete(file);
    }

    /// <summary>Somebody takes the key away and puts another there: the mirror waits, says why, and goes on.</summary>
    [Fact]
    public async Task A_key_that_vanishes_is_told_and_one_that_comes_back_is_used()
    {
        const string variable = "DRIFTWATCH_TEST_LANE_KEY";
        Environment.SetEnvironmentVariable(variable, "first");
        try
        {
            await using var bench = new LaneBench();
            bench.Settings = bench.Settings with { Key = new SecretPlace(variable, null) };
            bench.Run(5);
            bench.Start();
            await bench.UntilAsync(() => bench.Server.Count() == bench.Expected().Count, "all");
            Environment.SetEnvironmentVariable(variable, null);
            bench.Run(2);
            await bench.UntilAsync(() => bench.Report.State == MirrorState.Waiting, "waiting");
            Assert.Contains(variable, bench.Report.Trouble, StringComparison.Ordinal);
            Environment.SetEnvironmentVariable(variable, "second");
            await bench.UntilAsync(() => bench.Server.Count() == bench.Expected().Count, "all after it");
            Assert.Equal("Token second", bench.Server.LastKey);
            Same(bench);
        }
        finally
        {
            Environment.SetEnvironmentVariable(variable, null);
        }
    }

    /// <summary>A pass is told as far as it is; after a kill of the server its entries are sent again, folded from the first.</summary>
    [Fact]
    public async Task Entries_about_a_pass_arrive_and_are_sent_again()
    {
        await using var bench = new LaneBench();
        Guid tape = Guid.CreateVersion7(), transfer = Guid.CreateVersion7(), pass = Guid.CreateVersion7();
        bench.Run(5);
        bench.Enter(new TapeDescribed { Tape = tape, Identifier = "MC-0117", Standard = "525/60", SpeedInchesPerSecond = 15 }, null, null);
        bench.Enter(new TransferOpened { Tape = tape }, transfer, null);
        bench.Enter(new PassOpened(), transfer, pass);
        bench.Start();
        await bench.UntilAsync(() => Passes(bench).Length == 1, "the pass");
        bench.Server.Says = _ => StubServer.Answer(500);
        bench.Enter(new PassGivenUp(), transfer, pass);
        await bench.UntilAsync(() => bench.Report.State == MirrorState.Waiting, "the server is gone");
        bench.Server.Forget(int.MaxValue);
        bench.Server.Says = _ => null;
        await bench.UntilAsync(() => Passes(bench).Length == 2, "both");
        string head = $"driftwatch_pass,bench=west-bench,pass=1,standard=525/60,tape=MC-0117,transfer={transfer:D},site=annex ";
        Assert.All(Passes(bench), line => Assert.StartsWith(head, line.Key, StringComparison.Ordinal));
        Assert.Equal([0, 6], Passes(bench).Select(p => int.Parse(p.Value[6..7], CultureInfo.InvariantCulture)).Order());

        static KeyValuePair<string, string>[] Passes(LaneBench bench) => bench.Server.Of("driftwatch_pass");
    }

    [Theory]
    [InlineData(401, "key")]
    [InlineData(403, "key")]
    [InlineData(404, "url")]
    [InlineData(302, "url")]
    [InlineData(429, "nothing is lost")]
    [InlineData(500, "nothing is lost")]
    [InlineData(503, "nothing is lost")]
    public async Task An_answer_that_is_no_yes_is_told_with_a_remedy_and_loses_nothing(int status, string remedy)
    {
        await using var bench = new LaneBench();
        bench.Run(20);
        bench.Server.Says = _ => StubServer.Answer(status, """{"code":"x","message":"the reason"}""", status == 429 ? "7" : null);
        bench.Start();
        await bench.UntilAsync(() => bench.Report.State == MirrorState.Waiting && bench.Server.Requests > 1, "waiting and trying");
        Assert.Contains(remedy, bench.Report.Remedy, StringComparison.Ordinal);
        Assert.NotNull(bench.Report.Trouble);
        bench.Run(30);
        bench.Server.Says = _ => null;
        await bench.UntilAsync(() => bench.Server.Count() == bench.Expected().Count, "all after it");
        Same(bench);
        await bench.UntilAsync(() => bench.Report is { State: MirrorState.Level, Trouble: null }, "nothing to say any more");
    }

    [Fact]
    public async Task It_waits_as_long_as_it_is_asked_to()
    {
        await using var bench = new LaneBench();
        bench.Run(5);
        bench.Server.Says = _ => StubServer.Answer(429, "", "120");
        bench.Start();
        await bench.UntilAsync(() => bench.Server.Requests == 1, "the first");
        DateTimeOffset asked = bench.Time.GetUtcNow();
        await bench.UntilAsync(() => bench.Server.Requests == 2, "the second");
        Assert.InRange((bench.Time.GetUtcNow() - asked).TotalSeconds, 119, 130);
    }

    [Fact]
    public async Task A_batch_that_is_too_large_goes_in_smaller_ones()
    {
        await using var bench = new LaneBench();
        bench.Run(200);
        bench.Server.Says = lines => lines.Length > 700 ? StubServer.Answer(413, "too large") : null;
        bench.Start();
        await bench.UntilAsync(() => bench.Server.Count() == bench.Expected().Count, "all");
        Same(bench);
    }

    [Fact]
    public async Task A_line_that_is_refused_is_told_and_holds_up_no_other()
    {
        await using var bench = new LaneBench();
        bench.Run(60, faults: 0);
        string[] bad = [.. bench.Expected().Keys.Where((_, i) => i is 7 or 900 or 1799)];
        bench.Server.Says = lines => lines.Any(l => bad.Any(b => l.StartsWith(b.Split(' ')[0] + " ", StringComparison.Ordinal) && l.EndsWith(b.Split(' ')[1], StringComparison.Ordinal)))
            ? StubServer.Answer(400, """{"code":"invalid","message":"field type conflict"}""") : null;
        bench.Start();
        await bench.UntilAsync(() => bench.Report.Refused == 3 && bench.Report.State == MirrorState.Level, "three refused");
        Assert.Equal(bench.Expected().Count - 3, bench.Server.Count());
        Assert.Contains("field type conflict", bench.Report.LastRefused, StringComparison.Ordinal);
        Assert.Contains("refused 3 lines", bench.Report.Trouble, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_server_that_refuses_every_line_is_wrong_itself_and_none_is_given_up()
    {
        await using var bench = new LaneBench();
        bench.Run(60);
        bench.Server.Says = _ => StubServer.Answer(400, "no such precision");
        bench.Start();
        await bench.UntilAsync(() => bench.Report.State == MirrorState.Waiting, "waiting");
        bench.Server.Says = _ => null;
        await bench.UntilAsync(() => bench.Server.Count() == bench.Expected().Count, "all after it");
        Same(bench);
        Assert.Equal((0, (string?)null), (bench.Report.Refused, bench.Report.LastRefused));
        Assert.Empty(bench.Said);
    }

    [Fact]
    public async Task A_page_that_answers_yes_is_no_server()
    {
        await using var bench = new LaneBench();
        bench.Run(5);
        bench.Server.Says = _ => StubServer.Answer(200, "<html>");
        bench.Start();
        await bench.UntilAsync(() => bench.Report.State == MirrorState.Waiting, "waiting");
        Assert.Contains("is no server for this: it says 200", bench.Report.Trouble, StringComparison.Ordinal);
        Assert.DoesNotContain("example.org", bench.Report.Trouble, StringComparison.Ordinal); // the address may be a key itself
    }

    [Fact]
    public async Task What_a_killed_server_had_taken_is_sent_again()
    {
        await using var bench = new LaneBench();
        bench.Run(5);
        bench.Start();
        await bench.UntilAsync(() => bench.Server.Count() == bench.Expected().Count, "all at first");
        for (int i = 0; i < 30; i++)
        {
            bench.Run(1);
            await bench.UntilAsync(() => bench.Server.Count() == bench.Expected().Count, "followed");
        }

        bench.Server.Forget(600); // the last 20 s
        bool isDown = true;
        bench.Server.Says = _ => isDown ? throw new HttpRequestException("connection refused") : null;
        bench.Run(2);
        await bench.UntilAsync(() => bench.Report.State == MirrorState.Waiting, "away");
        isDown = false;
        await bench.UntilAsync(() => bench.Server.Count() == bench.Expected().Count, "all again");
        Same(bench);
    }

    [Fact]
    public async Task A_restart_begins_where_the_server_is_safe_and_leaves_nothing_out()
    {
        await using var bench = new LaneBench();
        bench.Run(30);
        bench.Start();
        await bench.UntilAsync(() => bench.Server.Count() == bench.Expected().Count, "all at first");
        await bench.StopAsync();
        bench.Run(60);
        bench.Server.Forget(100);
        bench.Start();
        await bench.UntilAsync(() => bench.Server.Count() == bench.Expected().Count, "all again");
        Same(bench);
    }

    [Fact]
    public async Task A_night_without_a_network_is_caught_up_behind_what_is_new()
    {
        await using var bench = new LaneBench();
        bench.Run(5);
        bench.Start();
        await bench.UntilAsync(() => bench.Server.Count() == bench.Expected().Count, "all at first");
        bool isDown = true;
        bench.Server.Says = _ => isDown ? throw new HttpRequestException("no route to host") : null;
        bench.Run(1200);
        await bench.UntilAsync(() => bench.Report.State == MirrorState.Waiting, "away");
        isDown = false;
        await bench.UntilAsync(() => bench.Server.Count() == bench.Expected().Count, "all again");
        Same(bench);
    }

    [Fact]
    public async Task A_line_dropped_in_silence_is_found_by_its_count_and_sent_again()
    {
        await using var bench = new LaneBench();
        int seen = 0; // inside of a stretch: readings of its first and last instant are not compared
        bench.Server.Drops = line => line.Contains("channel-1", StringComparison.Ordinal) && ++seen is > 8 and <= 13;
        bench.Run(2); // five of the past
        bench.Start();
        await FollowAsync(bench, 1);
        seen = -30; // five of what is new
        await FollowAsync(bench, 9);
        await bench.UntilAsync(() => Missing(bench) == 0, "found and sent again");
        await bench.UntilAsync(() => bench.Report.Compared > 9_000, "compared");
        Assert.Equal(0, bench.Report.Missing);
    }

    [Fact]
    public async Task A_server_that_never_keeps_a_channel_is_told_of()
    {
        await using var bench = new LaneBench();
        bench.Server.Drops = line => line.Contains("channel-1", StringComparison.Ordinal);
        bench.Run(2);
        bench.Start();
        await FollowAsync(bench, 14);
        await bench.UntilAsync(() => bench.Report.Missing > 0, "missing");
        Assert.Contains("does not hold", bench.Report.Trouble, StringComparison.Ordinal);
        var fails = Assert.IsType<MirrorFailsCommand>(Assert.Single(bench.Said));
        Assert.Equal("lines-missing", fails.Trouble);
        Assert.Contains("past = false", fails.Text, StringComparison.Ordinal); // a server that keeps a month drops what is older in silence
    }

    [Fact]
    public async Task A_server_that_keeps_doubles_is_told_of()
    {
        await using var bench = new LaneBench();
        bench.Server.KeepsDoubles = true;
        bench.Run(2);
        bench.Start();
        await FollowAsync(bench, 4);
        bool isDown = true;
        bench.Server.Says = _ => isDown ? StubServer.Answer(503) : null;
        bench.Run(10);
        await bench.UntilAsync(() => bench.Report.State == MirrorState.Waiting, "away");
        isDown = false;
        await FollowAsync(bench, 10);
        await bench.UntilAsync(() => bench.Report.Doubled > 0, "doubled");
        Assert.Contains("more than once", bench.Report.Trouble, StringComparison.Ordinal);
    }

    /// <summary>Minutes of readings, sent as they come.</summary>
    private static async Task FollowAsync(LaneBench bench, int minutes)
    {
        for (int i = 0; i < minutes * 2; i++)
        {
            bench.Run(30);
            await bench.UntilAsync(() => bench.Server.CountHeard() == bench.Readings, "followed");
        }
    }

    private static int Missing(LaneBench bench) => bench.Expected().Count - bench.Server.Count();

    private static void Same(LaneBench bench)
    {
        Dictionary<string, string> expected = bench.Expected();
        Assert.Equal(expected.Count, bench.Server.Count());
        foreach ((string key, string fields) in expected)
        {
            Assert.True(bench.Server.Held.TryGetValue(key, out string? held), $"{key} is missing");
            Assert.Equal(fields, held);
        }
    }
}
