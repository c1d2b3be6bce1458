using System.Text.Json;
using DriftWatch.SystemTests.Lines;

namespace DriftWatch.SystemTests.Service;

/// <summary>The power goes between a tape's start and the twenty seconds after which it counts as a run: the run begins where the tape did.</summary>
public sealed class RunOverRestartTests : IDisposable
{
    /// <summary>Air in psi, guide vacuum in inH2O, RF of a head in dB: air up without tape, and tape that runs.</summary>
    private const string Standing = "50 0.1 -60", Running = "50 10 -10";

    private const string Entries = "/api/v1/benches/steered/entries";

    private static readonly Guid Tape = Guid.CreateVersion7(), Transfer = Guid.CreateVersion7(), Pass = Guid.CreateVersion7();

    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-restart-").FullName;

    private string BenchFile => Path.Combine(_folder, "bench.toml");

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task A_tape_that_started_before_a_kill_has_its_run_from_where_it_started()
    {
        WriteBench();
        Steer(Standing);
        string port = Path.Combine(_folder, "port"), store = Path.Combine(_folder, "store");
        using Companion wire = await Companion.Wire(port, port + "-far");
        using Companion emitter = await Companion.ServiceScript("steered_emitter.py", port + "-far", Path.Combine(_folder, "values"));
        DateTimeOffset started;
        using (ServiceProcess service = await ServiceProcess.WatchAsync(BenchFile, store))
        {
            await EnterAsync(service, new { kind = "tape-described", by = "Ida Wren", tape = Tape, identifier = "MC-0117", standard = "525/60", speedInchesPerSecond = 15.0 });
            await EnterAsync(service, new { kind = "transfer-opened", by = "Ida Wren", tape = Tape, transfer = Transfer });
            await EnterAsync(service, new { kind = "pass-opened", by = "Ida Wren", transfer = Transfer, pass = Pass });
            await EnterAsync(service, new { kind = "line-up-ended", by = "Ida Wren", pass = Pass });
            await UntilAsync(async () => await StateAsync(service) == "air-up", "the tape stands");
            await Task.Delay(TimeSpan.FromSeconds(3), TimeProvider.System);
            started = TimeProvider.System.GetUtcNow();
            Steer(Running);
            await UntilAsync(async () => await StateAsync(service) == "running", "the tape runs");
            await Task.Delay(TimeSpan.FromSeconds(4), TimeProvider.System);
            service.KillHard();
        }

        using ServiceProcess next = await ServiceProcess.WatchAsync(BenchFile, store);
        Assert.True(TimeProvider.System.GetUtcNow() - started < TimeSpan.FromSeconds(19), "The service was away for so long that nothing is tested.");
        JsonElement began = default;
        await UntilAsync(async () => await RunBeganAsync(next) is { } entry && (began = entry).ValueKind == JsonValueKind.Object, "the run begins by itself", seconds: 40);
        Assert.Equal(("state", "elapsed-time"), (began.GetProperty("beganBy").GetString(), began.GetProperty("basis").GetString()));
        DateTimeOffset about = began.GetProperty("began").GetProperty("about").GetDateTimeOffset();
        Assert.InRange((about - started).TotalSeconds, -0.5, 4); // the state is told a moment after
    }

    private static async Task<string?> StateAsync(ServiceProcess service) =>
        (await service.GetAsync("/api/v1/benches/steered")).GetProperty("bench").GetProperty("state").GetString();

    private static async Task<JsonElement?> RunBeganAsync(ServiceProcess service)
    {
        JsonElement pass = (await service.GetAsync($"/api/v1/benches/steered/transfers/{Transfer}")).GetProperty("passes")[0];
        return pass.TryGetProperty("run", out JsonElement run) && run.ValueKind == JsonValueKind.Object ? run : null;
    }

    private static async Task EnterAsync(ServiceProcess service, object entry)
    {
        JsonElement answer = await service.PostAsync(Entries, entry);
        Assert.True(answer.TryGetProperty("input", out _), answer.GetRawText());
    }

    private static async Task UntilAsync(Func<Task<bool>> isSo, string what, double seconds = 20)
    {
        DateTimeOffset end = TimeProvider.System.GetUtcNow().AddSeconds(seconds);
        while (!await isSo())
        {
            Assert.True(TimeProvider.System.GetUtcNow() < end, $"Not so after {seconds} s: {what}.");
            await Task.Delay(TimeSpan.FromMilliseconds(100), TimeProvider.System);
        }
    }

    private void Steer(string values)
    {
        string file = Path.Combine(_folder, "values");
        File.WriteAllText(file + ".new", values);
        File.Move(file + ".new", file, overwrite: true);
    }

    private void WriteBench()
    {
        string profile = Directory.CreateDirectory(Path.Combine(_folder, "steered")).FullName;
        File.WriteAllText(Path.Combine(profile, "profile.toml"), """
            [instrument]
            name = "steered"
            title = "Emitter of the tests"
            protocol = "lines"

            [lines]
            delimiter = ","
            checksum = "crc16"
            fields = 3

            [[input]]
            name = "air"
            unit = "psi"
            field = 1

            [[input]]
            name = "vacuum"
            unit = "inH2O"
            field = 2

            [[input]]
            name = "rf"
            unit = "dB"
            field = 3
            """);
        File.WriteAllText(BenchFile, $$"""
            [bench]
            id = "steered"

            [machine]
            label = "Machine of the tests"

            [[instrument]]
            id = "emitter"
            profile = "steered"
            serial = { port = "{{Path.Combine(_folder, "port")}}", baud = 115200 }

            [[channel]]
            id = "air"
            role = "regulated-air"
            unit = "psi"
            setpoint = 50.0
            instrument = "emitter"
            input = "air"

            [[channel]]
            id = "vacuum"
            role = "guide-vacuum"
            unit = "inH2O"
            instrument = "emitter"
            input = "vacuum"

            [[channel]]
            id = "rf"
            role = "rf-level"
            head = 1
            unit = "dB"
            instrument = "emitter"
            input = "rf"
            """);
    }
}
