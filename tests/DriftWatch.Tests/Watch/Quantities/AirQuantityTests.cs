using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Tests.Watch.Support;
using DriftWatch.Watch;
using Xunit;

namespace DriftWatch.Tests.Watch.Quantities;

/// <summary>A compressor on 24 litres between 78 and 100 psi, 33 standard litres a minute drawn and 70 delivered, unless a test says otherwise.</summary>
public class AirQuantityTests
{
    private const int DewPoint = 30;
    private const int Room = 31;
    private const double Step = 0.5;

    private static BenchDefinition Bench(params ChannelDefinition[] more)
    {
        BenchDefinition bench = TestBench.Of([TestBench.AirChannel() with { Instrument = "board" }, TestBench.SupplyChannel() with { Instrument = "board", Period = TimeSpan.FromSeconds(Step) }, .. more]);
        return bench with { Quantities = DefaultQuantities.For(bench.Channels) };
    }

    [Fact]
    public void A_sound_compressor_is_told_by_its_cycle_and_nothing_is_said_against_it()
    {
        List<FindingLine> lines = Cycling(2400, _ => (33, 70)).At(1500, Baseline()).Judge();
        FindingLine baseline = Assert.Single(lines, l => l is { Kind: FindingKinds.BaselineTaken, Cause: "confirmed" });
        double Taken(string quantity) => Assert.Single(baseline.Details, d => d.Name == quantity).Number!.Value;
        double fall = 33 * 14.69595 / 24;
        double rise = (70 - 33) * 14.69595 / 24;
        Assert.Equal(fall, Taken("supply-fall-rate"), 0.05 * fall);
        Assert.Equal(rise, Taken("supply-rise-rate"), 0.05 * rise);
        Assert.Equal(60 * 22 * ((1 / fall) + (1 / rise)), Taken("compressor-period"), 6.0);
        Assert.Equal(100 * fall / (fall + rise), Taken("compressor-duty"), 3.0);
        Assert.Equal(3600, Taken("time-to-setpoint"));
        Assert.InRange(Taken("supply-headroom"), 28, 50);
        Assert.Equal(0.8, Taken("regulator-effect"), 0.1);
        Assert.DoesNotContain(lines, l => l.Severity > Severity.Note);
    }

    [Fact]
    public void Use_of_air_is_in_litres_where_the_receiver_is_known_and_is_not_told_where_it_is_not()
    {
        BenchDefinition bench = Bench();
        Assert.DoesNotContain(bench.Quantities, q => q.Kind == QuantityKind.AirUse);
        MachineDefinition machine = bench.Machine with { ReceiverLitres = 24 };
        bench = bench with { Machine = machine, Quantities = DefaultQuantities.For(bench.Channels, machine) };

        // 33 standard litres a minute, and 46 from 1500 s on: more than 1.3 times.
        Night night = Cycling(2600, t => t < 1500 ? (33, 70) : (46, 70), bench: bench).At(1490, Baseline());
        var engine = new WatchEngine();
        var lines = new List<FindingLine>();
        foreach (EngineInput input in night.Inputs())
        {
            engine.Apply(input, lines);
        }

        FindingLine taken = lines.Last(l => l is { Kind: FindingKinds.BaselineTaken, Cause: "confirmed" });
        Assert.Equal(33, taken.Details.Single(d => d.Name == "air-use").Number!.Value, 1.5);
        FindingLine said = lines.First(l => l.Channel == "air-use");
        Assert.Equal((FindingKinds.AboveLimit, Severity.Advisory, "l/min"), (said.Kind, said.Severity, said.Unit));
        Assert.InRange(said.RaisedAt.Seconds, 1500, 2000);
        Assert.Equal(46, said.Value!.Value, 3.0);
        Assert.Contains(engine.Drifts, d => d.Id == "air-use" && d.Unit == "l/min");
    }

    [Theory]
    [InlineData(46, 70, "leak-or-more-use")]
    [InlineData(33, 52, "worn-compressor")]
    [InlineData(42, 58, "leak-and-worn-compressor")]
    public void A_cycle_that_changes_is_said_with_its_cause_and_the_duty_with_its_limit(double use, double delivery, string cause)
    {
        List<FindingLine> lines = Cycling(2600, t => t < 1500 ? (33, 70) : (use, delivery)).At(1490, Baseline()).Judge();
        FindingLine said = lines.First(l => l.Kind == FindingKinds.SupplyChanged);
        Assert.Equal((FindingPhase.Raised, "compressor-duty", Severity.Advisory, cause), (said.Phase, said.Channel, said.Severity, said.Cause));
        Assert.InRange(said.RaisedAt.Seconds, 1700, 2400);
        Assert.Contains(lines, l => l.Channel == "compressor-duty" && l.Kind == FindingKinds.AboveLimit);
    }

