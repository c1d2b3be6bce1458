using System.Net;
using System.Text.Json;
using DriftWatch.Cli;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Running;
using DriftWatch.Tests.Cli;
using DriftWatch.Transfers;
using DriftWatch.Web;
using DriftWatch.Web.Api.Transfers;
using Microsoft.Extensions.Logging.Abstractions;
using Xunit;

namespace DriftWatch.Tests.Web.Transfers;

/// <summary>The book of a service that runs: entries by its door, from the page's side and from the command line's, and what a restart finds.</summary>
public sealed class TransferApiTests : IDisposable
{
    private const string Root = "/api/v1/benches/practice/";
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-transfers-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task A_tape_goes_its_way_by_the_door_and_a_restart_goes_on_where_it_was()
    {
        string transfer;
        string pass;
        await using (RunningBench bench = Start())
        {
            await using ServedBench served = await ServedBench.StartAsync(new WebSettings(), bench);
            await Until(() => bench.Store.LastNumber > 200); // readings of the air are stored
            JsonElement tape = await Enter(served, "\"kind\":\"tape-described\",\"identifier\":\"VT 1\",\"standard\":\"525/60\",\"speedInchesPerSecond\":15,\"id\":\"0190a6f0-0000-7000-8000-000000000001\"");
            JsonElement again = await Enter(served, "\"kind\":\"tape-described\",\"identifier\":\"VT 1\",\"standard\":\"525/60\",\"speedInchesPerSecond\":15,\"id\":\"0190a6f0-0000-7000-8000-000000000001\"");
            Assert.Equal(tape.GetProperty("tape").GetString(), again.GetProperty("tape").GetString());
            Assert.Equal(0, again.GetProperty("input").GetInt64());
            transfer = (await Enter(served, $"\"kind\":\"transfer-opened\",\"tape\":\"{tape.GetProperty("tape").GetString()}\"")).GetProperty("transfer").GetString()!;
            pass = (await Enter(served, $"\"kind\":\"pass-opened\",\"transfer\":\"{transfer}\"")).GetProperty("pass").GetString()!;
            JsonElement check = await Enter(served, "\"kind\":\"check-signed\",\"check\":\"setpoint\",\"answer\":\"done\"");
            Assert.Equal("contradicted", check.GetProperty("telemetry").GetProperty("standing").GetString()); // the rig has not put its air on yet
            await Enter(served, "\"kind\":\"line-up-ended\"");
            await Enter(served, "\"kind\":\"run-began\"");

            JsonElement refused = await Enter(served, $"\"kind\":\"pass-opened\",\"transfer\":\"{transfer}\"", HttpStatusCode.Conflict);
            Assert.Equal("End its run first.", refused.GetProperty("remedy").GetString());
            JsonElement wrong = await Enter(served, "\"kind\":\"check-singed\"", HttpStatusCode.BadRequest);
            Assert.Equal("kind", wrong.GetProperty("parameter").GetString());
            await served.PostAsync(Root + "entries", "{\"kind\":\"note\",\"mark\":true}", HttpStatusCode.BadRequest); // nobody signs
            await served.GetAsync(Root + $"transfers/{pass}", HttpStatusCode.NotFound);
        }

        await using (RunningBench bench = Start())
        {
            await using ServedBench served = await ServedBench.StartAsync(new WebSettings(), bench);
            JsonElement list = await served.GetAsync(Root + "transfers");
            Assert.Equal(pass, list.GetProperty("openPass").GetString());
            JsonElement detail = (await served.GetAsync(Root + $"transfers/{transfer}")).GetProperty("passes")[0];
            Assert.Equal("running", detail.GetProperty("stage").GetString());
            Assert.Equal("Ida", detail.GetProperty("checks")[0].GetProperty("signed").GetProperty("by").GetString());
            Assert.Contains("tape-inspected", detail.GetProperty("checksUnsigned").EnumerateArray().Select(k => k.GetString()));

            // The command line goes through the door of the service that holds the store, and marks the pass in hand.
            (int code, string output, string error) = await CommandLineTests.RunAsync(
                "transfer", "note", Path.Combine(_folder, "store"), "--mark", "--by", "Ben", "--service", served.Address.ToString());
            Assert.True(code == ExitCode.Done, error);
            Assert.Contains(pass, output, StringComparison.Ordinal);
            await Enter(served, "\"kind\":\"run-ended\"");
            JsonElement review = await served.GetAsync(Root + $"transfers/{transfer}/passes/{pass}/review");
            Assert.Contains("mark", review.GetProperty("items").EnumerateArray().Select(i => i.GetProperty("kind").GetString()));
            Assert.Contains("checks-contradicted", review.GetProperty("reasons").EnumerateArray().Select(r => r.GetProperty("rule").GetString()));
            string vtt = await served.Client.GetStringAsync(new Uri(Root + $"transfers/{transfer}/passes/{pass}/review/export?format=vtt&part=items", UriKind.Relative));
            Assert.StartsWith("WEBVTT - VT 1 pass 1\n", vtt, StringComparison.Ordinal);
            JsonElement verdict = await Enter(served, "\"kind\":\"verdict-given\"");
            Assert.NotEqual("sound", verdict.GetProperty("verdict").GetString());
            Assert.Equal(HttpStatusCode.Conflict, await StatusOf(served, "\"kind\":\"verdict-countersigned\",\"by\":\"Ida\""));
            Assert.Equal(HttpStatusCode.OK, await StatusOf(served, "\"kind\":\"verdict-countersigned\",\"by\":\"Ben\""));
            JsonElement procedures = await served.GetAsync(Root + "procedures");
            Assert.All(procedures.GetProperty("checks").EnumerateArray(), c => Assert.NotEmpty(c.GetProperty("source").GetString()!));
        }
    }

