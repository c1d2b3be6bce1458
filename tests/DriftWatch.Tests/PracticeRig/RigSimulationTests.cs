using DriftWatch.Acquisition.PracticeRig;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;

namespace DriftWatch.Tests.PracticeRig;

/// <summary>The rig as a whole: repeatable by its seed, sound without faults, and every fault visible where it belongs.</summary>
public class RigSimulationTests
{
    private const string Playing = """
        length 1:00:00
        nuisances off
        at 0 air on
        at 5 wheel on
        at 8 thread
        at 18 run
        """;

    /// <summary>Kind and options of the fault, the input it shows in, and the change it makes there (truth, in the quantity's unit).</summary>
    public static TheoryData<string, RigInput, double, double> VisibleFaults => new()
    {
        { "regulator-creep by 5", RigInput.RegulatedAirVolts, 4.5, 5.5 },
        { "regulator-sag by 4", RigInput.RegulatedAirVolts, -4.5, -3.5 },
        { "filter-clog by 6", RigInput.RegulatedAirVolts, -6.5, -4 },
        { "compressor-failing by 1", RigInput.SupplyAir, -60, -15 },
        { "tape-lift by 0.35", RigInput.GuideVacuum, -5, -1.5 },
        { "tape-lift by 0.35", RigInput.RfHead4, -20, -2 },
        { "tape-run-out", RigInput.GuideVacuum, -13, -7 },
        { "tape-run-out", RigInput.ControlTrack, -60, -45 },
        { "head-clog head 2 by 9", RigInput.RfHead2, -10, -8 },
        { "oxide-shed by 3", RigInput.RfHead3, -4, -2 },
        { "vacuum-leak by 0.3", RigInput.GuideVacuum, -4, -2 },
        { "control-track-loss by 5", RigInput.ControlTrack, -5.5, -4.5 },
        { "guide-penetration-shift by 0.4", RigInput.CorrectorUse, 20, 60 },
        { "guide-height-shift by 1", RigInput.CorrectorUse, 20, 90 },
        { "dryer-exhausted by 12", RigInput.DewPoint, 11, 13 },
        { "rail-sag by 0.3", RigInput.SensorRail, -0.32, -0.28 },
        { "tape-run-out", RigInput.ServoLock, -1, -1 },
        { "regulator-sag by 12", RigInput.WheelSpeed, -240, -200 }, // the machine's own pressure switch stops the wheel
    };

    [Theory]
    [MemberData(nameof(VisibleFaults))]
    public void A_fault_shows_in_the_channel_where_it_belongs(string fault, RigInput input, double least, double greatest)
    {
        RigSimulation sound = Run(11, Playing, 90);
        RigSimulation broken = Run(11, $"{Playing}\nat 40 fault {fault}", 90);
        Assert.InRange(broken.Truth(input) - sound.Truth(input), least, greatest);
    }

    [Theory]
    [InlineData("sensor-open-loop input supply-loop", RigInput.SupplyLoop, 0, 0.1)]
    [InlineData("sensor-over-range input guide-vacuum", RigInput.GuideVacuum, 6.5534, 6.5534)]
    [InlineData("sensor-over-range input rf-head-1", RigInput.RfHead1, 5.11875, 5.11875)]
    [InlineData("sensor-open-loop input regulated-air-volts", RigInput.RegulatedAirVolts, 0, 0.05)]
    public void A_sensor_fault_is_what_the_wire_would_carry(string fault, RigInput input, double least, double greatest) =>
        Assert.InRange(Run(3, $"{Playing}\nat 20 fault {fault}", 30).Sense(input).Raw, least, greatest);

    [Fact]
    public void A_dead_sensor_gives_no_answer_and_a_stuck_one_the_same_code_for_ever()
    {
        RigSimulation dead = Run(3, $"{Playing}\nat 20 fault sensor-dead input guide-vacuum", 30);
        Assert.Equal(FaultCode.NoAnswer, dead.Sense(RigInput.GuideVacuum).Fault);

        RigSimulation stuck = Run(3, $"{Playing}\nat 20 fault sensor-stuck input supply-air", 30);
        var seen = new HashSet<double>();
        for (int i = 0; i < 500; i++)
        {
            stuck.Step();
            seen.Add(stuck.Sense(RigInput.SupplyAir).Raw);
        }

        Assert.Single(seen);
    }

    [Fact]
    public void A_noisy_sensor_scatters_as_much_as_it_was_told()
    {
        double quiet = Scatter(Run(5, Playing, 60));
        double noisy = Scatter(Run(5, $"{Playing}\nat 20 fault sensor-noisy input guide-vacuum by 29", 60));
        Assert.InRange(noisy / quiet, 10, 40);

        static double Scatter(RigSimulation rig)
        {
            var values = new List<double>();
            for (int i = 0; i < 2000; i++)
            {
                rig.Step();
                values.Add(rig.Sense(RigInput.GuideVacuum).Raw);
            }

            double mean = values.Average();
            return Math.Sqrt(values.Average(v => (v - mean) * (v - mean)));
        }
    }