    [Fact]
    public void It_is_over_when_the_cycle_is_as_before()
    {
        List<FindingLine> lines = Cycling(4200, t => t is < 1500 or > 2600 ? (33, 70) : (46, 70)).At(1490, Baseline()).Judge().FindAll(l => l.Kind == FindingKinds.SupplyChanged);
        Assert.Equal(FindingPhase.Raised, lines[0].Phase);
        Assert.Equal(FindingPhase.Ended, lines[^1].Phase);
        Assert.InRange(lines[^1].End!.Value.Seconds, 2700, 3400);
    }

    [Fact]
    public void A_compressor_that_does_not_come_back_is_said_before_the_setpoint_is_lost()
    {
        List<FindingLine> lines = Cycling(1400, t => t < 1200 ? (33, 70) : (33, 0)).Judge().FindAll(l => l.Channel == "time-to-setpoint");
        FindingLine alarm = Assert.Single(lines, l => l is { Phase: FindingPhase.Raised });
        Assert.Equal((FindingKinds.BelowLimit, Severity.Alarm), (alarm.Kind, alarm.Severity));

        // It falls 20 psi a minute: from where the compressor should have come on it has less than a minute to 60 psi, ten over the setpoint.
        double fall = 33 * 14.69595 / 24 / 60;
        double lost = Enumerable.Range(0, 2800).Select(i => i * Step).First(t => t > 1200 && Pressures(1400, s => s < 1200 ? (33, 70) : (33, 0))[(int)(t / Step)] <= 60);
        Assert.InRange(lost - alarm.RaisedAt.Seconds, 0.6 * (75.8 - 60) / fall, (78 - 60) / fall);
        Assert.InRange(alarm.Value!.Value, 20, 60);
    }

    [Fact]
    public void Without_a_cycle_to_know_it_by_a_fall_counts_once_headroom_is_low()
    {
        Night night = new Night(Bench()).Series(TestBench.Air, 0, 900, 50).Series(TestBench.Supply, 0, 900, t => Math.Max(60.5, 95 - (0.05 * t)), Step);
        FindingLine raised = night.Judge().First(l => l.Channel == "time-to-setpoint");
        Assert.InRange(raised.RaisedAt.Seconds, 600, 620); // 65 psi are passed at 600 s
        Assert.Equal(Severity.Advisory, raised.Severity);
    }

    [Fact]
    public void A_compressor_that_works_ever_longer_has_the_duty_of_the_cycle_in_hand()
    {
        List<FindingLine> lines = Cycling(2200, t => t < 1500 ? (33, 70) : (33, 34)).At(1490, Baseline()).Judge().FindAll(l => l.Channel == "compressor-duty");
        FindingLine said = lines.First(l => l is { Phase: FindingPhase.Raised });
        Assert.InRange(said.RaisedAt.Seconds, 1580, 1800);
        Assert.Contains(lines, l => l.Severity == Severity.Alarm);
    }

    [Fact]
    public void A_regulator_that_lets_its_supply_through_is_said()
    {
        Night sound = Cycling(1500, _ => (33, 70), effect: 0.01);
        Assert.DoesNotContain(sound.Judge(), l => l.Channel == "regulator-effect");
        FindingLine said = Cycling(1500, _ => (33, 70), effect: 0.03).Judge().First(l => l.Channel == "regulator-effect");
        Assert.Equal((FindingKinds.AboveLimit, Severity.Advisory), (said.Kind, said.Severity));
        Assert.Equal(3, said.Value!.Value, 0.2);
    }

    [Fact]
    public void Frost_margin_is_that_of_the_derivation()
    {
        ChannelDefinition dew = TestBench.Series(DewPoint, "dew-point", ChannelRole.DewPoint, "degC");
        ChannelDefinition room = TestBench.Series(Room, "room", ChannelRole.AmbientTemperature, "degC");
        double Margin(BenchDefinition bench, double dewPoint, double? temperature)
        {
            Night night = new Night(bench).Series(TestBench.Air, 0, 60, 50).Series(TestBench.Supply, 0, 60, 100, Step).Series(DewPoint, 0, 60, dewPoint, 1);
            night = temperature is { } t ? night.Series(Room, 0, 60, t, 1) : night;
            FindingLine taken = Assert.Single(night.At(50, Baseline()).Judge(), l => l.Kind == FindingKinds.BaselineTaken);
            return taken.Details.Single(d => d.Name == "throat-frost-margin").Number!.Value;
        }

        Assert.Equal(-28.86 + 11.57, Margin(Bench(dew), 3, null), 0.05);
        Assert.Equal(-28.86 + 32.01, Margin(Bench(dew), -20, null), 0.05);
        Assert.Equal(-28.86 + 32.01 + (10 / 1.2), Margin(Bench(dew, room), -20, 30), 0.05);
        Assert.Equal(-28.86 + 11.57, Margin(Bench(TestBench.Series(DewPoint, "dew-point", ChannelRole.DewPoint, "degF")), 37.4, null), 0.05);
    }

