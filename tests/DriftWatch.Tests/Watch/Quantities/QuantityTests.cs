using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Tests.Watch.Support;
using Xunit;

namespace DriftWatch.Tests.Watch.Quantities;

public class QuantityTests
{
    private static BenchDefinition Bench()
    {
        BenchDefinition bench = TestBench.Full();
        return bench with { Quantities = DefaultQuantities.For(bench.Channels) };
    }

    private static List<FindingLine> Of(string quantity, Night night) => night.Judge().FindAll(l => l.Channel == quantity);

    [Fact]
    public void A_bench_has_the_quantities_that_its_channels_tell()
    {
        Assert.Equal(
            ["normalised-vacuum", "rf-common", "rf-difference-1", "rf-difference-2", "rf-difference-3", "rf-difference-4", "rf-spread"],
            DefaultQuantities.For([.. TestBench.AllChannels()]).Select(q => q.Id).Intersect(
                ["normalised-vacuum", "rf-common", "rf-difference-1", "rf-difference-2", "rf-difference-3", "rf-difference-4", "rf-spread"]));
        Assert.Equal(["regulated-unrest"], DefaultQuantities.For([TestBench.AirChannel()]).Select(q => q.Id));
        Assert.Equal(["rf-common", "rf-spread"], DefaultQuantities.For([TestBench.RfChannel(1), TestBench.RfChannel(3)]).Select(q => q.Id));
    }

    [Fact]
    public void One_head_that_falls_widens_the_spread_and_leaves_the_common_level()
    {
        Night night = new Night(Bench())
            .Shows(MachineState.Locked, 0, 60)
            .Shows(MachineState.Locked, 60, 70, TestBench.Head1)
            .Series(TestBench.Head1, 60, 70, -20);
        FindingLine raised = Of("rf-spread", night)[0];
        Assert.Equal((60.0, 60.5, Severity.Alarm, FindingKinds.AboveLimit), (raised.Start.Seconds, raised.RaisedAt.Seconds, raised.Severity, raised.Kind));
        Assert.Equal(10, raised.Value!.Value, 1e-9);
        Assert.Empty(Of("rf-common", night));
    }

    [Fact]
    public void Heads_that_fall_together_are_one_fall_of_the_common_level()
    {
        int[] heads = [TestBench.Head1, TestBench.Head1 + 1, TestBench.Head1 + 2, TestBench.Head1 + 3];
        Night night = new Night(Bench()).Shows(MachineState.Locked, 0, 60).Shows(MachineState.Locked, 60, 80, heads);
        foreach (int head in heads)
        {
            night.Series(head, 60, 80, -13);
        }

        FindingLine raised = Of("rf-common", night)[0];
        Assert.Equal((60.0, 65.0, Severity.Advisory), (raised.Start.Seconds, raised.RaisedAt.Seconds, raised.Severity));
        Assert.Equal(-13, raised.Value!.Value, 1e-9);
        Assert.Empty(Of("rf-spread", night));
    }

    [Fact]
    public void Vacuum_that_rises_with_its_air_is_level_once_the_air_is_taken_out()
    {
        // By the choked venturi 5 psi more than 50 psig give 9.4 % more; 12 inH2O of 10 are then 9.7 % too many, 12.5 are 14 %.
        Night Rising(double vacuum) => new Night(Bench())
            .Shows(MachineState.Locked, 0, 60)
            .Shows(MachineState.Locked, 60, 80, TestBench.Vacuum, TestBench.Air)
            .Series(TestBench.Air, 60, 80, 55).Series(TestBench.Vacuum, 60, 80, vacuum);
        Assert.Empty(Of("normalised-vacuum", Rising(12)));
        FindingLine raised = Assert.Single(Of("normalised-vacuum", Rising(12.5)), l => l.Phase == FindingPhase.Raised);
        Assert.Equal((65.0, FindingKinds.AboveLimit), (raised.RaisedAt.Seconds, raised.Kind));
        Assert.Equal(12.5 / 1.094, raised.Value!.Value, 0.01);
    }

