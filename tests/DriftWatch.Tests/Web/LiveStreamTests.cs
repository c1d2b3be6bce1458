using System.Net;
using System.Net.ServerSentEvents;
using System.Text.Json;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Samples;
using DriftWatch.Running;
using DriftWatch.Watch.Drifts;
using DriftWatch.Web;
using Xunit;

namespace DriftWatch.Tests.Web;

public sealed class LiveStreamTests : IAsyncLifetime, IDisposable
{
    private const string Live = "/api/v1/benches/practice/live";

    // Only a net under a test that would else hang; nothing is measured by it.
    private readonly CancellationTokenSource _patience = new(TimeSpan.FromSeconds(30));
    private readonly FakeBench _bench = new(TimeProvider.System);
    private ServedBench _served = null!;

    public async Task InitializeAsync() => _served = await ServedBench.StartAsync(new WebSettings(), _bench);

    public async Task DisposeAsync() => await _served.DisposeAsync();

    public void Dispose() => _patience.Dispose();

    [Fact]
    public async Task It_greets_with_the_channel_order_and_all_numbers_then_sends_what_changes()
    {
        _bench.Silence("guide-vacuum");
        await using IAsyncEnumerator<(SseItem<string> Item, JsonElement Data)> events = Listen(Live);
        JsonElement hello = await NextAsync(events, "hello");
        string[] order = [.. hello.GetProperty("channels").EnumerateArray().Select(c => c.GetString()!)];
        Assert.Equal(_bench.Bench.Channels.Select(c => c.Id), order);
        JsonElement first = await NextAsync(events, "numbers");
        Assert.Equal(order.Length, first.GetProperty("v").GetArrayLength());
        JsonElement next = await NextAsync(events, "numbers");
        int[] changed = [.. next.GetProperty("v").EnumerateArray().Select(row => row[0].GetInt32())];
        Assert.Contains(Array.IndexOf(order, "regulated-air"), changed);
        Assert.DoesNotContain(Array.IndexOf(order, "guide-vacuum"), changed);
    }

    [Fact]
    public async Task A_bench_that_says_nothing_still_beats()
    {
        foreach (ChannelDefinition channel in _bench.Bench.Channels)
        {
            _bench.Silence(channel.Id);
        }

        await using IAsyncEnumerator<(SseItem<string> Item, JsonElement Data)> events = Listen(Live);
        await NextAsync(events, "numbers");
        JsonElement beat = await NextAsync(events, "numbers");
        Assert.Equal(0, beat.GetProperty("v").GetArrayLength());
        Assert.True(beat.GetProperty("u").GetInt64() > 0);
    }

    [Fact]
    public async Task A_fault_is_sent_as_a_fault_without_a_number()
    {
        _bench.Fail("regulated-air", FaultCode.SupplyLost);
        await using IAsyncEnumerator<(SseItem<string> Item, JsonElement Data)> events = Listen(Live);
        JsonElement row = (await NextAsync(events, "numbers")).GetProperty("v")[1];
        Assert.Equal(JsonValueKind.Null, row[2].ValueKind);
        Assert.Equal("supply-lost", row[5].GetString());
    }

    [Fact]
    public async Task State_line_notice_finding_and_new_bench_file_are_told()
    {
        await using IAsyncEnumerator<(SseItem<string> Item, JsonElement Data)> events = Listen(Live);
        await NextAsync(events, "hello");
        _bench.State = MachineState.NoAir;
        Assert.Equal("no-air", (await NextAsync(events, "state")).GetProperty("state").GetString());
        _bench.Instruments = [new InstrumentNotice("rig", LinkState.Down, "the port vanished", TimeSpan.FromSeconds(1.5))];
        JsonElement link = await NextAsync(events, "link", data => data.GetProperty("state").GetString() == "down");
        Assert.Equal("the port vanished", link.GetProperty("reason").GetString());
        _bench.Say(_bench.MakeFinding("f1", "vacuum-loss", "guide-vacuum", "Vacuum is lost."));
        Assert.Equal("f1", (await NextAsync(events, "finding")).GetProperty("finding").GetProperty("id").GetString());
        _bench.Bench = _bench.Bench with { SourceHash = new string('b', 64) };
        Assert.Equal(new string('b', 64), (await NextAsync(events, "bench")).GetProperty("benchHash").GetString());
    }

