using System.Globalization;
using System.Text.Json;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage.Queries;
using DriftWatch.SystemTests.Service;
using DriftWatch.SystemTests.Storage;
using DriftWatch.Watch;
using Xunit.Abstractions;

namespace DriftWatch.SystemTests.Notices;

/// <summary>A disk that fills up under a running service with a webhook: who is told, what the page could show, and what the book has afterwards.</summary>
public sealed class FullDiskNoticeTests(ITestOutputHelper output)
{
    private const string Tag = "store-failing.bench";
    private const string Alarms = $"/api/v1/benches/{EmitterBench.Id}/alarms";

    [RootOnLinuxFact]
    public async Task A_full_disk_is_told_once_while_it_is_full_can_be_answered_then_and_is_in_the_book_with_its_times_afterwards()
    {
        using EmitterBench bench = EmitterBench.Create();
        using var disk = SmallDisk.Mount(Path.Combine(bench.Folder, "disk"), megabytes: 64);
        using var far = new Receivers(Path.Combine(bench.Folder, "far"));
        await far.BeginAsync();
        File.AppendAllText(bench.BenchFile, "\n[retention]\nfree-space-floor-mb = 16\n" + string.Create(CultureInfo.InvariantCulture, $"""

            [[notice]]
            id = "hook"
            [notice.webhook]
            url = "http://127.0.0.1:{far.HookPort}/bench"
            secret-file = "{far.At("webhook-secret")}"

            """));
        await bench.PlugIn();
        string store = Path.Combine(disk.Folder, "store");
        string id;
        double from, full, freed;
        string[] told;
        using (ServiceProcess service = await ServiceProcess.WatchAsync(bench.BenchFile, store))
        {
            await Task.Delay(TimeSpan.FromSeconds(3), TimeProvider.System);
            from = full = Now();
            JsonElement ready = default;
            await Receivers.UntilAsync(
                () =>
                {
                    disk.Fill(); // what the reserve gives back is filled again at once
                    ready = service.GetAsync("/readyz").GetAwaiter().GetResult().GetProperty("benches")[0];
                    full = ready.GetProperty("storeTrouble").ValueKind == JsonValueKind.Null ? Now() : full; // the last hiccup before it stays full
                    return far.Posts.Count > 0;
                },
                "it is told while the disk is full", seconds: 60, said: () => NoticesOfTheServiceTests.Tail(service));
            Assert.Equal(JsonValueKind.String, ready.GetProperty("storeTrouble").ValueKind);
            JsonElement notice = JsonDocument.Parse(Receivers.Text(far.Posts[0], "body")).RootElement;
            Assert.Equal(("store-failing", "high", Tag), (Receivers.Text(notice, "kind"), Receivers.Text(notice, "priority"), Receivers.Text(notice.GetProperty("alarm"), "tag")));
            id = Receivers.Text(notice.GetProperty("alarm"), "id");

            // The page lists it from memory under that id, and a person can answer for it.
            JsonElement open = Assert.Single((await service.GetAsync(Alarms + "/open")).GetProperty("items").EnumerateArray().ToList()).GetProperty("alarm");
            Assert.Equal((id, "unacknowledged", "disk-full"), (Receivers.Text(open, "id"), Receivers.Text(open, "to"), Receivers.Text(open, "cause")));
            Assert.Empty((await service.GetAsync(Alarms)).GetProperty("items").EnumerateArray());
            JsonElement answer = await service.ActAsync(EmitterBench.Id, "acknowledge", new { by = "Ida Wren", alarm = id, note = "making room" });
            Assert.Contains("held in memory", answer.GetRawText(), StringComparison.Ordinal);
            await Receivers.UntilAsync(() => Step(service.GetAsync(Alarms + "/open").GetAwaiter().GetResult()) == "acknowledged", "it is answered for");
            Assert.Single(far.Posts);

            freed = Now();
            disk.Free();
            await Receivers.UntilAsync(() => far.Posts.Count > 1, "that it is over is told", seconds: 90, said: () => NoticesOfTheServiceTests.Tail(service));
            await NoticesOfTheServiceTests.SettleAsync(far);
            told = [.. far.Posts.Select(p => Receivers.Text(JsonDocument.Parse(Receivers.Text(p, "body")).RootElement, "kind"))];
            Assert.Equal(["store-failing", "store-recovered"], told);
            Assert.Empty((await service.GetAsync(Alarms + "/open")).GetProperty("items").EnumerateArray());
            Assert.Equal(0, (await service.StopAsync()).Code);
        }

        double to = Now() - 3;
        bench.Unplug();
        string[] book = Book(store);
        AlarmTransition[] lines = [.. book.Select(l => AlarmJson.Read(System.Text.Encoding.UTF8.GetBytes(l)))];
        Assert.Equal([AlarmStep.Raised, AlarmStep.Acknowledged, AlarmStep.Returned], lines.Select(l => l.Step));
        Assert.All(lines, l => Assert.Equal((id, Tag), (l.Id, l.Tag)));
        Assert.Equal(("Ida Wren", "making room", AlarmState.Normal), (lines[1].By, lines[1].Why, lines[2].To));
        FindingLine over = Findings(store).Single(f => f is { Kind: FindingKinds.StoreFailing, Phase: FindingPhase.Ended });
        output.WriteLine($"full at {full - from:0.0} s, freed at {freed - from:0.0} s; the book: from {Seconds(over.StartUtc) - from:0.0} s to {Seconds(over.EndUtc!.Value) - from:0.0} s. {over.Text}");
        Assert.InRange(Seconds(over.StartUtc) - full, -1.5, 2.5);
        Assert.InRange(Seconds(over.EndUtc!.Value) - freed, 0, 3);
        Assert.Contains("nothing is lost", over.Text, StringComparison.Ordinal);
        HashSet<int> kept = [.. bench.Stored(store)];
        Assert.Empty(bench.Sent().Where(s => s.SentAtUnixSeconds > from && s.SentAtUnixSeconds < to && !kept.Contains(s.Sequence)).Select(s => s.Sequence));
        Assert.Equal(book, Judged(store));

        using (ServiceProcess again = await ServiceProcess.WatchAsync(bench.BenchFile, store))
        {
            await Task.Delay(TimeSpan.FromSeconds(3), TimeProvider.System);
            Assert.Equal(0, (await again.StopAsync()).Code);
        }

        Assert.Equal(book, Book(store).Take(book.Length));
        Assert.Equal(told.Length, far.Posts.Count);
    }

