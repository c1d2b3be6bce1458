using System.Security.Cryptography;
using System.Text.Json;
using DriftWatch.Cli;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers;
using DriftWatch.Tests.Cli;
using DriftWatch.Tests.Support;
using DriftWatch.Watch.Alarms.Health;

namespace DriftWatch.Tests.Reports.Dossiers;

[Collection(ImportedStores.Name)]
public sealed class DossierTests(ImportedStores stores)
{
    [Theory]
    [InlineData("sound-transfer")]
    [InlineData("failing-compressor")]
    public void Summaries_of_the_run_are_those_that_another_program_works_out_of_the_recording(string name)
    {
        JsonElement known = Golden.Json("dossier/summaries").GetProperty("runs").GetProperty(name);
        Dossier dossier = DossierReader.OfSpan(stores.PathOf(name), null, null);
        Assert.Equal(known.GetProperty("from").GetString(), UtcText.FromNanoseconds(dossier.Run.Stretch.FromUtc));
        Assert.Equal(known.GetProperty("to").GetString(), UtcText.FromNanoseconds(dossier.Run.Stretch.ToUtc));
        int told = 0;
        foreach (JsonProperty channel in known.GetProperty("channels").EnumerateObject())
        {
            ChannelSummary summary = dossier.Channels.Single(c => c.Channel.Id == channel.Name);
            Assert.Equal(channel.Value.GetProperty("count").GetInt64(), summary.Count);
            Assert.Equal(channel.Value.GetProperty("faults").GetInt64(), summary.Faults);
            Assert.Equal(channel.Value.Number("least"), summary.Least!.Value, 1e-9);
            Assert.Equal(channel.Value.Number("mean"), summary.Mean!.Value, 1e-9 * Math.Abs(channel.Value.Number("mean")));
            Assert.Equal(channel.Value.Number("greatest"), summary.Greatest!.Value, 1e-9);
            Assert.Equal(1, summary.Coverage!.Value, 1e-9);
            if (summary.Drift is { } drift && channel.Value.TryGetProperty("slopePerHour", out JsonElement other))
            {
                // Another method's slope lies within what is claimed, and near to what is told.
                double slope = other.GetDouble();
                Assert.InRange(slope, drift.Low, drift.High);
                Assert.InRange(Math.Abs(slope - drift.PerHour), 0, (drift.High - drift.Low) / 2);
                Assert.Equal(drift.Low > 0 || drift.High < 0, drift.IsDrift);
                told++;
            }
        }

        Assert.Equal(name == "sound-transfer" ? 4 : 0, told); // air and vacuum go with the compressor's cycle: too few independent means, which is said by an empty cell
    }

    [Fact]
    public async Task The_hash_is_that_of_the_exact_log_as_it_is_exported()
    {
        Dossier dossier = DossierReader.OfSpan(stores.Sound, null, null);
        string log = stores.PathOf("whole.dwlog");
        (int code, _, string error) = await CommandLineTests.RunAsync("export", stores.Sound, "--out", log);
        Assert.True(code == ExitCode.Done, error);
        byte[] exported = await File.ReadAllBytesAsync(log);
        Assert.Equal(Convert.ToHexStringLower(SHA256.HashData(exported)), dossier.Record.Sha256);
        Assert.Equal(exported.Length, dossier.Record.Bytes);
        Assert.Equal(1, dossier.Record.FirstNumber);
    }

    [Fact]
    public void A_stretch_from_the_middle_has_its_clock_its_bench_and_its_tape_put_before_it_and_its_own_numbers()
    {
        Dossier dossier = DossierReader.OfSpan(stores.Sound, Utc("2026-01-15T08:30:00Z"), Utc("2026-01-15T08:40:00Z"));
        Assert.True(dossier.Record.FirstNumber > 1);
        Assert.Equal(dossier.Record.LastNumber - dossier.Record.FirstNumber + 1 + 3, dossier.Record.Inputs);
        Assert.Equal(600, dossier.Channels.Single(c => c.Channel.Id == "regulated-air").Count);
        Assert.NotEqual(DossierReader.OfSpan(stores.Sound, Utc("2026-01-15T08:30:00Z"), Utc("2026-01-15T08:40:01Z")).Record.Sha256, dossier.Record.Sha256);
    }

