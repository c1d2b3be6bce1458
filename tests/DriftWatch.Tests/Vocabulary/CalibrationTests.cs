using DriftWatch.Acquisition.Sampling;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Tests.Vocabulary;

public class CalibrationTests
{
    /// <summary>
    /// NAMUR NE 43, levels for the failure information of digital transmitters: measurement from 3.8 to 20.5 mA, failure
    /// at or below 3.6 mA and at or above 21 mA.
    /// </summary>
    [Theory]
    [InlineData(0.0, FaultCode.OpenLoop)]
    [InlineData(3.6, FaultCode.OpenLoop)]
    [InlineData(3.61, null)]
    [InlineData(3.8, null)]
    [InlineData(4.0, null)]
    [InlineData(20.0, null)]
    [InlineData(20.5, null)]
    [InlineData(20.99, null)]
    [InlineData(21.0, FaultCode.LoopHigh)]
    [InlineData(24.0, FaultCode.LoopHigh)]
    public void A_loop_current_means_what_NAMUR_NE_43_says(double milliamps, FaultCode? expected)
    {
        SensorProfile loop = Sensor("pressure-loop-150psi");
        Reading reading = new ReadingRules(loop.Faults, TimeSpan.FromSeconds(1)).Apply(default, Reading.Of(milliamps));
        Assert.Equal(expected, reading.IsFault ? reading.Fault : null);
    }

    [Theory]
    [InlineData(4, 0)]
    [InlineData(12, 75)]
    [InlineData(20, 150)]
    public void A_loop_of_4_to_20_milliamps_spans_its_range(double milliamps, double psi) =>
        Assert.Equal(psi, Sensor("pressure-loop-150psi").Nominal.Convert(milliamps), 1e-9);

    /// <summary>Derived: 0.5 to 4.5 V of a 5 V rail are the ratios 0.1 to 0.9, whatever the rail really is.</summary>
    [Theory]
    [InlineData(5.00, 2.50, 50)]
    [InlineData(4.90, 2.45, 50)]
    [InlineData(5.10, 0.51, 0)]
    [InlineData(5.00, 4.50, 100)]
    public void A_ratiometric_sensor_reads_the_same_on_any_rail(double railVolts, double volts, double psi) =>
        Assert.Equal(psi, Sensor("pressure-ratiometric-100psi").Nominal.Convert(volts / railVolts), 1e-9);

    [Fact]
    public void A_logarithmic_detector_of_25_millivolts_a_decibel_gives_40_decibels_a_volt() =>
        Assert.Equal(
            6.0, Sensor("rf-log-detector-25mv").Nominal.Convert(1.850) - Sensor("rf-log-detector-25mv").Nominal.Convert(1.700), 1e-9);

    [Fact]
    public void A_table_is_straight_between_its_points_and_goes_on_beyond_them()
    {
        var table = new TableCalibration([0, 1, 3], [0, 10, 20]);
        Assert.Equal([-5.0, 0, 5, 10, 15, 20, 25], new[] { -0.5, 0, 0.5, 1, 2, 3, 4 }.Select(table.Convert));
        Assert.Equal(1, table.Direction);
        Assert.Equal(-1, new TableCalibration([0, 1, 2], [3, 2, 1]).Direction);
        Assert.Equal(0, new TableCalibration([0, 1, 2], [3, 2, 4]).Direction);
    }

    [Theory]
    [InlineData(new double[] { 1, 1 }, new double[] { 0, 1 })]
    [InlineData(new double[] { 1 }, new double[] { 0 })]
    [InlineData(new double[] { 1, 2 }, new double[] { 0 })]
    public void A_table_that_does_not_rise_is_refused(double[] raw, double[] values) =>
        Assert.Throws<ArgumentException>(() => new TableCalibration(raw, values));

    [Fact]
    public void A_polynomial_takes_its_lowest_order_first() =>
        Assert.Equal(1 + (2 * 3) + (0.5 * 9), new PolynomialCalibration([1, 2, 0.5]).Convert(3));

    private static SensorProfile Sensor(string name)
    {
        var mistakes = new MistakeList();
        return new ProfileCatalog(ProfileFolders.Default, mistakes).Sensor(name).Profile!;
    }
}
