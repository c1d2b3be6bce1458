using DriftWatch.Configuration;
using DriftWatch.Measurement.Channels;
using Xunit;

namespace DriftWatch.Tests.Configuration;

/// <summary>The rows of the threshold table, resolved to a bench.</summary>
public sealed class DefaultLimitsTests
{
    private const string Air = "role = \"regulated-air\"\ncalibration = { points = [[0.5, 0], [4.5, 100]] }\n";

    [Fact]
    public void At_50_psi_the_regulated_air_has_the_limits_of_the_table()
    {
        LimitDefinition[] limits = Limits("psi", Air + "setpoint = 50\n");
        Assert.Equal(
            ["Low Advisory 48 0.5 10", "High Advisory 52 0.5 10", "Low Alarm 45 1 1", "High Alarm 56 1 1", "Low Alarm 43.75 1 0"],
            limits.Select(l => $"{l.Side} {l.Severity} {l.Value} {l.Deadband} {l.OnDelay.TotalSeconds}"));
        Assert.All(limits, l => Assert.Empty(l.JudgedIn));
        Assert.Contains("70 of 80 psi", limits[^1].Source, StringComparison.Ordinal);
    }

    [Fact]
    public void Another_setpoint_moves_every_limit_with_it()
    {
        Assert.Equal([57.6, 62.4, 54, 67.2, 52.5], Limits("psi", Air + "setpoint = 60\n").Select(l => l.Value));
        Assert.Equal([3.84, 4.16, 3.6, 4.48, 3.5], Limits("bar", Air + "setpoint = 4\n").Select(l => l.Value));
    }

    [Fact]
    public void A_limit_of_the_bench_file_replaces_those_of_its_side_and_severity_only()
    {
        LimitDefinition[] limits = Limits("psi", Air + "setpoint = 50\n[[channel.limit]]\nside = \"low\"\nseverity = \"alarm\"\nvalue = 44.0\n");
        Assert.Equal(["Low Advisory", "High Advisory", "High Alarm", "Low Alarm"], limits.Select(l => $"{l.Side} {l.Severity}"));
        Assert.Equal((44.0, "bench file"), (limits[^1].Value, limits[^1].Source));
    }

    [Fact]
    public void None_means_none_but_those_written()
    {
        Assert.Empty(Limits("psi", Air + "setpoint = 50\nlimits = \"none\"\n"));
        Assert.Single(Limits("psi", Air + "setpoint = 50\nlimits = \"none\"\n[[channel.limit]]\nside = \"low\"\nseverity = \"alarm\"\nvalue = 44.0\n"));
    }

    [Fact]
    public void Supply_air_needs_the_headroom_of_the_regulator_over_its_setpoint()
    {
        const string Supply = "role = \"supply-air\"\ncalibration = { points = [[0.5, 0], [4.5, 150]] }\n";
        Assert.Empty(Limits("psi", Supply));
        string regulated = "[[channel]]\nid = \"r\"\nunit = \"psi\"\ninstrument = \"board\"\ninput = \"a1\"\n" + Air + "setpoint = 50\n";
        Assert.Equal([65, 60], Limits("psi", Supply + regulated).Select(l => l.Value));
    }

    [Fact]
    public void Vacuum_and_RF_refer_to_the_baseline_while_tape_runs()
    {
        LimitDefinition[] vacuum = Limits("inH2O", "role = \"guide-vacuum\"\nsensor = \"vacuum-differential-25inh2o\"\n");
        Assert.Equal([(0.9, 5.0), (0.75, 1.0)], vacuum.Select(l => (l.Value, l.OnDelay.TotalSeconds)));
        Assert.All(vacuum, l => Assert.Equal(LimitReference.BaselineFraction, l.Reference));
        LimitDefinition[] rf = Limits("dB", "role = \"rf-level\"\nhead = 1\nsensor = \"rf-log-detector-25mv\"\n");
        Assert.Equal([(-2.0, 5.0, 0.5), (-6.0, 0.5, 1.0)], rf.Select(l => (l.Value, l.OnDelay.TotalSeconds, l.Deadband)));
        Assert.All(rf, l => Assert.Equal([MachineState.Running, MachineState.Locked], l.JudgedIn));
    }

    [Theory]
    [InlineData("525/60", "mV", new[] { 271.0, 301, 256, 316 })]
    [InlineData("625/50", "mV", new[] { 285.0, 315, 270, 330 })]
    public void Sync_level_follows_the_standard(string standard, string unit, double[] values) =>
        Assert.Equal(values, Limits(unit, $"role = \"sync-level\"\n[machine]\nstandard = \"{standard}\"\n").Select(l => l.Value));

    [Fact]
    public void A_dew_point_in_fahrenheit_is_held_to_the_same_air()
    {
        LimitDefinition[] limits = Limits("degF", "role = \"dew-point\"\ncalibration = { line = { gain = 10 } }\n");
        Assert.Equal([(-4.0, 1.8), (37.4, 1.8)], limits.Select(l => (l.Value, l.Deadband)));
    }

    [Fact]
    public void Every_row_names_its_source() =>
        Assert.All(DefaultLimits.Table, row => Assert.Matches("^(published|derived|common practice, no source|from memory)", row.Source));

    private static LimitDefinition[] Limits(string unit, string lines)
    {
        BenchFileResult result = BenchText.Load(BenchText.Head + BenchText.Volts.Replace("\"V\"", $"\"{unit}\"", StringComparison.Ordinal) + lines);
        Assert.Equal([], result.Mistakes.Select(m => m.ToString()));
        return [.. result.Bench!.Definition.Channels[0].Limits];
    }
}