    [Fact]
    public async Task A_step_is_read_by_the_service_itself_and_readings_speak_before_anybody_signs()
    {
        await using RunningBench bench = Start();
        await using ServedBench served = await ServedBench.StartAsync(new WebSettings(), bench);
        JsonElement tape = await Enter(served, "\"kind\":\"tape-described\",\"identifier\":\"VT 1\",\"standard\":\"525/60\",\"speedInchesPerSecond\":15");
        JsonElement transfer = await Enter(served, $"\"kind\":\"transfer-opened\",\"tape\":\"{tape.GetProperty("tape").GetString()}\"");
        string id = transfer.GetProperty("transfer").GetString()!;
        await Enter(served, $"\"kind\":\"pass-opened\",\"transfer\":\"{id}\"");

        JsonElement standard = (await served.GetAsync(Root + "line-up/readings")).GetProperty("standard");
        Assert.Equal("cannot-tell", standard.GetProperty("standing").GetString()); // the rig's wheel stands at first
        JsonElement now = default;
        await UntilAsync(async () => (now = await StepNow(served, "audio-zero")).GetProperty("value").ValueKind == JsonValueKind.Number);
        Assert.Equal("audio-level", now.GetProperty("readBy").GetString());
        Assert.Equal("dB", now.GetProperty("unit").GetString());
        Assert.Equal(JsonValueKind.Null, (await StepNow(served, "equaliser")).GetProperty("readBy").ValueKind); // by hand
        await Enter(served, $"\"kind\":\"line-up-step\",\"step\":\"audio-zero\",\"readBy\":\"audio-level\",\"beforeAt\":{now.GetProperty("at").GetRawText()}");
        JsonElement step = (await served.GetAsync(Root + $"transfers/{id}")).GetProperty("passes")[0].GetProperty("steps")[0];
        Assert.Equal("audio-level", step.GetProperty("readBy").GetString());
        Assert.Equal(now.GetProperty("value").GetDouble(), step.GetProperty("before").GetDouble());
        double after = step.GetProperty("after").GetDouble();
        await UntilAsync(async () =>
        {
            // What was taken is one of the channel's own readings.
            JsonElement history = await served.GetAsync(Root + $"channels/audio-level/history?from={In(-60)}&to={In(1)}&buckets=1");
            return history.GetProperty("minimum")[0].GetDouble() - 1e-6 <= after && after <= history.GetProperty("maximum")[0].GetDouble() + 1e-6;
        });

        JsonElement[] proofs = [.. (await served.GetAsync(Root + "check-list/readings")).GetProperty("items").EnumerateArray()];
        JsonElement dates = proofs.Single(p => p.GetProperty("check").GetString() == "calibration-in-date").GetProperty("telemetry");
        Assert.Equal("cannot-tell", dates.GetProperty("standing").GetString());
        Assert.Equal(JsonValueKind.Null, proofs.Single(p => p.GetProperty("check").GetString() == "path-cleaned").GetProperty("telemetry").ValueKind);
    }