    private static string? Step(JsonElement open) =>
        open.GetProperty("items").EnumerateArray().Select(i => Receivers.Text(i.GetProperty("alarm"), "step")).SingleOrDefault();

    private static string[] Book(string store)
    {
        using var reader = new BenchReader(Path.Combine(store, EmitterBench.Id));
        return [.. reader.Alarms(0, 1000).Select(a => Text(a.Line))];
    }

    private static FindingLine[] Findings(string store)
    {
        using var reader = new BenchReader(Path.Combine(store, EmitterBench.Id));
        return [.. reader.Findings(0, 1000).Select(f => f.Line)];
    }

    /// <summary>The book that the log gives when it is judged in one go.</summary>
    private static string[] Judged(string store)
    {
        using var reader = new BenchReader(Path.Combine(store, EmitterBench.Id));
        var engine = new WatchEngine();
        var book = new List<AlarmTransition>();
        foreach (Measurement.Inputs.EngineInput input in reader.ReadInputs(0))
        {
            engine.Apply(input, [], book);
        }

        return [.. book.Select(Text)];
    }

    private static string Text(AlarmTransition line) => System.Text.Encoding.UTF8.GetString(AlarmJson.ToUtf8(line));

    private static double Seconds(long utc) => UtcText.ToDateTimeOffset(utc).ToUnixTimeMilliseconds() / 1000.0;

    private static double Now() => TimeProvider.System.GetUtcNow().ToUnixTimeMilliseconds() / 1000.0;
}
