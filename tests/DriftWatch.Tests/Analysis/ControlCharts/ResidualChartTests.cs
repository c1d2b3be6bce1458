using System.Text.Json;
using DriftWatch.Analysis.ControlCharts;
using DriftWatch.Tests.Support;
using MathNet.Numerics.Distributions;
using MathNet.Numerics.Random;

namespace DriftWatch.Tests.Analysis.ControlCharts;

/// <summary>Charts on autocorrelated values and with estimated limits: the designs hold in simulation; seeds are fixed.</summary>
public class ResidualChartTests
{
    private const double Interval = 200;
    private const int Runs = 1500;

    [Theory]
    [InlineData(0.3)]
    [InlineData(0.7)]
    [InlineData(0.9)]
    public void A_chart_of_residuals_keeps_its_false_alarm_interval_where_the_plain_one_loses_it(double rho)
    {
        CusumDesign plain = ChartDesigner.Cusum(1, Interval);
        CusumDesign residual = ResidualDesigner.Cusum(1, rho, Interval);
        double naive = MeanRun(rho, 0, false, plain);
        double whitened = MeanRun(rho, 0, true, residual);

        // Run lengths are nearly exponential: 1500 of them leave 2.6 % a standard error.
        Assert.InRange(whitened, 0.9 * Interval, 1.1 * Interval);
        Assert.True(naive < Interval / 2, $"the plain chart alarms every {naive:0} values");
    }

    [Fact]
    public void The_delay_on_residuals_is_the_one_that_the_equation_gives()
    {
        CusumDesign design = ResidualDesigner.Cusum(1, 0.7, Interval, ChartSide.High);
        double simulated = MeanRun(0.7, 1.5, true, design);
        Assert.Equal(1, simulated / ResidualDesigner.Delay(design, 1.5, 0.7), 0.07);
    }

    [Fact]
    public void A_design_for_residuals_looks_for_the_smaller_shift_that_lasts_in_them()
    {
        Assert.Equal(Math.Sqrt(0.3 / 1.7) / 2, ResidualDesigner.Cusum(1, 0.7, Interval).Reference, 1e-12);
        Assert.True(ResidualDesigner.Ewma(1, 0.7, Interval).Weight < ChartDesigner.Ewma(1, Interval).Weight);
        Assert.Throws<ArgumentException>(() => ResidualDesigner.Delay(ResidualDesigner.Cusum(1, 0.7, Interval), 1, 0.7));
    }

    [Fact]
    public void Estimated_limits_make_the_real_interval_vary_as_simulation_does()
    {
        CusumDesign design = ChartDesigner.Cusum(1, Interval);
        EstimatedRunLength predicted = EstimatedLimits.Of(design, 50);
        var random = new Xoshiro256StarStar(3301, threadSafe: false);
        double[] lengths = new double[400];
        for (int i = 0; i < lengths.Length; i++)
        {
            double[] record = new double[50];
            Normal.Samples(random, record, 0, 1);
            double mean = record.Average();
            double sigma = Math.Sqrt(record.Sum(x => (x - mean) * (x - mean)) / 49);
            lengths[i] = ArlOfCusum.ZeroState(design, mean / sigma, 1 / sigma);
        }

        Array.Sort(lengths);
        Assert.InRange(predicted.Tenth / lengths[40], 0.85, 1.18);
        Assert.InRange(predicted.Median / lengths[200], 0.85, 1.18);
        Assert.InRange(predicted.Ninetieth / lengths[360], 0.75, 1.33);
        Assert.True(predicted.Tenth < Interval / 2);
    }

    /// <summary>
    /// Jones, Champ and Rigdon, Technometrics 43 (2001): an EWMA whose level and deviation come from 20 means of five values. R's spc has their example
    /// and quotes 144.458 of a hundred million runs where 200.325 were designed; its own numbers besides. The strata here leave a few per cent.
    /// </summary>
    [Fact]
    public void The_mean_run_length_with_estimated_limits_is_that_of_R_s_spc_and_of_its_quoted_simulation()
    {
        const double bias = 0.9968799588; // of a standard deviation with 80 degrees of freedom
        var design = new EwmaDesign(0.2, 2.636 / bias);
        JsonElement spc = Golden.Json("charts/spc").GetProperty("ewmaEstimated");
        double[] jones = spc.GetProperty("jones").Doubles();
        Assert.Equal(200.325, ArlOfEwma.ZeroState(new EwmaDesign(0.2, 2.636), 0), 0.06);
        Assert.Equal(1, Mean(design, 0, 20, 80) / 144.458, 0.03);
        Assert.Equal(1, Mean(design, 0, 20, 80) / jones[0], 0.03);
        Assert.Equal(1, Mean(design, 1, 20, 80) / jones[1], 0.03);
        double[] hundred = spc.GetProperty("hundred").Doubles();
        Assert.Equal(1, Mean(new EwmaDesign(0.1, 2.7), 0, 100, 99) / hundred[0], 0.03);
        Assert.Equal(1, Mean(new EwmaDesign(0.1, 2.7), 0.5, 100, 99) / hundred[1], 0.03);

        static double Mean(EwmaDesign design, double shift, int points, int freedom) =>
            EstimatedLimits.Lengths((error, spread) => ArlOfEwma.ZeroState(design, error + (shift * spread), spread), points, freedom).Average();
    }

    [Fact]
    public void Points_needed_are_enough_and_hardly_more()
    {
        IndividualsDesign design = ChartDesigner.Individuals(370.4);
        int needed = EstimatedLimits.PointsNeeded(design);
        Assert.True(EstimatedLimits.Of(design, needed).Tenth >= 370.4 / 2 - 0.1);
        Assert.True(EstimatedLimits.Of(design, needed * 9 / 10).Tenth < 370.4 / 2);
        Assert.Equal("worsening", Assert.Throws<ArgumentException>(() => EstimatedLimits.PointsNeeded(design, 1)).ParamName);
        Assert.Equal("points", Assert.Throws<ArgumentException>(() => EstimatedLimits.Of(design, 4)).ParamName);
    }

    [Fact]
    public void A_cusum_is_within_a_fifth_of_Lorden_s_bound_for_long_intervals()
    {
        foreach (double shift in new[] { 0.5, 1, 2 })
        {
            CusumDesign design = ChartDesigner.Cusum(shift, 1e6, ChartSide.High);
            double ratio = ArlOfCusum.ZeroState(design, shift) / (2 * Math.Log(1e6) / (shift * shift));
            Assert.InRange(ratio, 0.7, 1.2);
        }
    }

    private static double MeanRun(double rho, double shift, bool whitens, CusumDesign design)
    {
        var random = new Xoshiro256StarStar(3300 + (int)(10 * rho), threadSafe: false);
        double fresh = Math.Sqrt(1 - (rho * rho));
        double total = 0;
        for (int r = 0; r < Runs; r++)
        {
            var chart = new CusumChart(design, 0, 1);
            var whitener = new Ar1Whitener(0, 1, rho);
            double value = Normal.Sample(random, 0, 1);

            // The value before the run, so that the first residual of a shifted one is the step.
            _ = whitener.Add(value);
            int length = 0;
            ChartSignal signal;
            do
            {
                value = (rho * value) + (fresh * Normal.Sample(random, 0, 1));
                length++;
                signal = chart.Add(whitens ? whitener.Add(value + shift) : value + shift);
            }
            while (signal == ChartSignal.None);
            total += length;
        }

        return total / Runs;
    }
}