    [Fact]
    public void A_bench_with_a_supply_alone_tells_what_that_can_tell()
    {
        Assert.Equal(["compressor-period", "compressor-duty", "supply-fall-rate", "supply-fall-bend", "supply-rise-rate"], DefaultQuantities.For([TestBench.SupplyChannel()]).Select(q => q.Id));
        BenchDefinition bench = TestBench.Of(TestBench.SupplyChannel() with { Period = TimeSpan.FromSeconds(Step) });
        bench = bench with { Quantities = DefaultQuantities.For(bench.Channels) };
        double[] psi = Pressures(2600, t => t < 1500 ? (33, 70) : (46, 70));
        Night night = new Night(bench).Series(TestBench.Supply, 0, 2600, t => psi[(int)Math.Round(t / Step)], Step);
        Assert.Contains(night.Judge(), l => l is { Kind: FindingKinds.SupplyChanged, Cause: "leak-or-more-use" });
    }

    [Fact]
    public void Air_turned_off_in_the_middle_of_a_cycle_is_no_change_of_it()
    {
        // Shut between 1500 and 2100 s: nothing is drawn but a leak, and the compressor hardly comes on.
        double[] psi = Pressures(3600, t => t is > 1500 and < 2100 ? (3, 70) : (33, 70));
        Night night = new Night(Bench())
            .Series(TestBench.Supply, 0, 3600, t => psi[(int)Math.Round(t / Step)], Step)
            .Series(TestBench.Air, 0, 3600, t => t is > 1500 and < 2100 ? 0.2 : 50, Step);
        Assert.DoesNotContain(night.Judge(), l => l.Kind == FindingKinds.SupplyChanged);
    }

    [Fact]
    public void A_regulator_that_creeps_draws_more_through_sound_openings_and_that_is_no_leak()
    {
        // 50 to 58 psi: an eighth more absolute pressure, and so an eighth more air.
        double Set(double t) => t < 1500 ? 50 : 58;
        double[] psi = Pressures(2600, t => (33 * (Set(t) + 14.69595) / 64.69595, 70));
        Night night = new Night(Bench())
            .Series(TestBench.Supply, 0, 2600, t => psi[(int)Math.Round(t / Step)], Step)
            .Series(TestBench.Air, 0, 2600, Set, Step);
        Assert.DoesNotContain(night.Judge(), l => l.Kind == FindingKinds.SupplyChanged);
    }

    [Fact]
    public void Snapshots_in_the_middle_of_cycles_change_nothing()
    {
        List<EngineInput> inputs = Cycling(2400, t => t < 1300 ? (33, 70) : (46, 70)).At(1290, Baseline()).Inputs();
        string whole = Text(Night.Judge(inputs));
        Assert.Contains(FindingKinds.SupplyChanged, whole, StringComparison.Ordinal);
        var engine = new WatchEngine();
        var lines = new List<FindingLine>();
        for (int i = 0; i < inputs.Count; i++)
        {
            engine.Apply(inputs[i], lines);
            if (i % 131 == 0)
            {
                Assert.True(WatchEngine.TryRestore(engine.Snapshot(), out engine, out string whyNot), whyNot);
            }
        }

        Assert.Equal(whole, Text(lines));
    }

    private static string Text(List<FindingLine> lines) => string.Join('\n', lines.Select(l => System.Text.Encoding.UTF8.GetString(FindingJson.ToUtf8(l))));

    private static BaselineCommand Baseline() => new() { Id = Guid.Parse("018f0000-0000-7000-8000-000000000001"), By = "engineer", Identity = "declared" };

    /// <summary>A night of the supply, and of regulated air that follows it a little.</summary>
    private static Night Cycling(double seconds, Func<double, (double Use, double Delivery)> flows, double effect = 0.008, BenchDefinition? bench = null)
    {
        double[] psi = Pressures(seconds, flows);
        double At(double t) => psi[(int)Math.Round(t / Step)];
        return new Night(bench ?? Bench())
            .Series(TestBench.Supply, 0, seconds, At, Step)
            .Series(TestBench.Air, 0, seconds, t => 50 + (effect * (At(t) - 89)), Step);
    }

    private static double[] Pressures(double seconds, Func<double, (double Use, double Delivery)> flows)
    {
        var psi = new double[(int)(seconds / Step) + 1];
        double now = 90;
        bool runs = false;
        for (int i = 0; i < psi.Length; i++)
        {
            psi[i] = now;
            (double use, double delivery) = flows(i * Step);
            runs = now <= 78 || (runs && now < 100);
            now = Math.Max(0, now + (Step * ((runs ? delivery : 0) - use) * 14.69595 / 24 / 60));
        }

        return psi;
    }
}