    /// <summary>What can't be told now is refused with why, and never made up; what is told is kept in the step's own unit, whatever it is read in.</summary>
    [Fact]
    public async Task A_step_whose_reader_is_silent_is_refused_and_one_that_reads_is_kept_in_the_step_s_unit()
    {
        var bench = new FakeBench(TimeProvider.System);
        bench.Bench = FakeBenchDefinition.Make("practice", quantities: [new QuantityDefinition { Id = "scallop", Label = "Scallop", Kind = QuantityKind.Scallop, Unit = "us" }]);
        using var book = new FakeBook(bench);
        Guid tape = (await book.EnterAsync(new EntryRequest { Kind = "tape-described", Identifier = "VT 1", Standard = "525/60", SpeedInchesPerSecond = 15, Tape = Guid.CreateVersion7() })).Entry!.Body is TapeDescribed described ? described.Tape : default;
        await book.EnterAsync(new EntryRequest { Kind = "transfer-opened", Tape = tape });
        await book.EnterAsync(new EntryRequest { Kind = "pass-opened" });
        var asked = new EntryRequest { Kind = "line-up-step", Step = "guide-height", ReadBy = "scallop" };

        bench.Tell("scallop", null);
        EntryProblem problem = (await book.Desk.EnterAsync(asked, "Ida", "declared")).Problem!;
        Assert.Equal("readBy", problem.Field);
        Assert.StartsWith("'scallop' can't be read now: ", problem.What, StringComparison.Ordinal);

        bench.Tell("scallop", 0.0125); // microseconds, and the step asks for nanoseconds
        await UntilAsync(() => Task.FromResult(bench.Quantities.Items[0].Value is not null)); // told once a second
        var step = (LineUpStepRecorded)(await book.EnterAsync(asked)).Entry!.Body;
        Assert.Null(step.Before);
        Assert.Equal("scallop", step.After!.Channel);
        Assert.Equal(12.5, step.After.Value, 1e-9);

        // The value before is what the service told at an instant, never what is sent.
        LineUpStepDefinition guide = book.Desk.Procedures.LineUp.Steps.Single(s => s.Key == "guide-height");
        var told = StepNowAnswer.Of(bench, guide, book.Desk.Told);
        bench.Tell("scallop", 0.004);
        await UntilAsync(() => Task.FromResult(StepNowAnswer.Of(bench, guide, book.Desk.Told).Value is 4));
        step = (LineUpStepRecorded)(await book.EnterAsync(asked with { BeforeAt = told.At })).Entry!.Body;
        Assert.Equal(12.5, step.Before!.Value, 1e-9);
        Assert.Equal("scallop", step.Before.Channel);
        Assert.Equal(4, step.After!.Value, 1e-9);
        foreach ((EntryRequest wrong, string field, string says) in new[]
            {
                (asked with { Before = 31 }, "before", "is known to the service"),
                (asked with { BeforeAt = "2026-01-01T00:00:00Z" }, "beforeAt", "is not known any more"),
                (asked with { BeforeAt = "2199-01-01T00:00:00Z" }, "beforeAt", "no instant that has been"),
                (asked with { BeforeAt = "yesterday" }, "beforeAt", "no instant that has been"),
                (asked with { BeforeAt = told.At, ReadBy = null, After = 3 }, "beforeAt", "An instant is named for what a channel"),
            })
        {
            problem = (await book.Desk.EnterAsync(wrong, "Ida", "declared")).Problem!;
            Assert.Equal(field, problem.Field);
            Assert.Contains(says, problem.What, StringComparison.Ordinal);
        }
    }