    [Fact]
    public void What_nobody_watched_is_a_gap_and_is_counted()
    {
        Dossier dossier = DossierReader.OfSpan(stores.Sound, Utc("2026-01-15T09:00:00Z"), Utc("2026-01-15T09:45:00Z"));
        UtcStretch gap = Assert.Single(dossier.Unwatched);
        Assert.InRange(gap.FromUtc, Utc("2026-01-15T09:29:55Z"), Utc("2026-01-15T09:30:05Z"));
        Assert.Equal(Utc("2026-01-15T09:45:00Z"), gap.ToUtc);
        Assert.Equal(1, dossier.WatchedShare); // the tape had stopped before
    }

    [Fact]
    public void A_span_in_which_nothing_was_recorded_says_what_to_do()
    {
        InvalidDataException refused = Assert.Throws<InvalidDataException>(
            () => DossierReader.OfSpan(stores.Sound, Utc("2026-02-01T09:00:00Z"), Utc("2026-02-01T09:45:00Z")));
        Assert.Contains("choose one in which the bench was watched", refused.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void A_sound_transfer_has_no_trouble()
    {
        Dossier dossier = DossierReader.OfSpan(stores.Sound, null, null);
        Assert.Empty(dossier.Findings);
        Assert.Empty(Trouble.Of(dossier));
        Assert.Equal(RunSource.State, dossier.Run.Source);
        Assert.Equal(2, dossier.Turns.Count);
        Assert.Contains(dossier.Channels, c => c.IsDerived && c.Channel.Id == "skew" && c.Count > 0);
    }

    [Fact]
    public void A_failing_compressor_is_one_trouble_with_its_place_its_cause_and_what_to_run_again()
    {
        Dossier dossier = DossierReader.OfSpan(stores.Compressor, null, null);
        Trouble trouble = Assert.Single(Trouble.Of(dossier)); // the wheel that stops at last belongs to it: the book has it all in one alarm
        Assert.Equal(Standing.Bad, trouble.Standing);
        Assert.Contains("the compressor gives too little", trouble.What, StringComparison.Ordinal);

        // 08:27:42 less the run's begin at 08:01:13.
        Assert.Equal((26 * 60) + 29, trouble.FromSeconds, 0.5);
        Assert.Contains("Run 0:36:", trouble.ToDo, StringComparison.Ordinal);
        Assert.Contains("look at the compressor's intake", trouble.ToDo, StringComparison.Ordinal);
        Assert.Equal(dossier.Findings.Count, trouble.Findings.Count);
        ChannelSummary air = dossier.Channels.Single(c => c.Channel.Id == "regulated-air");
        Assert.True(air.Use is { Share: > 1, Severity: Severity.Alarm, Side: LimitSide.Low });
        AlarmStory alarm = Assert.Single(dossier.Alarms);
        Assert.Null(alarm.Acknowledged);
    }

    [Theory]
    [InlineData(0, "0:00:00")]
    [InlineData(3723.4, "1:02:03")]
    public void Places_on_the_tape_are_hours_minutes_and_seconds(double seconds, string text) =>
        Assert.Equal(text, DriftWatch.Reports.Dossiers.Figures.FigureFrame.PlaceText(seconds));

    [Theory]
    [InlineData(50.421529, "50.42")]
    [InlineData(-0.01234, "−0.01234")]
    [InlineData(0, "0")]
    [InlineData(1234567, "1234567")]
    [InlineData(-0.00000001, "0")]
    public void Numbers_have_four_figures_and_a_minus_that_is_one(double value, string text) =>
        Assert.Equal(text, DriftWatch.Reports.Dossiers.Figures.NumberText.Short(value));

    private static long Utc(string text) => UtcText.TryParse(text, out long utc) ? utc : throw new FormatException(text);
}