    [Fact]
    public void One_seed_gives_one_run_and_another_seed_another()
    {
        Assert.Equal(Trace(42), Trace(42));
        Assert.NotEqual(Trace(42), Trace(43));
        Assert.NotEqual(RigParameters.From(42), RigParameters.From(43));
    }

    [Fact]
    public void The_random_numbers_are_the_published_ones()
    {
        // xoshiro256++ from SplitMix64(0), computed with the authors' reference code.
        var random = new RigRandom(0);
        Assert.Equal(5987356902031041503UL, random.Next());
        Assert.Equal(7051070477665621255UL, random.Next());
    }

    [Fact]
    public void The_bell_has_mean_nought_and_deviation_one()
    {
        var random = new RigRandom(9);
        var values = Enumerable.Range(0, 200_000).Select(_ => random.Normal()).ToList();
        double mean = values.Average();
        Assert.InRange(mean, -0.01, 0.01);
        Assert.InRange(Math.Sqrt(values.Average(v => (v - mean) * (v - mean))), 0.99, 1.01);
    }

    [Fact]
    public void A_sound_machine_passes_through_its_states_and_stays_normal_for_any_seed()
    {
        foreach (ulong seed in (ulong[])[1, 2, 3, 7, 1170, 99_999_999_999])
        {
            var rig = new RigSimulation(seed, RigScriptText.Parse("sound", "test", Playing.Replace("nuisances off", "nuisances on", StringComparison.Ordinal)));
            Advance(rig, 17); // air is on, tape is on the guide, nothing runs
            Assert.InRange(rig.Truth(RigInput.RegulatedAirVolts), 49, 51);
            Assert.InRange(rig.Truth(RigInput.GuideVacuum), 6, 14);
            Assert.InRange(rig.Truth(RigInput.RfHead1), -65, -58);
            Assert.False(rig.Locked);
            Advance(rig, 40);
            Assert.True(rig.Locked, $"seed {seed} did not lock");
            for (int i = 0; i < 600; i++)
            {
                Advance(rig, rig.Seconds + 1);
                Assert.InRange(rig.Truth(RigInput.RegulatedAirVolts), 49, 51);
                Assert.InRange(rig.Truth(RigInput.SupplyAir), 70, 105);
                Assert.InRange(rig.Truth(RigInput.CorrectorUse), 1, 50);
                Assert.InRange(rig.Truth(RigInput.SyncLevel), 39, 41);
            }
        }
    }

    [Fact]
    public void Without_tape_there_is_no_vacuum_and_no_rf()
    {
        RigSimulation rig = Run(4, "length 60\nat 0 air on\nat 2 wheel on", 30);
        Assert.InRange(rig.Truth(RigInput.RegulatedAirVolts), 49, 51);
        Assert.InRange(rig.Truth(RigInput.GuideVacuum), 0, 1);
        Assert.InRange(rig.Truth(RigInput.RfHead1), -65, -58);
    }

    [Fact]
    public void Frames_scatter_more_when_the_air_is_in_trouble()
    {
        double sound = Scatter(Run(6, Playing, 60));
        double weak = Scatter(Run(6, $"{Playing}\nat 40 fault regulator-sag by 5", 60));
        Assert.True(weak > 1.5 * sound, $"{weak} ns against {sound} ns");

        static double Scatter(RigSimulation rig)
        {
            // Asynchronous rest: what is left of single revolutions after their mean over many.
            const int Frames = 60;
            double[][] frames = [.. Enumerable.Range(0, Frames).Select(_ => rig.Frame(FrameAxis.Even(16))!.Values.ToArray())];
            double sum = 0;
            for (int point = 0; point < 64; point++)
            {
                double mean = frames.Average(f => f[point]);
                sum += frames.Sum(f => (f[point] - mean) * (f[point] - mean));
            }

            return Math.Sqrt(sum / (64 * (Frames - 1)));
        }
    }

    private static RigSimulation Run(ulong seed, string script, double seconds)
    {
        var rig = new RigSimulation(seed, RigScriptText.Parse("test", "test", script));
        Advance(rig, seconds);
        return rig;
    }

    private static void Advance(RigSimulation rig, double toSeconds)
    {
        while (rig.Seconds < toSeconds)
        {
            rig.Step();
        }
    }

    private static string Trace(ulong seed)
    {
        var rig = new RigSimulation(seed, RigScripts.Load("tour"));
        var text = new System.Text.StringBuilder();
        for (int i = 0; i < 6000; i++)
        {
            rig.Step();
            if (i % 50 == 0)
            {
                foreach (RigInput input in Enum.GetValues<RigInput>().Where(n => n != RigInput.TimingError))
                {
                    text.Append(rig.Sense(input)).Append(' ');
                }

                text.AppendJoin(' ', rig.Frame(FrameAxis.Even(16))!.Values.ToArray());
            }
        }

        return text.ToString();
    }
}
