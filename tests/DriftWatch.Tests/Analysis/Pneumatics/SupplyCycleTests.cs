using DriftWatch.Analysis;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.Pneumatics;
using DriftWatch.Tests.Analysis.Trend;

namespace DriftWatch.Tests.Analysis.Pneumatics;

/// <summary>A compressor on a receiver, made by a mass balance: what comes in less what goes out, switched between two pressures.</summary>
public sealed class SupplyCycleTests
{
    private const double Litres = 24;

    [Theory]
    [InlineData(0.02, false)]
    [InlineData(0.3, false)]
    [InlineData(0.3, true)]
    public void Cycles_have_the_times_and_rates_of_the_balance(double noise, bool tellsRunning)
    {
        var plant = new Plant { UseSlpm = 33, DeliverySlpm = 70 };
        List<SupplyCycle> cycles = Follow(plant, 1800, noise, tellsRunning, seed: 111);
        double fall = PsiPerSecond(33);
        double rise = PsiPerSecond(70 - 33);
        double period = (22 / fall) + (22 / rise);
        Assert.InRange(cycles.Count, 12, 14);
        foreach (SupplyCycle cycle in cycles)
        {
            Assert.Equal(period, cycle.PeriodSeconds, 0.06 * period);
            Assert.Equal(fall / (rise + fall), cycle.Duty, 0.03);
            Assert.Equal(fall, cycle.FallPsiPerSecond, 0.03 * fall);
            Assert.Equal(rise, cycle.RisePsiPerSecond, 0.03 * rise);
            Assert.Equal(78, cycle.CutInPsi, 0.1 + (3 * noise));
            Assert.Equal(100, cycle.CutOutPsi, 0.1 + (3 * noise));
        }
    }

    [Theory]
    [InlineData(0)]
    [InlineData(15)]
    [InlineData(30)]
    public void A_leak_before_the_regulator_bends_the_fall_and_what_is_drawn_behind_it_does_not(double leakSlpmAt90)
    {
        // A hole gives in proportion to the absolute pressure before it (choked flow); the rest is drawn through the regulator and stays as it is.
        const double Atmosphere = 14.7;
        var plant = new Plant { DeliverySlpm = 110 };
        var tracker = new SupplyCycleTracker();
        var history = new SupplyHistory();
        var random = new SeededNoise(119);
        double[] noise = random.Next(18000, 0.5, Wild.None);
        double psi = 90;
        for (int i = 0; i < noise.Length; i++)
        {
            plant.UseSlpm = 33 + (leakSlpmAt90 * (psi + Atmosphere) / (90 + Atmosphere));
            psi = plant.Step(0.1);
            if (tracker.Add(0.1 * i, psi + (0.05 * noise[i]), null, out SupplyCycle cycle))
            {
                history.Add(cycle);
            }
        }

        double drawn = 33 + (leakSlpmAt90 * (89 + Atmosphere) / (90 + Atmosphere));
        double expected = leakSlpmAt90 * 11 / (90 + Atmosphere) / drawn; // the middles of the halves, 94.5 and 83.5 psi, are 11 apart
        Assert.Equal(expected, history.FallBend().Value, 0.006);
    }

    [Fact]
    public void A_bend_is_not_told_of_few_readings()
    {
        var history = new SupplyHistory();
        for (int i = 0; i < 4; i++)
        {
            Assert.False(history.FallBend().IsKnown);
            history.Add(new SupplyCycle(60 * i, 60, 0.4, 78, 100, 0.5, 0.4));
        }

        history = new SupplyHistory();
        foreach (SupplyCycle cycle in Follow(new Plant { UseSlpm = 33, DeliverySlpm = 70 }, 1800, 0.02, false, seed: 120))
        {
            history.Add(cycle);
        }

        Assert.True(history.FallBend().IsKnown);
    }

    [Fact]
    public void Wild_readings_and_noise_make_no_cycle()
    {
        var tracker = new SupplyCycleTracker();
        var random = new SeededNoise(112);
        double[] noise = random.Next(20000, 0.5, Wild.None);
        for (int i = 0; i < noise.Length; i++)
        {
            // Every hundredth reading is two or four psi off, and now and then so is the next.
            double wild = i % 100 == 7 || i % 1700 == 8 ? 2 + (2 * (i % 3)) : 0;
            Assert.False(tracker.Add(0.1 * i, 90 + (0.1 * noise[i]) + (i % 200 < 100 ? wild : -wild), null, out _), $"a cycle at {i}, seed 112");
        }
    }

    [Fact]
    public void A_gap_ends_the_cycle_in_hand_uncounted()
    {
        var plant = new Plant { UseSlpm = 33, DeliverySlpm = 70 };
        var tracker = new SupplyCycleTracker();
        var told = new List<SupplyCycle>();
        for (int i = 0; i < 18000; i++)
        {
            double psi = plant.Step(0.1);
            if (i is > 9000 and < 9200)
            {
                continue; // twenty seconds without readings
            }

            if (tracker.Add(0.1 * i, psi, null, out SupplyCycle cycle))
            {
                told.Add(cycle);
            }
        }

        Assert.Equal(told[0].PeriodSeconds, told[^1].PeriodSeconds, 2.0);
        Assert.All(told, c => Assert.Equal(told[0].PeriodSeconds, c.PeriodSeconds, 2.0));
        Assert.DoesNotContain(told, c => c.StartSeconds < 900 && c.StartSeconds + c.PeriodSeconds > 920);
    }

