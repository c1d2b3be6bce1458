using DriftWatch.Analysis.TimingGeometry;

namespace DriftWatch.Tests.Analysis.TimingGeometry;

/// <summary>The constants against the derived table, to its digits.</summary>
public class TimingStandardTests
{
    [Theory]
    [InlineData("525", 39.585, 0.641650, 25.2618, 0.907431, 0.187935, 192.901, 16.406)]
    [InlineData("525c", 39.546, 0.642292, 25.2871, 0.908338, 0.188123, 193.094, 16.406)]
    [InlineData("625", 41.235, 0.615984, 24.2514, 0.871133, 0.180418, 185.185, 15.625)]
    public void Speeds_and_sensitivities_follow_from_revolutions_and_tip_radius(
        string name, double speed, double microseconds, double perMicrometre, double skew, double sagitta, double arcMinute, double lines)
    {
        TimingStandard standard = TimingCases.Standard(name);
        Assert.Equal(speed, standard.TipSpeedMetresPerSecond, 3);
        Assert.Equal(microseconds, standard.NsPerMil / 1000, 6);
        Assert.Equal(perMicrometre, standard.NsPerMicrometre, 4);
        Assert.Equal(skew, standard.SkewPeakToPeakNsPerMil / 1000, 6);
        Assert.Equal(sagitta, standard.SagittaNsPerMil / 1000, 6);
        Assert.Equal(arcMinute, standard.NsPerArcMinute, 3);
        Assert.Equal(lines, standard.LinesPerPass, 3);
    }

    [Fact]
    public void A_mil_of_penetration_turns_the_hue_by_eighty_to_a_hundred_degrees_at_the_line_end()
    {
        Assert.Equal(79.2, TimingStandard.Colour525.HueDegreesPerMil!.Value, 1);
        Assert.Equal(98.8, TimingStandard.Line625.HueDegreesPerMil!.Value, 1);
        Assert.Null(TimingStandard.Mono525.HueDegreesPerMil);
    }

    [Fact]
    public void Four_heads_make_the_published_tracks_a_second_and_tracks_are_the_published_pitch_apart()
    {
        Assert.Equal(960, 4 * TimingStandard.Mono525.RevolutionsPerSecond, 9);
        Assert.Equal(1000, 4 * TimingStandard.Line625.RevolutionsPerSecond, 9);

        // 15 in/s over 960 and 15.625 in/s over 1000 tracks are the same 15.625 mil.
        Assert.Equal(15.625, 15_000 / (4 * TimingStandard.Mono525.RevolutionsPerSecond), 9);
        Assert.Equal(15.625, 15_625 / (4 * TimingStandard.Line625.RevolutionsPerSecond), 9);
        Assert.Equal(5.5, TimingStandard.Mono525.DegreesPerLine, 1);
        Assert.Equal(0.900316, TimingStandard.MeanCosine, 6);
    }

    [Fact]
    public void A_line_count_names_its_standard_and_neither_name_fits_what_lies_between()
    {
        Assert.Same(TimingStandard.Mono525, LineGrid.StandardOf(65.6));
        Assert.Same(TimingStandard.Line625, LineGrid.StandardOf(62.5));
        Assert.Null(LineGrid.StandardOf(64));
    }
}
