using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Diagnosis;
using Xunit;

namespace DriftWatch.Tests.Watch.Diagnosis;

public class MovementTests
{
    private static Movement After(double seconds, Func<double, double> value, double noise = 0)
    {
        var movement = new Movement();
        for (int tick = 0; tick <= seconds * 10; tick++)
        {
            movement.Follow(EngineTime.FromSeconds(tick / 10.0), value(tick / 10.0), noise, 0.1);
        }

        return movement;
    }

    [Theory]
    [InlineData(2, "Sudden")]
    [InlineData(40, "Quick")]
    [InlineData(600, "Slow")]
    public void A_ramp_to_twice_the_tolerance_is_timed_by_its_length(double length, string pace)
    {
        Movement movement = After(300 + length, t => -2 * Math.Clamp((t - 300) / length, 0, 1));
        Assert.Equal((Direction.Down, pace), (movement.Direction, movement.Pace.ToString()));
        Assert.InRange(movement.Onset.Seconds, 300, 300 + (0.1 * length) + 0.5);
    }

    [Fact]
    public void A_splice_of_a_tenth_of_a_second_moves_nothing() =>
        Assert.Equal(Direction.Still, After(60.3, t => t is > 60 and < 60.14 ? -2 : 0).Direction);

    [Fact]
    public void Noise_that_the_baseline_had_moves_nothing()
    {
        var random = new Random(7);
        Assert.Equal(Direction.Still, After(600, _ => 0.4 * (random.NextDouble() - 0.5), noise: 0.12).Direction);
    }

    [Fact]
    public void What_comes_back_is_still_again()
    {
        Assert.Equal(Direction.Up, After(70, t => t < 60 ? 0 : 1).Direction);
        Assert.Equal(Direction.Still, After(130, t => t is < 60 or > 80 ? 0 : 1).Direction);
    }

    [Fact]
    public void What_is_out_of_sight_stands_for_a_while_and_is_then_forgotten()
    {
        Movement movement = After(70, t => t < 60 ? 0 : -1);
        movement.LoseSight(EngineTime.FromSeconds(72), TimeSpan.FromSeconds(3));
        Assert.Equal((true, Direction.Down), (movement.IsSeen, movement.Direction));
        movement.LoseSight(EngineTime.FromSeconds(74), TimeSpan.FromSeconds(3));
        Assert.False(movement.IsSeen);
    }

    /// <summary>A drift is read by its minute's mean, a step by the half second's as soon as the others are left behind.</summary>
    [Fact]
    public void It_stands_where_the_slowest_mean_that_was_not_left_behind_is()
    {
        var random = new Random(11);
        (double drifting, double quiet) = After(7200, t => (0.3 * t / 7200) + (0.2 * (random.NextDouble() - 0.5)), noise: 0.06).Standing();
        Assert.InRange(drifting, 0.28, 0.31);
        (double stepped, double loud) = After(601, t => t < 600 ? 0 : -2, noise: 0.06).Standing();
        Assert.InRange(stepped, -2, -1.6);
        Assert.True(quiet < loud);
    }
}