    [Fact]
    public async Task Quantities_and_drifts_are_told_to_who_comes_and_again_as_they_are_made_anew()
    {
        _bench.Bench = _bench.Bench with
        {
            Quantities = [new QuantityDefinition { Id = "skew", Label = "Timing skew", Kind = QuantityKind.Skew, Unit = "ns" }, new QuantityDefinition { Id = "scallop", Label = "Timing scallop", Kind = QuantityKind.Scallop, Unit = "ns" }],
        };
        _bench.Tell("skew", 12.5);
        _bench.Drifts = new DriftTable(_bench.Now, [new ChannelDrift { Id = "regulated-air", Label = "Regulated air", Unit = "psi", Baseline = 50 }]);
        await using IAsyncEnumerator<(SseItem<string> Item, JsonElement Data)> events = Listen(Live);
        JsonElement told = await NextAsync(events, "quantities");
        Assert.Equal(12.5, told.GetProperty("v").GetProperty("skew").GetDouble());
        Assert.Equal(JsonValueKind.Null, told.GetProperty("v").GetProperty("scallop").ValueKind);
        Assert.Equal(50, (await NextAsync(events, "drifts")).GetProperty("items")[0].GetProperty("baseline").GetDouble());
        _bench.Tell("skew", 13.5);
        await NextAsync(events, "quantities", data => data.GetProperty("v").GetProperty("skew").GetDouble() == 13.5);
        _bench.Drifts = new DriftTable(_bench.Now, [new ChannelDrift { Id = "regulated-air", Label = "Regulated air", Unit = "psi", Baseline = 51 }]);
        await NextAsync(events, "drifts", data => data.GetProperty("items")[0].GetProperty("baseline").GetDouble() == 51);
    }

    [Fact]
    public async Task Another_order_of_channels_ends_the_stream_before_any_row_goes_out_under_it()
    {
        await using IAsyncEnumerator<(SseItem<string> Item, JsonElement Data)> events = Listen(Live);
        await NextAsync(events, "hello");
        int before = _bench.Bench.Channels.Count;
        _bench.Bench = _bench.Bench with { SourceHash = new string('b', 64), Channels = [.. _bench.Bench.Channels.Skip(1)] };
        await NextAsync(events, "bench");
        while (await events.MoveNextAsync())
        {
            Assert.NotEqual("numbers", events.Current.Item.EventType);
        }

        await using IAsyncEnumerator<(SseItem<string> Item, JsonElement Data)> again = Listen(Live);
        JsonElement hello = await NextAsync(again, "hello");
        Assert.Equal(before - 1, hello.GetProperty("channels").GetArrayLength());
        Assert.Equal("regulated-air", hello.GetProperty("channels")[0].GetString());
    }

    [Fact]
    public async Task A_client_that_comes_back_gets_each_finding_it_missed_once_and_in_order()
    {
        for (int i = 1; i <= 450; i++) // more than two pages of what was missed
        {
            _bench.Say(_bench.MakeFinding("f" + i, "mark", null, "Mark " + i, Severity.Note));
        }

        await using IAsyncEnumerator<(SseItem<string> Item, JsonElement Data)> events = Listen(Live, lastEventId: "40");
        Assert.Equal(40, (await NextAsync(events, "hello")).GetProperty("cursor").GetInt64());
        _bench.Say(_bench.MakeFinding("f451", "mark", null, "Mark 451", Severity.Note)); // while it is being caught up
        for (int i = 41; i <= 451; i++)
        {
            await NextAsync(events, "finding");
            Assert.Equal($"{i}.0", events.Current.Item.EventId);
            Assert.Equal("f" + i, events.Current.Data.GetProperty("finding").GetProperty("id").GetString());
        }
    }

    [Theory]
    [InlineData("0.1", 1, 2)] // had one line of the book and no finding
    [InlineData("2.1", 3, 2)]
    [InlineData("3.9", 4, 4)] // more than there are: only new ones come
    [InlineData("1", 2, 4)] // of a program that knows of no alarms
    public async Task Lines_of_the_book_come_with_ids_that_bring_both_back(string lastEventId, int firstFinding, int firstAlarm)
    {
        for (int i = 1; i <= 3; i++)
        {
            _bench.Say(_bench.MakeFinding("f" + i, "mark", null, "Mark", Severity.Note));
            _bench.Book(Storage.AlarmStoreTests.Line(i, 0));
        }

        await using IAsyncEnumerator<(SseItem<string> Item, JsonElement Data)> events = Listen(Live, lastEventId);
        await NextAsync(events, "hello");
        _bench.Say(_bench.MakeFinding("f4", "mark", null, "Mark", Severity.Note));
        _bench.Book(Storage.AlarmStoreTests.Line(4, 0));
        var findings = new List<string>();
        var alarms = new List<long>();
        string id = "";
        while (!findings.Contains("f4") || !alarms.Contains(4))
        {
            Assert.True(await events.MoveNextAsync());
            (SseItem<string> item, JsonElement data) = events.Current;
            if (item.EventType == "finding")
            {
                findings.Add(data.GetProperty("finding").GetProperty("id").GetString()!);
            }
            else if (item.EventType == "alarm")
            {
                alarms.Add(data.GetProperty("alarm").GetProperty("input").GetInt64());
                Assert.Equal("driftwatch.alarm/1", data.GetProperty("alarm").GetProperty("format").GetString());
            }

            id = item.EventId ?? id;
        }

        Assert.Equal(Enumerable.Range(firstFinding, 5 - firstFinding).Select(i => "f" + i), findings);
        Assert.Equal(Enumerable.Range(firstAlarm, 5 - firstAlarm).Select(i => (long)i), alarms);
        Assert.Equal("4.4", id);
    }

