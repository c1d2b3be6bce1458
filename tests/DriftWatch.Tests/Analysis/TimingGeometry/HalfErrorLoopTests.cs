using DriftWatch.Analysis.TimingGeometry;
using Xunit.Abstractions;

namespace DriftWatch.Tests.Analysis.TimingGeometry;

/// <summary>The half-error rule against its model: v = 2x + noise, x′ = x + k·move.</summary>
public class HalfErrorLoopTests(ITestOutputHelper output)
{
    private const double Se = 0.01;

    [Fact]
    public void A_true_knob_needs_one_step()
    {
        HalfErrorLoop loop = Run(1, 1, 0.5, out double x);
        Assert.Equal(HalfErrorState.Settled, loop.Advice.State);
        Assert.Single(loop.MovesMil);
        Assert.Equal(0, x, 1e-12);
        Assert.Equal(0, loop.Convergence!.Value, 1e-12);
    }

    [Theory]
    [InlineData(0.7)]
    [InlineData(1.3)]
    public void A_knob_three_tenths_off_is_learned_in_the_first_step_and_settles_in_the_second(double k)
    {
        HalfErrorLoop loop = Run(k, 1, 0.5, out double x);
        Assert.Equal(HalfErrorState.Settled, loop.Advice.State);
        Assert.Equal(2, loop.MovesMil.Count);
        Assert.Equal(k, loop.Advice.KnobScale!.Value, 1e-9);
        Assert.Equal(0, x, 1e-9);
    }

    /// <summary>The plain rule, nothing learned: factors of ±0.30 and 95 % gone in three steps, five at a quarter, none at one.</summary>
    [Fact]
    public void The_models_convergence_is_the_derived_one()
    {
        Assert.Equal(1, StepsOfTheRule(1, 0.5));
        Assert.Equal(3, StepsOfTheRule(0.7, 0.5));
        Assert.Equal(3, StepsOfTheRule(1.3, 0.5));
        Assert.Equal(5, StepsOfTheRule(1, 0.25));
        Assert.Equal(int.MaxValue, StepsOfTheRule(1, 1));
    }

    [Fact]
    public void A_replay_on_the_unmoved_machine_is_refused_and_so_is_recording_on_an_archive_tape()
    {
        var replay = new HalfErrorLoop(SetUpProcedure.ReplayUnmoved, Se);
        Assert.Equal(HalfErrorState.Refused, replay.Advice.State);
        Assert.Contains("shows nothing", replay.Advice.Text, StringComparison.Ordinal);
        Assert.Throws<InvalidOperationException>(() => replay.Tell(1));
        Assert.Contains("Never record", new HalfErrorLoop(SetUpProcedure.ArchivePlayback, Se).Advice.Text, StringComparison.Ordinal);
    }

    [Fact]
    public void The_wrong_sense_is_told_after_the_second_growth_and_hinted_at_after_the_first()
    {
        var loop = new HalfErrorLoop(SetUpProcedure.NewRecordingOppositeSense, Se);
        double x = 0.5;
        HalfErrorAdvice advice = loop.Tell(2 * x);
        x -= advice.MoveMil;
        advice = loop.Tell(2 * x);
        Assert.Equal(HalfErrorState.Move, advice.State);
        Assert.Contains("grew once", advice.Text, StringComparison.Ordinal);
        x -= advice.MoveMil;
        advice = loop.Tell(2 * x);
        Assert.Equal(HalfErrorState.WrongSense, advice.State);
        Assert.InRange(advice.KnobScale!.Value, -1.01, -0.99);
        Assert.Equal(0, advice.MoveMil);
        Assert.Throws<InvalidOperationException>(() => loop.Tell(2 * x));
    }

    [Fact]
    public void Growth_that_does_not_follow_the_moves_is_backlash()
    {
        var loop = new HalfErrorLoop(SetUpProcedure.NewRecordingOppositeSense, 0.1);
        loop.Tell(1.0);
        loop.Tell(1.2, movedMil: 0.01);
        HalfErrorAdvice advice = loop.Tell(1.4, movedMil: -0.01);
        Assert.Equal(HalfErrorState.Backlash, advice.State);
    }

