using System.Text.Json;
using DriftWatch.Cli;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Storage;
using DriftWatch.Tests.PracticeRig;
using DriftWatch.Tests.Storage;
using DriftWatch.Tests.Watch.Alarms.Health;
using Xunit;

namespace DriftWatch.Tests.Cli;

/// <summary>The book as a person reads it in the morning, held against kept transcripts; DRIFTWATCH_REWRITE=1 writes them anew.</summary>
public sealed class AlarmsCommandTests : IDisposable
{
    private readonly StoreFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData("night", "")]
    [InlineData("open", "--open")]
    [InlineData("late", "--from 2026-03-01T21:00:00Z")]
    [InlineData("lines", "--lines")]
    [InlineData("tag", "--tag stale.guide-vacuum --lines")]
    [InlineData("health", "--health --from 2026-03-01T20:00:00Z --to 2026-03-01T22:00:00Z")]
    public async Task The_book_is_told_in_words(string transcript, string options)
    {
        Fill(Night());
        (int code, string output, string error) = await CommandLineTests.RunAsync(Line(options));
        Assert.Empty(error);
        Assert.Equal(ExitCode.Done, code);
        string path = GuideAndHeadTests.RepositoryFile($"tests/DriftWatch.Tests/Cli/Transcripts/alarms-{transcript}.txt");
        string text = output.ReplaceLineEndings("\n");
        if (Environment.GetEnvironmentVariable("DRIFTWATCH_REWRITE") == "1")
        {
            File.WriteAllText(path, text);
        }

        Assert.Equal(File.ReadAllText(path), text);
    }

    [Fact]
    public async Task A_program_gets_the_very_lines_of_the_book()
    {
        List<AlarmTransition> night = Night();
        Fill(night);
        (_, string output, _) = await CommandLineTests.RunAsync(Line("--json"));
        Assert.Equal(night, output.Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(l => AlarmJson.Read(System.Text.Encoding.UTF8.GetBytes(l))));
        (_, output, _) = await CommandLineTests.RunAsync(Line("--json --open"));
        Assert.All(output.Split('\n', StringSplitOptions.RemoveEmptyEntries), l => Assert.DoesNotContain("pressure-sag", l, StringComparison.Ordinal));
    }

    [Fact]
    public async Task A_program_gets_the_measures_as_one_object()
    {
        Fill(Night());
        (_, string output, _) = await CommandLineTests.RunAsync(Line("--health --json"));
        using JsonDocument answer = JsonDocument.Parse(output);
        Assert.Equal(5, answer.RootElement.GetProperty("calls").GetInt32());
        Assert.Equal(JsonValueKind.Null, answer.RootElement.GetProperty("callsPerDay").ValueKind); // nothing was watched here: no readings are stored
    }

    [Theory]
    [InlineData("--health --open", ExitCode.Usage, "--health measures all alarms together")]
    [InlineData("--tag stale.guide-vacum", ExitCode.Usage, "did you mean 'stale.guide-vacuum'?")]
    [InlineData("--from 2026-03-02 --to 2026-03-01", ExitCode.Usage, "--to is not after --from")]
    [InlineData("--from 2026-04-01", ExitCode.BadInput, "nothing lies in that span; the store knows of 2026-03-01T20:")]
    public async Task What_cannot_be_answered_is_said_with_the_way_out(string options, int code, string says)
    {
        Fill(Night());
        (int actual, string output, string error) = await CommandLineTests.RunAsync(Line(options));
        Assert.Equal(code, actual);
        Assert.Contains(says, error, StringComparison.Ordinal);
        Assert.Empty(output);
    }

    [Fact]
    public async Task A_folder_without_a_store_an_empty_one_and_a_night_without_alarms_are_told_apart()
    {
        (int code, _, string error) = await CommandLineTests.RunAsync("alarms", _folder.Path);
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains("holds no store", error, StringComparison.Ordinal);
        _folder.Open().Dispose();
        (code, _, error) = await CommandLineTests.RunAsync("alarms", _folder.Path);
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains("nothing was recorded here yet", error, StringComparison.Ordinal);
        Fill(Night());
        (code, string output, _) = await CommandLineTests.RunAsync(Line("--from 2026-03-01T19:00:00Z --to 2026-03-01T20:00:00Z"));
        Assert.Equal((ExitCode.Done, "No alarm."), (code, output.Trim()));
    }

    /// <summary>A sag that is answered for, vacuum that goes silent twice, a head on the shelf.</summary>
    private static List<AlarmTransition> Night()
    {
        List<AlarmTransition> lines = new Book()
            .Raise(60, "bench.alarm.pressure-sag.regulated-air.1", "pressure-sag.regulated-air", AlarmPriority.Medium)
            .Add(70, "bench.alarm.pressure-sag.regulated-air.1", AlarmStep.CauseNamed, AlarmState.Unacknowledged, active: true)
            .Add(75, "bench.alarm.pressure-sag.regulated-air.1", AlarmStep.Worsened, AlarmState.Unacknowledged, active: true, priority: AlarmPriority.High)
            .Acknowledge(95, "bench.alarm.pressure-sag.regulated-air.1")
            .Return(310, "bench.alarm.pressure-sag.regulated-air.1", AlarmState.Normal)
            .Raise(1800, "bench.alarm.stale.guide-vacuum.6", "stale.guide-vacuum")
            .Return(1900, "bench.alarm.stale.guide-vacuum.6")
            .Raise(4000, "bench.alarm.stale.guide-vacuum.8", "stale.guide-vacuum")
            .Raise(5000, "bench.alarm.wear.rf-head-2.9", "wear.rf-head-2")
            .Add(5060, "bench.alarm.wear.rf-head-2.9", AlarmStep.Shelved, AlarmState.Shelved, active: true, by: "ida").Lines;
        return
        [
            .. lines.Select((l, i) => l with
            {
                Cause = l.Tag.StartsWith("pressure", StringComparison.Ordinal) && i > 0 ? "compressor-cut-in" : null,
                FirstOut = l.Tag.StartsWith("pressure", StringComparison.Ordinal) ? "bench.supply-changed.supply-air.1" : $"bench.{l.Tag}.1",
                Findings = l.Tag.StartsWith("pressure", StringComparison.Ordinal) ? 3 : 1,
                ShelvedUntilUtc = l.To == AlarmState.Shelved ? Book.Utc(5060 + 3600) : null,
                Why = l.Step switch { AlarmStep.Acknowledged => "tank drained, watching it", AlarmStep.Shelved => "new head comes on Tuesday", _ => null },
                Text = l.Step switch
                {
                    AlarmStep.Returned => $"{l.Tag} is over.",
                    AlarmStep.CauseNamed => "The compressor cut in.",
                    _ => $"What {l.Tag} says of {l.Priority.ToString().ToLowerInvariant()} priority.",
                },
            }),
        ];
    }

    private string[] Line(string options) => ["alarms", _folder.Path, .. options.Split(' ', StringSplitOptions.RemoveEmptyEntries)];

    private void Fill(List<AlarmTransition> lines)
    {
        using BenchStore store = _folder.Open();
        store.CommitJudged(lines[^1].Input, [1], "build", [], lines);
    }
}