    /// <summary>By a slope of 3 % a psi learned on this machine, 5 psi more make 15 % more; by choked flow 9.4 %, and the same vacuum would be called out.</summary>
    [Fact]
    public void A_machine_s_own_slope_takes_the_place_of_the_derived_one()
    {
        Night Rising(double? percent) => new Night(Bench() with { Machine = Bench().Machine with { VacuumPercentPerPsi = percent } })
            .Shows(MachineState.Locked, 0, 60)
            .Shows(MachineState.Locked, 60, 80, TestBench.Vacuum, TestBench.Air)
            .Series(TestBench.Air, 60, 80, 55).Series(TestBench.Vacuum, 60, 80, 12.5);
        Assert.Empty(Of("normalised-vacuum", Rising(3)));
        Assert.NotEmpty(Of("normalised-vacuum", Rising(null)));
    }

    [Fact]
    public void A_quantity_whose_channels_fall_silent_keeps_its_finding_and_says_so()
    {
        List<FindingLine> lines = Of("rf-spread", new Night(Bench())
            .Shows(MachineState.Locked, 0, 60)
            .Shows(MachineState.Locked, 60, 70, TestBench.Head1)
            .Series(TestBench.Head1, 60, 70, -20)
            .Shows(MachineState.Locked, 70, 90, TestBench.Head1, TestBench.Head1 + 1, TestBench.Head1 + 2, TestBench.Head1 + 3));
        Assert.Contains(lines, l => l is { Phase: FindingPhase.Updated, Cause: "stale" });
        Assert.DoesNotContain(lines, l => l.Kind == FindingKinds.Stale);
    }

    /// <summary>A square wave of ±0.4 psi a second: each second differs from the last by 0.8, which would be the median of normal noise of 0.839.</summary>
    [Fact]
    public void Restless_air_is_told_and_a_hand_at_the_knob_is_not()
    {
        Night night = new Night(Bench())
            .Shows(MachineState.Locked, 0, 60, TestBench.Air).Shows(MachineState.Locked, 60, 240, TestBench.Air)
            .Series(TestBench.Air, 0, 60, 50).Series(TestBench.Air, 60, 120, 50.5).Series(TestBench.Air, 120, 240, t => (long)Math.Floor(t) % 2 == 0 ? 50.1 : 50.9);
        FindingLine raised = Of("regulated-unrest", night)[0];
        Assert.InRange(raised.Start.Seconds, 121, 150);
        Assert.InRange(Of("regulated-unrest", night)[^1].Value!.Value, 0.83, 0.84);
    }

    [Fact]
    public void Air_that_was_turned_up_a_minute_ago_is_not_restless() =>
        Assert.Empty(Of("regulated-unrest", new Night(Bench())
            .Shows(MachineState.Locked, 0, 120, TestBench.Air)
            .Series(TestBench.Air, 0, 10, 0).Series(TestBench.Air, 10, 120, 50)));

    [Fact]
    public void Every_default_limit_has_a_source_and_every_kind_a_row()
    {
        Assert.Equal(Enum.GetValues<QuantityKind>().Order(), DefaultQuantities.Table.Select(r => r.Kind).Order());
        Assert.All(DefaultQuantities.Table.SelectMany(r => r.Limits), l => Assert.Matches("^(published|derived|common practice, no source|from memory)", l.Source));
    }

    [Fact]
    public void Limits_of_the_bench_file_replace_default_ones_of_their_side_and_severity()
    {
        BenchFileHolds("[[quantity]]\nkind = \"rf-spread\"\n[[quantity.limit]]\nside = \"high\"\nseverity = \"alarm\"\nvalue = 9.0\n", "rf-spread", [("Advisory", 3), ("Alarm", 9)]);
        BenchFileHolds("[[quantity]]\nkind = \"rf-spread\"\nlimits = \"none\"\n", "rf-spread", []);
    }

    private static void BenchFileHolds(string more, string quantity, (string Severity, double Value)[] expected)
    {
        string head(int n) => $"[[channel]]\nid = \"rf-{n}\"\nrole = \"rf-level\"\nhead = {n}\nunit = \"dB\"\ninstrument = \"board\"\ninput = \"a{n - 1}\"\ncalibration = {{ points = [[0.0, -84.0], [2.0, -4.0]] }}\n";
        BenchFileResult result = Configuration.BenchText.Load(Configuration.BenchText.Head + head(1) + head(2) + more);
        Assert.Empty(result.Mistakes);
        Assert.Equal(expected, result.Bench!.Definition.Quantities.Single(q => q.Id == quantity).Limits.Select(l => (l.Severity.ToString(), l.Value)).OrderBy(p => p));
    }
}
