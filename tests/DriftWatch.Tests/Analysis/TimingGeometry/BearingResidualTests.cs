using DriftWatch.Analysis.TimingGeometry;

namespace DriftWatch.Tests.Analysis.TimingGeometry;

/// <summary>What repeats with the wheel and what does not.</summary>
public class BearingResidualTests
{
    /// <summary>20 µin of whirl at 0.48 a revolution raise the rest from 3.0 to 9.5 ns RMS while what repeats stays (derived figure).</summary>
    [Fact]
    public void Whirl_raises_what_does_not_repeat_and_leaves_what_does()
    {
        BearingReading still = Split(Revolutions(120, 3, _ => 0));
        BearingReading whirling = Split(Revolutions(120, 3, at => 0.02 * TimingStandard.Mono525.NsPerMil * Math.Sin((2 * Math.PI * 0.48 * at.Turns) - at.Angle)));
        Assert.Equal(3.0, still.AsynchronousRmsNs, 0.1);
        Assert.Equal(9.5, whirling.AsynchronousRmsNs, 0.15);
        Assert.InRange(whirling.SynchronousRmsNs, 0, 0.4);
        Assert.Equal(HalfSpeedShape.None, still.HalfSpeed.Value.Shape);
        HalfSpeedLine line = whirling.HalfSpeed.Value;
        Assert.Equal(HalfSpeedShape.WheelCentre, line.Shape);
        Assert.Equal(0.48, line.PerRevolution, 0.003);
        Assert.Equal(115.2, line.Hz, 0.6);
        Assert.Equal(12.8, line.AmplitudeNs, 0.5);
        Assert.Null(line.MainsHz);
    }

    [Fact]
    public void Hum_at_twice_the_mains_runs_on_through_the_switches_and_is_named_as_that()
    {
        BearingReading humming = Split(Revolutions(120, 3, at => 8 * Math.Sin(2 * Math.PI * 0.5 * at.Turns)));
        HalfSpeedLine line = humming.HalfSpeed.Value;
        Assert.Equal(HalfSpeedShape.TimeBase, line.Shape);
        Assert.Equal(60, line.MainsHz);
        Assert.Contains("twice the mains of 60 Hz is 120 Hz", line.ToString(), StringComparison.Ordinal);
    }

    [Fact]
    public void Whirl_at_half_speed_is_told_from_hum_by_its_shape_though_not_by_its_frequency()
    {
        HalfSpeedLine line = Split(Revolutions(120, 3, at => 8 * Math.Sin((2 * Math.PI * 0.499 * at.Turns) - at.Angle))).HalfSpeed.Value;
        Assert.Equal(HalfSpeedShape.WheelCentre, line.Shape);
        Assert.Equal(60, line.MainsHz);
    }

    [Fact]
    public void Noise_alone_hardly_ever_has_a_line()
    {
        int claimed = 0;
        for (int seed = 0; seed < 60; seed++)
        {
            claimed += Split(Revolutions(60, 3, _ => 0, seed)).HalfSpeed.Value.Shape == HalfSpeedShape.None ? 0 : 1;
        }

        // One in a thousand each.
        Assert.InRange(claimed, 0, 2);
    }

    [Fact]
    public void What_repeats_and_no_term_explains_is_found_beneath_the_noise()
    {
        // Four cycles a revolution: the same in every pass, yet no mixture of sine and cosine of the angle.
        BearingReading reading = Split(Revolutions(100, 5, at => 4 * Math.Sin(8 * at.Angle)));
        Assert.Equal(4 / Math.Sqrt(2), reading.SynchronousRmsNs, 0.4);
        Assert.Equal(5, reading.AsynchronousRmsNs, 0.15);
    }

    [Fact]
    public void Few_revolutions_tell_less_and_say_so()
    {
        Assert.Equal("revolutions one after the other", Split(Revolutions(10, 3, _ => 0)).HalfSpeed.Missing!.What);
        TimingDecomposer decomposer = TimingDecomposer.ForAxis(TimingCases.Axis).Value;
        Assert.False(BearingResidual.Split(
            TimingStandard.Mono525, decomposer, [.. TimingCases.Axis.Heads], [.. TimingCases.Axis.AnglesDegrees], Revolutions(2, 3, _ => 0)).IsKnown);
        Assert.Throws<ArgumentException>(() => BearingResidual.Split(
            TimingStandard.Mono525, decomposer, [.. TimingCases.Axis.Heads], [.. TimingCases.Axis.AnglesDegrees], [new double[3], new double[3], new double[3]]));
    }

    private static BearingReading Split(IReadOnlyList<double[]> revolutions) => BearingResidual.Split(
        TimingStandard.Mono525,
        TimingDecomposer.ForAxis(TimingCases.Axis).Value,
        [.. TimingCases.Axis.Heads],
        [.. TimingCases.Axis.AnglesDegrees],
        revolutions).Value;

    private static List<double[]> Revolutions(int count, double sigma, Func<(double Turns, double Angle), double> more, int seed = 11)
    {
        var random = new Random(seed);
        var all = new List<double[]>();
        for (int t = 0; t < count; t++)
        {
            double[] e = TimingCases.Noisy(random, 0.3, -0.2, [10, -10, 5, -5], sigma);
            for (int i = 0; i < e.Length; i++)
            {
                double angle = TimingCases.Axis.AnglesDegrees[i];
                e[i] += more((t + ((TimingCases.Axis.Heads[i] - 1) / 4.0) + ((angle + 45) / 360), angle * Math.PI / 180));
            }

            all.Add(e);
        }

        return all;
    }
}