    [Fact]
    public void Leak_and_worn_compressor_are_told_apart_though_both_raise_the_duty()
    {
        SupplyComparison leak = Compare(p => p.UseSlpm = 42);
        Assert.Equal(SupplyVerdict.LeakOrMoreUse, leak.Verdict);
        Assert.True(leak.Duty.Ratio > 1.2);
        Assert.Equal(42.0 / 33, leak.FallPsiPerSecond.Ratio, 0.03);
        Assert.Equal(1, leak.DeliveryPsiPerSecond.Ratio, 0.03);

        SupplyComparison worn = Compare(p => p.DeliverySlpm = 55);
        Assert.Equal(SupplyVerdict.WornCompressor, worn.Verdict);
        Assert.True(worn.Duty.Ratio > 1.2);
        Assert.Equal(1, worn.FallPsiPerSecond.Ratio, 0.03);
        Assert.Equal((55.0 - 33) / (70 - 33), worn.RisePsiPerSecond.Ratio, 0.03);

        Assert.Equal(SupplyVerdict.LeakAndWornCompressor, Compare(p => (p.UseSlpm, p.DeliverySlpm) = (42, 60)).Verdict);
        Assert.Equal(SupplyVerdict.LessUse, Compare(p => p.UseSlpm = 20).Verdict);
        Assert.Equal(SupplyVerdict.SwitchPointsMoved, Compare(p => p.CutOut = 94).Verdict);
        Assert.Equal(SupplyVerdict.Steady, Compare(_ => { }).Verdict);
        Assert.Equal(SupplyVerdict.Steady, Compare(p => p.UseSlpm = 34.5).Verdict); // 5 % is less than cycles are asked for
    }

    [Fact]
    public void Use_and_delivery_come_out_in_litres_with_their_uncertainty()
    {
        var history = new SupplyHistory();
        Assert.False(history.UseSlpm(new Uncertain(Litres, 0.5)).IsKnown);
        Assert.False(history.Compare().IsKnown);
        Assert.Null(history.Newest);
        foreach (SupplyCycle cycle in Follow(new Plant { UseSlpm = 33, DeliverySlpm = 70 }, 1800, 0.1, false, 113))
        {
            history.Add(cycle);
        }

        Uncertain use = history.UseSlpm(new Uncertain(Litres, 0.5)).Value;
        Uncertain delivery = history.DeliverySlpm(new Uncertain(Litres, 0.5)).Value;
        Assert.Equal(33, use.Value, 0.7);
        Assert.Equal(70, delivery.Value, 1.4);
        Assert.InRange(use.StandardUncertainty / use.Value, 0.5 / Litres, 0.04);
        Assert.InRange(33, use.Value - use.Expanded(), use.Value + use.Expanded());
    }

    [Fact]
    public void A_reference_is_taken_anew_on_request_and_then_asks_for_new_cycles()
    {
        var history = new SupplyHistory();
        Assert.False(history.TakeReference());
        var plant = new Plant { UseSlpm = 33, DeliverySlpm = 70 };
        var tracker = new SupplyCycleTracker();
        double time = 0;
        Run(tracker, history, plant, ref time, 2000);
        plant.UseSlpm = 42;
        Run(tracker, history, plant, ref time, 2500);
        Assert.Equal(SupplyVerdict.LeakOrMoreUse, history.Compare().Value.Verdict);
        Assert.True(history.TakeReference());
        Assert.Equal("compressor cycles", history.Compare().Missing!.What);
        Run(tracker, history, plant, ref time, 1000);
        Assert.Equal(SupplyVerdict.Steady, history.Compare().Value.Verdict);
        history.ForgetReference();
        Assert.False(history.HasReference);
    }

    [Fact]
    public void The_ramp_in_hand_is_told_before_any_cycle_is_complete()
    {
        var tracker = new SupplyCycleTracker();
        Assert.Null(tracker.Ramp);
        for (int i = 0; i < 600; i++)
        {
            tracker.Add(0.1 * i, 95 - (0.02 * i), null, out _);
        }

        Assert.Equal(-1, tracker.Direction);
        Assert.Equal(-0.2, tracker.Ramp!.Value.PsiPerSecond, 6);
    }