    /// <summary>A page's clock runs a little ahead of the service's: what it enters is of now. A minute ahead is a mistake.</summary>
    [Fact]
    public async Task An_instant_a_moment_ahead_is_now_and_one_that_is_to_come_is_refused()
    {
        await using RunningBench bench = Start();
        await using ServedBench served = await ServedBench.StartAsync(new WebSettings(), bench);
        JsonElement note = await Enter(served, $"\"kind\":\"note\",\"note\":\"n\",\"about\":\"{In(1.5)}\"");
        Assert.True(string.CompareOrdinal(note.GetProperty("about").GetString(), note.GetProperty("entered").GetString()) <= 0);
        await Enter(served, $"\"kind\":\"note\",\"note\":\"n\",\"about\":\"{In(60)}\"", HttpStatusCode.Conflict);
    }

    [Fact]
    public async Task Of_two_runs_that_begin_at_once_one_is_refused()
    {
        await using RunningBench bench = Start();
        await using ServedBench served = await ServedBench.StartAsync(new WebSettings(), bench);
        JsonElement tape = await Enter(served, "\"kind\":\"tape-described\",\"identifier\":\"VT 1\",\"standard\":\"525/60\",\"speedInchesPerSecond\":15");
        JsonElement transfer = await Enter(served, $"\"kind\":\"transfer-opened\",\"tape\":\"{tape.GetProperty("tape").GetString()}\"");
        HttpStatusCode[] both = await Task.WhenAll(
            Enumerable.Range(0, 4).Select(_ => StatusOf(served, $"\"by\":\"Ida\",\"kind\":\"pass-opened\",\"transfer\":\"{transfer.GetProperty("transfer").GetString()}\"")));
        Assert.Single(both, s => s == HttpStatusCode.OK);
        Assert.Equal(3, both.Count(s => s == HttpStatusCode.Conflict));
        HttpStatusCode[] runs = await Task.WhenAll(Enumerable.Range(0, 4).Select(_ => StatusOf(served, "\"by\":\"Ida\",\"kind\":\"run-began\"")));
        Assert.Single(runs, s => s == HttpStatusCode.OK);
        JsonElement pass = (await served.GetAsync(Root + "transfers")).GetProperty("items")[0].GetProperty("passes")[0];
        Assert.Equal("running", pass.GetProperty("stage").GetString());
    }

    private static async Task<JsonElement> Enter(ServedBench served, string fields, HttpStatusCode expected = HttpStatusCode.OK) =>
        await served.PostAsync(Root + "entries", $"{{\"by\":\"Ida\",{fields}}}", expected);

    private static string In(double seconds) =>
        TimeProvider.System.GetUtcNow().AddSeconds(seconds).ToString("yyyy-MM-dd'T'HH:mm:ss.fff'Z'", System.Globalization.CultureInfo.InvariantCulture);

    private static async Task<JsonElement> StepNow(ServedBench served, string step) =>
        (await served.GetAsync(Root + "line-up/readings")).GetProperty("items").EnumerateArray().Single(s => s.GetProperty("step").GetString() == step);

    private static async Task UntilAsync(Func<Task<bool>> condition)
    {
        long begin = TimeProvider.System.GetTimestamp();
        while (!await condition())
        {
            Assert.True(TimeProvider.System.GetElapsedTime(begin) < TimeSpan.FromSeconds(30), "it did not come to pass");
            await Task.Delay(TimeSpan.FromMilliseconds(50), TimeProvider.System);
        }
    }

    private static async Task<HttpStatusCode> StatusOf(ServedBench served, string fields)
    {
        using var content = new StringContent($"{{{fields}}}", System.Text.Encoding.UTF8, "application/json");
        using HttpResponseMessage response = await served.Client.PostAsync(new Uri(Root + "entries", UriKind.Relative), content);
        return response.StatusCode;
    }

    private RunningBench Start() => RunningBench.Start(
        new RunningBenchOptions
        {
            BenchPath = Path.Combine(ProfileFolders.Default[0], "practice-rig", "bench.toml"),
            StoreFolder = Path.Combine(_folder, "store"),
            ProfileFolders = ProfileFolders.Default,
        },
        NullLoggerFactory.Instance);

    private static async Task Until(Func<bool> condition)
    {
        long begin = TimeProvider.System.GetTimestamp();
        while (!condition())
        {
            Assert.True(TimeProvider.System.GetElapsedTime(begin) < TimeSpan.FromSeconds(30), "it did not come to pass");
            await Task.Delay(TimeSpan.FromMilliseconds(20), TimeProvider.System);
        }
    }
}