    [Fact]
    public void Four_re_recordings_are_enough()
    {
        var loop = new HalfErrorLoop(SetUpProcedure.NewRecordingOppositeSense, Se);
        double[] stubborn = [1, 0.99, 0.985, 0.98, 0.975];
        foreach (double v in stubborn)
        {
            loop.Tell(v);
        }

        Assert.Equal(HalfErrorState.GaveUp, loop.Advice.State);
        Assert.Equal(4, loop.MovesMil.Count);
    }

    [Fact]
    public void A_move_back_is_approached_from_the_first_side()
    {
        var loop = new HalfErrorLoop(SetUpProcedure.NewRecordingOppositeSense, Se);
        HalfErrorAdvice first = loop.Tell(1);
        Assert.False(first.GoPast);
        Assert.Equal(-0.5, first.MoveMil, 9);
        HalfErrorAdvice second = loop.Tell(-0.3);
        Assert.True(second.MoveMil > 0);
        Assert.True(second.GoPast);
        Assert.Contains("come back", second.Text, StringComparison.Ordinal);
    }

    [Fact]
    public void The_loop_stops_where_noise_or_a_tenth_of_a_mil_is_reached()
    {
        Assert.Equal(HalfErrorState.Settled, new HalfErrorLoop(SetUpProcedure.NewRecordingOppositeSense, Se).Tell(0.09).State);
        Assert.Equal(HalfErrorState.Move, new HalfErrorLoop(SetUpProcedure.NewRecordingOppositeSense, Se).Tell(0.11).State);
        Assert.Equal(HalfErrorState.Settled, new HalfErrorLoop(SetUpProcedure.NewRecordingOppositeSense, 0.1).Tell(0.19).State);
    }

    /// <summary>σ_x = 0.5·σ_v at half, 0.29·σ_v at a quarter, and that is what the plain rule leaves in a simulation.</summary>
    [Theory]
    [InlineData(0.5, 0.5)]
    [InlineData(0.25, 0.29)]
    public void The_noise_floor_is_what_the_rule_leaves_of_noise(double gain, double floor)
    {
        double said = new HalfErrorLoop(SetUpProcedure.NewRecordingOppositeSense, 1, gain).Advice.NoiseFloorMil;
        Assert.Equal(floor, said, 2);
        const int seed = 5;
        output.WriteLine($"seed {seed}");
        var random = new Random(seed);
        double x = 0, squares = 0;
        const int rounds = 40_000;
        for (int i = 0; i < rounds; i++)
        {
            x -= gain * ((2 * x) + TimingCases.Gauss(random));
            squares += x * x;
        }

        Assert.Equal(said, Math.Sqrt(squares / rounds), 0.02);
    }

    [Fact]
    public void Steps_left_are_what_the_loop_then_takes()
    {
        var loop = new HalfErrorLoop(SetUpProcedure.NewRecordingOppositeSense, Se);
        Assert.Equal(2, loop.Tell(0.9).StepsLeft); // 0.3² of 0.9 is below 0.1
        Assert.Equal(1, loop.Tell(0.27).StepsLeft);
    }

    [Theory]
    [InlineData(double.NaN)]
    [InlineData(double.PositiveInfinity)]
    public void A_reading_that_is_no_number_is_a_mistake_of_the_caller(double v) =>
        Assert.Throws<ArgumentException>(() => new HalfErrorLoop(SetUpProcedure.NewRecordingOppositeSense, Se).Tell(v));

    [Fact]
    public void Gains_beyond_half_and_errors_of_nothing_are_refused()
    {
        Assert.Throws<ArgumentOutOfRangeException>(() => new HalfErrorLoop(SetUpProcedure.NewRecordingOppositeSense, Se, 1));
        Assert.Throws<ArgumentOutOfRangeException>(() => new HalfErrorLoop(SetUpProcedure.NewRecordingOppositeSense, 0));
    }

    private static HalfErrorLoop Run(double k, double start, double gain, out double x)
    {
        var loop = new HalfErrorLoop(SetUpProcedure.NewRecordingOppositeSense, Se, gain);
        x = start / 2;
        HalfErrorAdvice advice = loop.Tell(2 * x);
        while (advice.State == HalfErrorState.Move)
        {
            x += k * advice.MoveMil;
            advice = loop.Tell(2 * x);
        }

        return loop;
    }

    private static int StepsOfTheRule(double k, double gain)
    {
        double x = 1;
        for (int step = 1; step < 50; step++)
        {
            x -= 2 * gain * k * x;
            if (Math.Abs(x) < 0.05)
            {
                return step;
            }
        }

        return int.MaxValue;
    }
}
