using DriftWatch.Analysis.RfHeads;

namespace DriftWatch.Tests.Analysis.RfHeads;

public sealed class SpacingAndTriangleTests
{
    /// <summary>Wallace's amplitude, exp(−2πd/λ), in decibels; his rounded constant is 54.6.</summary>
    [Theory]
    [InlineData(0.1)]
    [InlineData(1)]
    [InlineData(2.5)]
    public void Spacing_loss_is_Wallaces_exponential(double wavelengths)
    {
        double amplitude = Math.Exp(-2 * Math.PI * wavelengths);
        Assert.Equal(-20 * Math.Log10(amplitude), SpacingLoss.LossDb(5 * wavelengths, 5), 1e-10);
        Assert.Equal("54.6", SpacingLoss.DbPerWavelength.ToString("0.0"));
        Assert.Equal("54.575", SpacingLoss.DbPerWavelength.ToString("0.000"));
        Assert.Equal(5 * wavelengths, SpacingLoss.GapMicrometres(SpacingLoss.LossDb(5 * wavelengths, 5), 5), 1e-12);
    }

    /// <summary>Carrier; wavelength in µin and µm; dB a µin; gap for 6 dB in µin. A table worked out elsewhere, all derived.</summary>
    [Theory]
    [InlineData(525, 4.28, "364", "9.25", "0.150", "40")]
    [InlineData(525, 5.79, "269", "6.84", "0.203", "30")]
    [InlineData(525, 6.8, "229", "5.82", "0.238", "25")]
    [InlineData(525, 7.06, "221", "5.61", "0.247", "24")]
    [InlineData(525, 7.9, "197", "5.01", "0.277", "22")]
    [InlineData(525, 10.0, "156", "3.96", "0.350", "17")]
    [InlineData(625, 9.3, "175", "4.43", "0.313", "19")]
    public void Wavelengths_and_losses_are_those_of_the_table(int lines, double megahertz, string microinches, string micrometres, string dbPerMicroinch, string gap)
    {
        double wavelength = SpacingLoss.WavelengthMicrometres(lines == 525 ? FmCarriers.RimSpeed525 : FmCarriers.RimSpeed625, megahertz);
        Assert.Equal(micrometres, wavelength.ToString("0.00"));
        Assert.Equal(microinches, (wavelength / SpacingLoss.MicrometresPerMicroinch).ToString("0"));
        Assert.Equal(dbPerMicroinch, SpacingLoss.LossDb(SpacingLoss.MicrometresPerMicroinch, wavelength).ToString("0.000"));
        Assert.Equal(gap, (SpacingLoss.GapMicrometres(6, wavelength) / SpacingLoss.MicrometresPerMicroinch).ToString("0"));
    }

    [Fact]
    public void Half_the_amplitude_lost_is_half_a_micrometre_and_more_of_debris()
    {
        foreach (FmCarriers carriers in FmCarriers.All)
        {
            Assert.True(carriers.SyncTipMegahertz < carriers.BlankingMegahertz && carriers.BlankingMegahertz < carriers.PeakWhiteMegahertz, carriers.Name);
            Assert.InRange(carriers.GapMicrometres(6), 0.5, 0.9);
            Assert.Equal(carriers.Name.Contains("high", StringComparison.Ordinal), carriers.Mark == FigureMark.FromMemory);
        }
    }

    [Theory]
    [InlineData(0.5, "-0.45")]
    [InlineData(1, "-0.92")]
    [InlineData(2, "-1.94")]
    [InlineData(3, "-3.10")]
    [InlineData(4, "-4.44")]
    [InlineData(5, "-6.02")]
    [InlineData(5.625, "-7.18")]
    [InlineData(7.8125, "-13.20")]
    public void The_triangle_loses_what_the_table_says(double mil, string db)
    {
        Assert.Equal(db, TrackingTriangle.LevelDb(mil).ToString("0.00"));
        Assert.Equal(TrackingTriangle.LevelDb(mil), TrackingTriangle.LevelDb(-mil));
        Assert.Equal(mil, TrackingTriangle.OffsetMil(-TrackingTriangle.LevelDb(mil)), 1e-12);
    }

    [Fact]
    public void Geometry_fits_together()
    {
        Assert.Equal(5.625, TrackingTriangle.NeighbourFromMil);
        Assert.Equal(5.76, TrackingTriangle.ControlTrackDegreesPerMil, 1e-12);

        // Half-way to the neighbour both are under the head alike.
        Assert.Equal(TrackingTriangle.Amplitude(TrackingTriangle.PitchMil / 2), TrackingTriangle.Amplitude((TrackingTriangle.PitchMil / 2) - TrackingTriangle.PitchMil));

        // A head 2 mil wider: flat to ±1 mil, then the same slope.
        Assert.Equal(1, TrackingTriangle.Amplitude(0.99, headMil: 12));
        Assert.Equal(TrackingTriangle.Amplitude(2), TrackingTriangle.Amplitude(3, headMil: 12), 1e-12);
        Assert.Equal(0, TrackingTriangle.Amplitude(11.5, headMil: 12));
    }

    [Fact]
    public void Numbers_that_mean_nothing_are_refused_by_name()
    {
        Assert.Equal("wavelengthMicrometres", Assert.Throws<ArgumentOutOfRangeException>(() => SpacingLoss.LossDb(1, 0)).ParamName);
        Assert.Equal("gapMicrometres", Assert.Throws<ArgumentOutOfRangeException>(() => SpacingLoss.LossDb(-1, 5)).ParamName);
        Assert.Equal("lossDb", Assert.Throws<ArgumentOutOfRangeException>(() => TrackingTriangle.OffsetMil(-1)).ParamName);
        Assert.Equal("headMil", Assert.Throws<ArgumentOutOfRangeException>(() => TrackingTriangle.Amplitude(0, headMil: 0)).ParamName);
    }
}