    [Theory]
    [InlineData("?after=2", null, 3)]
    [InlineData("?after=1", "2", 3)]
    [InlineData("", "not-ours", 4)]
    [InlineData("?after=99", null, 4)]
    public async Task The_cursor_decides_which_finding_comes_first(string query, string? lastEventId, int first)
    {
        for (int i = 1; i <= 3; i++)
        {
            _bench.Say(_bench.MakeFinding("f" + i, "mark", null, "Mark", Severity.Note));
        }

        await using IAsyncEnumerator<(SseItem<string> Item, JsonElement Data)> events = Listen(Live + query, lastEventId);
        await NextAsync(events, "hello");
        _bench.Say(_bench.MakeFinding("f4", "mark", null, "Mark", Severity.Note));
        Assert.Equal("f" + first, (await NextAsync(events, "finding")).GetProperty("finding").GetProperty("id").GetString());
    }

    [Fact]
    public async Task Two_clients_hear_the_same_finding()
    {
        await using IAsyncEnumerator<(SseItem<string> Item, JsonElement Data)> one = Listen(Live);
        await using IAsyncEnumerator<(SseItem<string> Item, JsonElement Data)> two = Listen(Live);
        await NextAsync(one, "hello");
        await NextAsync(two, "hello");
        _bench.Say(_bench.MakeFinding("f1", "mark", null, "Mark", Severity.Note));
        JsonElement first = await NextAsync(one, "finding");
        JsonElement second = await NextAsync(two, "finding");
        Assert.Equal(first.GetRawText(), second.GetRawText());
    }

    [Fact]
    public async Task The_service_stops_with_a_page_open_and_ends_its_stream()
    {
        IAsyncEnumerator<(SseItem<string> Item, JsonElement Data)> events = Listen(Live);
        await NextAsync(events, "hello");
        Task stopped = _served.DisposeAsync().AsTask();
        try
        {
            while (await events.MoveNextAsync())
            {
            }
        }
        catch (Exception exception) when (exception is IOException or HttpRequestException or OperationCanceledException or ObjectDisposedException)
        {
            // The client of the test goes down with its server.
        }

        await stopped.WaitAsync(_patience.Token);
        Assert.False(_patience.IsCancellationRequested);
        _served = await ServedBench.StartAsync(new WebSettings(), _bench);
    }

    private static async Task<JsonElement> NextAsync(
        IAsyncEnumerator<(SseItem<string> Item, JsonElement Data)> events, string type, Func<JsonElement, bool>? that = null)
    {
        while (await events.MoveNextAsync())
        {
            if (events.Current.Item.EventType == type && (that is null || that(events.Current.Data)))
            {
                return events.Current.Data;
            }
        }

        throw new InvalidOperationException($"The stream ended before an event '{type}'.");
    }

    private async IAsyncEnumerator<(SseItem<string> Item, JsonElement Data)> Listen(string path, string? lastEventId = null)
    {
        using var request = new HttpRequestMessage(HttpMethod.Get, path);
        if (lastEventId is not null)
        {
            request.Headers.Add("Last-Event-ID", lastEventId);
        }

        using HttpResponseMessage response = await _served.Client.SendAsync(request, HttpCompletionOption.ResponseHeadersRead, _patience.Token);
        Assert.Equal(HttpStatusCode.OK, response.StatusCode);
        Assert.Equal("text/event-stream", response.Content.Headers.ContentType?.MediaType);
        await using Stream stream = await response.Content.ReadAsStreamAsync(_patience.Token);
        await foreach (SseItem<string> item in SseParser.Create(stream).EnumerateAsync(_patience.Token))
        {
            using JsonDocument document = JsonDocument.Parse(item.Data);
            yield return (item, document.RootElement.Clone());
        }
    }
}
