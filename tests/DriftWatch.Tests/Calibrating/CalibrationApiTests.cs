using System.Net;
using System.Text.Json;
using DriftWatch.Calibrating;
using DriftWatch.Cli;
using DriftWatch.Cli.Calibrating;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Running;
using DriftWatch.Tests.Web;
using DriftWatch.Web;
using Microsoft.Extensions.Logging.Abstractions;

namespace DriftWatch.Tests.Calibrating;

/// <summary>A calibration through the door of a running bench: tried, entered, in force at once, and still after a restart.</summary>
public sealed class CalibrationApiTests : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-calibrate-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task Entered_while_it_runs_it_is_in_force_at_once_and_after_a_restart()
    {
        Guid id;
        await using (RunningBench bench = Start())
        {
            await using ServedBench served = await ServedBench.StartAsync(new WebSettings(), bench);
            JsonElement tried = await served.PostAsync("api/v1/benches/small/channels/air/calibrations/try", Body());
            Assert.Equal("driftwatch.calibration/1", tried.GetProperty("format").GetString());
            Assert.Single((await served.GetAsync("api/v1/benches/small/calibrations")).GetProperty("items").EnumerateArray()); // nothing was entered

            JsonElement entered = await served.PostAsync("api/v1/benches/small/channels/air/calibrations", Body("\"by\":\"Ida Wren\","));
            JsonElement document = entered.GetProperty("document");
            id = document.GetProperty("id").GetGuid();
            Assert.Equal("declared", document.GetProperty("identity").GetString());
            using DriftWatch.Storage.Queries.BenchReader reader = bench.Store.OpenReader();
            EngineInput input = reader.ReadInputs(entered.GetProperty("input").GetInt64() - 1).First();
            Assert.Equal((InputKind.Calibration, id), (input.Kind, input.Calibration.Id!.Value));

            JsonElement[] rows = [.. (await served.GetAsync("api/v1/benches/small/calibrations")).GetProperty("items").EnumerateArray()];
            Assert.Equal([false, true], rows.Select(r => r.GetProperty("inForce").GetBoolean()));
            Assert.Equal("Ida Wren", rows[1].GetProperty("by").GetString());
            JsonElement channel = (await served.GetAsync("api/v1/benches/small")).GetProperty("channels")[0].GetProperty("calibration");
            Assert.Equal(2, channel.GetProperty("version").GetInt32());
            Assert.Equal(document.GetProperty("due").GetString(), channel.GetProperty("due").GetString());
            Assert.Equal(document.GetProperty("turns").GetProperty("gain").GetDouble(), channel.GetProperty("gain").GetDouble());
            Assert.Equal(id, (await served.GetAsync($"api/v1/benches/small/calibrations/{id}")).GetProperty("id").GetGuid());
            using HttpResponseMessage pdf = await served.Client.GetAsync(new Uri($"api/v1/benches/small/calibrations/{id}/certificate", UriKind.Relative));
            Assert.Equal("application/pdf", pdf.Content.Headers.ContentType!.MediaType);
            Assert.StartsWith("%PDF", await pdf.Content.ReadAsStringAsync(), StringComparison.Ordinal);

            // The same by the command line, through the same door.
            string sheet = Path.Combine(_folder, "sheet.toml");
            File.WriteAllText(sheet, "[reference]\nname = \"test gauge\"\n[[point]]\nreference = 0\nraw = [0.5]\n[[point]]\nreference = 50\nraw = [2.5]\n[[point]]\nreference = 100\nraw = [4.6]\n");
            using var output = new StringWriter();
            int code = await CalibrateCommand.RunAsync(
                new CalibrateCommand.Job(served.Address.ToString(), "air", sheet, "Ida Wren", null, null, null, false, null), TextReader.Null, output, TimeProvider.System, default);
            Assert.True(code is ExitCode.Done or ExitCode.NotSound, output.ToString());
            Assert.Contains("Entered as version 3", output.ToString(), StringComparison.Ordinal);
        }

        await using RunningBench again = Start();
        Assert.Equal(3, again.InForce(again.Bench.Channels[0]).Version);
        Assert.Contains(((IBenchView)again).Calibrations(), r => r.Calibration.Id == id && !r.IsInForce);
    }

    [Fact]
    public async Task What_can_not_be_used_is_refused_with_its_field_and_nobody_calibrates_without_a_name()
    {
        await using RunningBench bench = Start();
        await using ServedBench served = await ServedBench.StartAsync(new WebSettings(), bench);
        const string Path = "api/v1/benches/small/channels/air/calibrations";
        Assert.Equal("by", (await served.PostAsync(Path, Body(), HttpStatusCode.BadRequest)).GetProperty("parameter").GetString());
        Assert.Equal("sheet.points", (await served.PostAsync(Path, "{\"by\":\"Ida\",\"sheet\":{\"reference\":{\"name\":\"g\"}}}", HttpStatusCode.BadRequest)).GetProperty("parameter").GetString());
        Assert.Equal("applyFrom", (await served.PostAsync(Path, Body("\"by\":\"Ida\",\"applyFrom\":\"soon\","), HttpStatusCode.BadRequest)).GetProperty("parameter").GetString());
        Assert.Equal("applyFrom", (await served.PostAsync(Path, Body("\"by\":\"Ida\",\"applyFrom\":\"2199-01-01T00:00:00Z\","), HttpStatusCode.BadRequest)).GetProperty("parameter").GetString());
        Assert.Equal("channel", (await served.PostAsync(Path.Replace("/air/", "/aire/", StringComparison.Ordinal), Body("\"by\":\"Ida\","), HttpStatusCode.BadRequest)).GetProperty("parameter").GetString());
        await served.GetAsync("api/v1/benches/small/calibrations/nothing", HttpStatusCode.NotFound);
        Assert.Equal(1, bench.InForce(bench.Bench.Channels[0]).Version);
    }

    /// <summary>The answer was lost and the same sheet comes again, before and after a restart: one version, and the drift is still held against the one before.</summary>
    [Fact]
    public async Task Sent_again_under_its_id_it_is_entered_once_and_answered_as_it_was()
    {
        const string Path = "api/v1/benches/small/channels/air/calibrations";
        const string Id = "0199b1c2-7000-7000-8000-000000000001";
        string body = Body($"\"by\":\"Ida Wren\",\"id\":\"{Id}\",");
        JsonElement first;
        await using (RunningBench bench = Start())
        {
            await using ServedBench served = await ServedBench.StartAsync(new WebSettings(), bench);
            first = await served.PostAsync(Path, body);
            Assert.Equal(Id, first.GetProperty("document").GetProperty("id").GetString());
            Assert.Equal(first.GetRawText(), (await served.PostAsync(Path, body)).GetRawText());
            Assert.Equal(2, (await served.GetAsync("api/v1/benches/small/calibrations")).GetProperty("items").GetArrayLength());

            // The id of one can't stand for another's, and what is no id is said.
            Assert.Equal("id", (await served.PostAsync(Path, body.Replace("Ida Wren", "Tom Ashby", StringComparison.Ordinal), HttpStatusCode.BadRequest)).GetProperty("parameter").GetString());
            await served.PostAsync(Path, body.Replace(Id, "seven", StringComparison.Ordinal), HttpStatusCode.BadRequest);
            Assert.Equal(2, bench.InForce(bench.Bench.Channels[0]).Version);
        }

        await using RunningBench again = Start();
        await using ServedBench after = await ServedBench.StartAsync(new WebSettings(), again);
        Assert.Equal(first.GetRawText(), (await after.PostAsync(Path, body)).GetRawText());
        Assert.Equal(3, (await after.PostAsync(Path, body.Replace(Id, "0199b1c2-7000-7000-8000-000000000002", StringComparison.Ordinal))).GetProperty("document").GetProperty("version").GetInt32());
    }

    /// <summary>The pre-flight goes by what turns the readings at the instant signed: the file's own is overdue, and a person calibrated since.</summary>
    [Fact]
    public async Task An_overdue_calibration_of_the_file_is_in_date_from_the_instant_at_which_another_was_entered()
    {
        await using RunningBench bench = Start(due: "2026-01-31");
        await using ServedBench served = await ServedBench.StartAsync(new WebSettings(), bench);
        string tape = (await Enter("\"kind\":\"tape-described\",\"identifier\":\"VT 1\",\"standard\":\"525/60\",\"speedInchesPerSecond\":15")).GetProperty("tape").GetString()!;
        string transfer = (await Enter($"\"kind\":\"transfer-opened\",\"tape\":\"{tape}\"")).GetProperty("transfer").GetString()!;
        string opened = (await Enter($"\"kind\":\"pass-opened\",\"transfer\":\"{transfer}\"")).GetProperty("about").GetString()!;
        Assert.Equal(("contradicted", "Past its date: air."), Told(await Read()));

        await Task.Delay(TimeSpan.FromMilliseconds(20), TimeProvider.System); // an instant is told in whole milliseconds
        await served.PostAsync("api/v1/benches/small/channels/air/calibrations", Body("\"by\":\"Ida Wren\","));
        Assert.Equal(("proved", "All 1 calibrations that have a date are within it."), Told(await Read()));
        Assert.Equal("contradicted", Told(await Enter($"\"kind\":\"check-signed\",\"check\":\"calibration-in-date\",\"answer\":\"done\",\"about\":\"{opened}\"")).Standing);
        Assert.Equal("proved", Told(await Enter("\"kind\":\"check-signed\",\"check\":\"calibration-in-date\",\"answer\":\"done\"")).Standing);

        Task<JsonElement> Enter(string fields) => served.PostAsync("api/v1/benches/small/entries", $"{{\"by\":\"Ida Wren\",{fields}}}");
        async Task<JsonElement> Read() => (await served.GetAsync("api/v1/benches/small/check-list/readings")).GetProperty("items").EnumerateArray()
            .Single(i => i.GetProperty("check").GetString() == "calibration-in-date");
        static (string Standing, string Text) Told(JsonElement item) =>
            (item.GetProperty("telemetry").GetProperty("standing").GetString()!, item.GetProperty("telemetry").GetProperty("text").GetString()!);
    }

    private static string Body(string more = "") =>
        $"{{{more}\"sheet\":{{\"reference\":{{\"name\":\"test gauge\",\"uncertainty\":0.05}},\"tolerance\":1,\"points\":[{string.Join(',', new[] { (0, 0.5), (25, 1.5), (50, 2.51), (75, 3.5), (100, 4.5) }.Select(p => FormattableString.Invariant($"{{\"reference\":{p.Item1},\"raw\":[{p.Item2}]}}")))}]}}}}";

    private RunningBench Start(string? due = null)
    {
        string bench = Path.Combine(_folder, "bench.toml");
        File.WriteAllText(
            bench,
            "[bench]\nid = \"small\"\n[[instrument]]\nid = \"rig\"\nprofile = \"practice-rig\"\npractice = { seed = 3 }\n"
            + "[[channel]]\nid = \"air\"\ninstrument = \"rig\"\ninput = \"sensor-rail\"\nunit = \"psi\"\ncalibration = { line = { gain = 25.0, offset = -12.5 }" + (due is null ? "" : $", due = \"{due}\"") + " }\n");
        return RunningBench.Start(
            new RunningBenchOptions { BenchPath = bench, StoreFolder = Path.Combine(_folder, "store"), ProfileFolders = ProfileFolders.Default }, NullLoggerFactory.Instance);
    }
}