    [Fact]
    public void State_written_and_read_at_any_reading_goes_on_as_if_nothing_had_been()
    {
        var plant = new Plant { UseSlpm = 33, DeliverySlpm = 70 };
        var random = new SeededNoise(114);
        double[] psi = [.. Enumerable.Range(0, 9000).Select(_ => plant.Step(0.2) + (0.2 * random.Gauss()))];
        var straight = new SupplyCycleTracker();
        var broken = new SupplyCycleTracker();
        var straightHistory = new SupplyHistory();
        var brokenHistory = new SupplyHistory();
        for (int i = 0; i < psi.Length; i++)
        {
            if (i % 97 == 0)
            {
                var fields = new Fields();
                broken.Sync(fields);
                brokenHistory.Sync(fields);
                fields.Read();
                (broken, brokenHistory) = (new SupplyCycleTracker(), new SupplyHistory());
                broken.Sync(fields);
                brokenHistory.Sync(fields);
            }

            bool one = straight.Add(0.2 * i, psi[i], null, out SupplyCycle first);
            bool two = broken.Add(0.2 * i, psi[i], null, out SupplyCycle second);
            Assert.Equal((one, first), (two, second));
            if (one)
            {
                straightHistory.Add(first);
                brokenHistory.Add(second);
            }
        }

        Assert.True(straightHistory.Count > 8);
        Assert.Equal(straightHistory.Compare(), brokenHistory.Compare());
        var bad = new Fields();
        new SupplyHistory().Sync(bad);
        bad.Numbers[1] = 99;
        bad.Read();
        Assert.Throws<FormatException>(() => new SupplyHistory().Sync(bad));
    }

    [Fact]
    public void Nothing_is_allocated_once_it_runs()
    {
        var plant = new Plant { UseSlpm = 60, DeliverySlpm = 130 };
        var tracker = new SupplyCycleTracker();
        var history = new SupplyHistory();
        double time = 0;
        Run(tracker, history, plant, ref time, 900);
        long before = GC.GetAllocatedBytesForCurrentThread();
        Run(tracker, history, plant, ref time, 2000);
        _ = history.Compare();
        Assert.Equal(0, GC.GetAllocatedBytesForCurrentThread() - before);
        Assert.True(history.Compare().IsKnown);
    }

    [Fact]
    public void Readings_that_are_none_are_the_callers_mistake()
    {
        var tracker = new SupplyCycleTracker();
        tracker.Add(1, 90, null, out _);
        Assert.Throws<ArgumentException>(() => tracker.Add(1, 90, null, out _));
        Assert.Throws<ArgumentException>(() => tracker.Add(2, double.NaN, null, out _));
        Assert.Throws<ArgumentException>(() => tracker.Add(double.PositiveInfinity, 90, null, out _));
    }

    private static SupplyComparison Compare(Action<Plant> change)
    {
        var history = new SupplyHistory();
        var tracker = new SupplyCycleTracker();
        var plant = new Plant { UseSlpm = 33, DeliverySlpm = 70 };
        double time = 0;
        Run(tracker, history, plant, ref time, 2000, 0.15);
        change(plant);
        Run(tracker, history, plant, ref time, 2000, 0.15);
        return history.Compare().Value;
    }

    private static void Run(SupplyCycleTracker tracker, SupplyHistory history, Plant plant, ref double time, double seconds, double noise = 0)
    {
        var random = noise > 0 ? new SeededNoise(115) : null;
        for (double end = time + seconds; time < end; time += 0.1)
        {
            double psi = plant.Step(0.1) + (random is null ? 0 : noise * random.Gauss());
            if (tracker.Add(time, psi, null, out SupplyCycle cycle))
            {
                history.Add(cycle);
            }
        }
    }

    private static List<SupplyCycle> Follow(Plant plant, double seconds, double noise, bool tellsRunning, int seed)
    {
        var tracker = new SupplyCycleTracker();
        var random = new SeededNoise(seed);
        var cycles = new List<SupplyCycle>();
        for (int i = 0; i < 10 * seconds; i++)
        {
            double psi = plant.Step(0.1) + (noise * random.Gauss());
            if (tracker.Add(0.1 * i, psi, tellsRunning ? plant.Runs : null, out SupplyCycle cycle))
            {
                cycles.Add(cycle);
            }
        }

        return cycles;
    }

    private static double PsiPerSecond(double slpm) => slpm * 14.69595 / Litres / 60;

    private sealed class Plant
    {
        private double _psi = 90;

        public double UseSlpm { get; set; }

        public double DeliverySlpm { get; set; }

        public double CutIn { get; set; } = 78;

        public double CutOut { get; set; } = 100;

        public bool Runs { get; private set; }

        public double Step(double seconds)
        {
            Runs = _psi <= CutIn || (Runs && _psi < CutOut);
            _psi += seconds * PsiPerSecond((Runs ? DeliverySlpm : 0) - UseSlpm);
            return _psi;
        }
    }

    /// <summary>A list of numbers, written and then read from its beginning.</summary>
    private sealed class Fields : IStateFields
    {
        private bool _reads;
        private int _next;

        public List<double> Numbers { get; } = [];

        public void Read() => (_reads, _next) = (true, 0);

        public void Sync(ref double value)
        {
            if (_reads)
            {
                value = Numbers[_next++];
            }
            else
            {
                Numbers.Add(value);
            }
        }

        public void Sync(ref long value)
        {
            double number = value;
            Sync(ref number);
            value = (long)number;
        }

        public void Sync(ref int value)
        {
            double number = value;
            Sync(ref number);
            value = (int)number;
        }

        public void Sync(ref bool value)
        {
            double number = value ? 1 : 0;
            Sync(ref number);
            value = number != 0;
        }
    }
}
