using DriftWatch.Analysis.RfHeads;

namespace DriftWatch.Tests.Analysis.RfHeads;

public sealed class OutputLevelTests
{
    /// <summary>SMPTE EG 1, 75 % bars with set-up: luminance and chroma peak to peak in IRE, phase in degrees. From memory.</summary>
    [Theory]
    [InlineData(ColourBar.Yellow, 69.0, 62.1, 167.1)]
    [InlineData(ColourBar.Cyan, 56.1, 87.7, 283.5)]
    [InlineData(ColourBar.Green, 48.2, 81.9, 240.7)]
    [InlineData(ColourBar.Magenta, 36.2, 81.9, 60.7)]
    [InlineData(ColourBar.Red, 28.2, 87.7, 103.5)]
    [InlineData(ColourBar.Blue, 15.4, 62.1, 347.1)]
    public void Bars_of_525_lines_have_their_published_levels_and_vectors(ColourBar bar, double luminance, double chroma, double angle)
    {
        BarFigures figures = ColourBars.Of(bar, VideoStandard.Lines525WithSetUp);
        Assert.Equal(luminance, figures.LuminanceMillivolts / VideoStandard.MillivoltsPerIre, 0.06);
        Assert.Equal(chroma, figures.ChromaMillivolts / VideoStandard.MillivoltsPerIre, 0.1);
        Assert.Equal(angle, figures.AngleDegrees, 0.11);
    }

    /// <summary>Peak-to-peak chroma of 75 % bars in 625/50, mV: 470, 663, 620. From memory.</summary>
    [Theory]
    [InlineData(ColourBar.Yellow, 470)]
    [InlineData(ColourBar.Cyan, 663)]
    [InlineData(ColourBar.Green, 620)]
    [InlineData(ColourBar.Magenta, 620)]
    [InlineData(ColourBar.Red, 663)]
    [InlineData(ColourBar.Blue, 470)]
    public void Bars_of_625_lines_have_their_published_amplitudes(ColourBar bar, double chroma) =>
        Assert.Equal(chroma, ColourBars.Of(bar, VideoStandard.Lines625).ChromaMillivolts, 1.0);

    [Fact]
    public void The_standards_make_a_volt_and_black_and_white_carry_no_chroma()
    {
        foreach (VideoStandard standard in new[] { VideoStandard.Lines525WithSetUp, VideoStandard.Lines525WithoutSetUp, VideoStandard.Lines625 })
        {
            Assert.Equal(1000, standard.WhiteMillivolts + standard.SyncMillivolts, 1e-9);
            BarFigures white = ColourBars.Of(ColourBar.White, standard);
            Assert.Equal(standard.WhiteMillivolts, white.LuminanceMillivolts, 1e-9);
            Assert.Equal(0, white.ChromaMillivolts);
            Assert.Equal(new BarFigures(standard.BlackMillivolts, 0, 0), ColourBars.Of(ColourBar.Black, standard));
        }

        Assert.Equal("714", VideoStandard.Lines525WithSetUp.WhiteMillivolts.ToString("0"));
        Assert.Equal("286", VideoStandard.Lines525WithSetUp.SyncMillivolts.ToString("0"));
        Assert.Equal("53.6", VideoStandard.Lines525WithSetUp.BlackMillivolts.ToString("0.0"));
    }

    [Theory]
    [InlineData(300, LevelVerdict.Good)]
    [InlineData(290, LevelVerdict.Off)]
    [InlineData(320, LevelVerdict.Advisory)]
    [InlineData(265, LevelVerdict.Alarm)]
    public void A_level_is_judged_by_its_distance(double sync, LevelVerdict verdict)
    {
        LevelComparison level = Assert.Single(OutputLevels.Compare(new OutputReadings { SyncMillivolts = sync }, VideoStandard.Lines625).Value);
        Assert.Equal((OutputQuantity.Sync, verdict), (level.Quantity, level.Verdict));
        Assert.Equal(sync - 300, level.Difference, 1e-9);
    }

    [Fact]
    public void A_vector_is_judged_by_phase_and_saturation_across_zero_degrees()
    {
        var readings = new OutputReadings { Bar = ColourBar.Blue, ChromaMillivolts = 0.9 * 470.5, AngleDegrees = -1 };
        IReadOnlyList<LevelComparison> levels = OutputLevels.Compare(readings, VideoStandard.Lines625).Value;
        Assert.Equal(359 - 347.1, levels[0].Difference, 0.15);
        Assert.Equal(LevelVerdict.Alarm, levels[0].Verdict);
        Assert.Equal(-10, levels[1].Difference, 0.2);
        Assert.Equal(LevelVerdict.Advisory, levels[1].Verdict);
    }

    [Theory]
    [InlineData(714.0, 286.0, 54.0, -20.0, "525 525 525")]
    [InlineData(700.0, 300.0, 0.0, -18.0, "625 625")]
    [InlineData(728.0, 291.0, null, null, "525")] // 2 % of gain too much
    [InlineData(700.0, 280.0, null, null, "525")] // white as in 625/50, but it is 2 % of gain too little
    [InlineData(714.0, 300.0, null, null, "525 625")] // mixed
    [InlineData(700.0, 300.0, 54.0, null, "625 525")] // set-up on 625/50
    [InlineData(700.0, 300.0, null, -20.0, "625 525")]
    [InlineData(650.0, null, null, null, "")]
    public void Levels_speak_for_a_standard_and_mixtures_show(double? white, double? sync, double? black, double? audio, string lines)
    {
        var readings = new OutputReadings { WhiteMillivolts = white, SyncMillivolts = sync, BlackMillivolts = black, AudioZeroDbfs = audio };
        Assert.Equal(lines, string.Join(' ', OutputLevels.SpeakFor(readings).Select(v => v.Lines)));
    }

    [Fact]
    public void Nothing_read_is_a_shortfall_and_half_a_vector_an_error()
    {
        Assert.Equal("levels", OutputLevels.Compare(new OutputReadings(), VideoStandard.Lines625).Missing!.What);
        foreach (OutputReadings wrong in new OutputReadings[]
                 {
                     new() { ChromaMillivolts = 5 },
                     new() { ChromaMillivolts = 5, AngleDegrees = 4, Bar = ColourBar.White },
                     new() { WhiteMillivolts = double.NaN },
                 })
        {
            Assert.Equal("readings", Assert.Throws<ArgumentException>(() => OutputLevels.Compare(wrong, VideoStandard.Lines625)).ParamName);
        }
    }
}
