using CsCheck;
using DriftWatch.Analysis;
using DriftWatch.Analysis.ControlCharts;

namespace DriftWatch.Tests.Analysis.ControlCharts;

/// <summary>The charts on NIST's worked examples, streaming against batch, and bad input. CsCheck prints the seed of a failing case.</summary>
public class ChartTests
{
    private static readonly double[] Example6323 =
    [
        324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
        324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
    ];

    private static readonly double[] Example6322 = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];

    [Fact]
    public void NIST_SEMATECH_e_Handbook_6_3_2_3_worked_cusum()
    {
        // As several public transcriptions of the page have it; their 325 − k − x column has two typing errors and is not used.
        double[] high = [0, 0, 0, 0, 0.0325, 0, 0, 0, 0, 0, 0, 0, 3.0075, 4.94, 7.4475, 10.63, 11.9875, 14.445, 16.0025, 19.035];
        double[] low = [0, 0.0075, 0, 0.3325, 0, 0, 0.5575, 0.715, 0.1725, 0.255, 0.3125, 0, 0, 0, 0, 0, 0, 0, 0, 0];
        var chart = new CusumChart(new CusumDesign(0.3175, 4.1959), target: 325, sigma: 1);
        var signals = new List<int>();
        for (int i = 0; i < Example6323.Length; i++)
        {
            if (chart.Add(Example6323[i]) == ChartSignal.High)
            {
                signals.Add(i + 1);
            }

            Assert.Equal(high[i], chart.High, 1e-9);
            Assert.Equal(low[i], chart.Low, 1e-9);
        }

        Assert.Equal([14, 15, 16, 17, 18, 19, 20], signals);
        Assert.Equal(8, chart.HighSince); // the sum left 0 at the 13th group
    }

    [Fact]
    public void NIST_SEMATECH_e_Handbook_6_3_2_4_worked_ewma()
    {
        double[] x = [52, 47, 53, 49.3, 50.1, 47, 51, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
        double[] ewma =
        [
            50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
        ];
        var chart = new EwmaChart(new EwmaDesign(0.3, 3), target: 50, sigma: 2.0539);
        for (int i = 0; i < x.Length; i++)
        {
            Assert.Equal(ChartSignal.None, chart.Add(x[i]));
            Assert.Equal(ewma[i], chart.Average, 0.00501);
        }

        // The page prints 47.4115 and 52.5884 with √(0.3/1.7) rounded to 0.4201.
        Assert.Equal(52.5884, 50 + chart.HalfWidth, 1e-4);
        Assert.Equal(47.4115, 50 - chart.HalfWidth, 1e-4);
    }

    [Fact]
    public void NIST_SEMATECH_e_Handbook_6_3_2_2_worked_individuals_with_the_printed_divisor()
    {
        IndividualsLimits limits = IndividualsLimits.From(Example6322, MovingRangeDivisor.Printed).Value;
        Assert.Equal(50.81, limits.Mean, 1e-10);
        Assert.Equal(1.8778, limits.MeanRange, 5e-5);

        // The page rounds the mean range to 1.8778 before it goes on.
        Assert.Equal(55.8041, limits.Upper, 1e-4);
        Assert.Equal(45.8159, limits.Lower, 1e-4);
        Assert.Equal(6.1347, limits.RangeLimit, 1e-4);
    }

    [Fact]
    public void The_exact_divisor_moves_the_fourth_digit()
    {
        IndividualsLimits limits = IndividualsLimits.From(Example6322).Value;
        Assert.Equal(55.80241168, limits.Upper, 1e-8);
        Assert.Equal(45.81758832, limits.Lower, 1e-8);
        System.Text.Json.JsonElement quadrature = Support.Golden.Json("charts/spc");
        Assert.Equal(Support.Golden.Number(quadrature, "d2_2"), IndividualsLimits.ExactD2, 1e-11);
        Assert.Equal(1 + (3 * Support.Golden.Number(quadrature, "d3_2") / IndividualsLimits.ExactD2), IndividualsLimits.ExactD4, 1e-10);
        Assert.Equal(3.2665319193, IndividualsLimits.ExactD4, 1e-10);
    }

    [Fact]
    public void Streaming_cusum_is_batch_cusum() => Cases().Sample((values, k, both) =>
    {
        var design = new CusumDesign(k, 2, both ? ChartSide.Both : ChartSide.Low, 0.5);
        var chart = new CusumChart(design, 3, 2);
        double[] high = new double[values.Length], low = new double[values.Length];
        int first = CusumChart.Run(design, 3, 2, values, high, low);
        int streamed = -1;
        for (int i = 0; i < values.Length; i++)
        {
            ChartSignal signal = chart.Add(values[i]);
            streamed = streamed < 0 && signal != ChartSignal.None ? i : streamed;
            Assert.Equal(high[i], chart.High, 1e-12);
            Assert.Equal(low[i], chart.Low, 1e-12);
        }

        Assert.Equal(first, streamed);
    });

    [Fact]
    public void Streaming_ewma_is_batch_ewma() => Cases().Sample((values, k, varies) =>
    {
        var design = new EwmaDesign(0.1 + (0.9 * k), 2.5, varies);
        var chart = new EwmaChart(design, 3, 2);
        double[] averages = new double[values.Length];
        int first = EwmaChart.Run(design, 3, 2, values, averages);
        int streamed = -1;
        for (int i = 0; i < values.Length; i++)
        {
            ChartSignal signal = chart.Add(values[i]);
            streamed = streamed < 0 && signal != ChartSignal.None ? i : streamed;
            Assert.Equal(averages[i], chart.Average, 1e-12);
            Assert.Equal(design.LimitAt(i + 1) * 2, chart.HalfWidth, 1e-12);
        }

        // An average that lies on the limit to the last digit may be in or out by rounding.
        bool isTied = averages.Select((average, i) => Math.Abs(Math.Abs(average - 3) - (design.LimitAt(i + 1) * 2))).Any(distance => distance < 1e-12);
        Assert.True(first == streamed || isTied, $"batch signals at {first}, streaming at {streamed}");
    });

    [Fact]
    public void Streaming_individuals_and_residuals_are_their_batch() => Cases().Sample((values, k, range) =>
    {
        IndividualsLimits limits = IndividualsLimits.Known(3, 2, new IndividualsDesign(1.5, range ? 2.5 : double.PositiveInfinity));
        var chart = new IndividualsChart(limits);
        Assert.Equal(IndividualsChart.Run(limits, values), values.Select(chart.Add));
        var whitener = new Ar1Whitener(3, 2, k);
        double[] residuals = new double[values.Length];
        Ar1Whitener.Run(3, 2, k, values, residuals);
        for (int i = 0; i < values.Length; i++)
        {
            Assert.Equal(residuals[i], whitener.Add(values[i]), 1e-11);
        }
    });

    [Fact]
    public void Taking_a_value_allocates_nothing()
    {
        var cusum = new CusumChart(new CusumDesign(0.5, 4), 0, 1);
        var ewma = new EwmaChart(new EwmaDesign(0.1, 3, limitsVary: true), 0, 1);
        var individuals = new IndividualsChart(IndividualsLimits.Known(0, 1, new IndividualsDesign(3, 4)));
        var whitener = new Ar1Whitener(0, 1, 0.5);
        Assert.Equal(0, AllocatedIn(10) + AllocatedIn(1000)); // the first call warms up

        long AllocatedIn(int values)
        {
            long before = GC.GetAllocatedBytesForCurrentThread();
            for (int i = 0; i < values; i++)
            {
                double residual = whitener.Add(i % 7, gap: 1 + (i % 2));
                _ = cusum.Add(residual) | ewma.Add(residual) | individuals.Add(residual);
            }

            return GC.GetAllocatedBytesForCurrentThread() - before;
        }
    }

    [Fact]
    public void A_whitener_bridges_a_gap_with_the_power_of_the_correlation()
    {
        var whitener = new Ar1Whitener(10, 2, 0.5);
        Assert.Equal(1, whitener.Add(12));
        Assert.Equal((1 - (0.25 * 2)) / (2 * Math.Sqrt(1 - 0.0625)), whitener.Add(11, gap: 2), 1e-14);
    }

    [Fact]
    public void A_step_shows_whole_in_the_first_residual_and_weaker_in_the_rest()
    {
        var whitener = new Ar1Whitener(0, 1, 0.6);
        _ = whitener.Add(0);
        Assert.Equal(ResidualDesigner.FirstShift(1, 0.6), whitener.Add(1), 1e-14);
        Assert.Equal(ResidualDesigner.LastingShift(1, 0.6), whitener.Add(1), 1e-14);
    }

    [Fact]
    public void A_restart_begins_at_the_head_start()
    {
        var chart = new CusumChart(new CusumDesign(0.5, 4, ChartSide.High, 2), 0, 1);
        Assert.Equal(2, chart.High);
        Assert.Equal(ChartSignal.High, chart.Add(3));
        chart.Restart();
        Assert.Equal((2, 0), (chart.High, chart.HighSince));
        Assert.Equal(ChartSignal.None, chart.Add(0));
    }

    [Fact]
    public void A_constant_series_has_no_limits_but_a_shortfall() =>
        Assert.Equal(new Shortfall("steps between neighbours", 0, 1), IndividualsLimits.From([5, 5, 5, 5]).Missing);

    [Fact]
    public void Ties_everywhere_still_have_limits() =>
        Assert.Equal(0.5 / IndividualsLimits.ExactD2, IndividualsLimits.From([5, 6, 6, 5, 5]).Value.Sigma, 1e-14);

    [Fact]
    public void One_point_is_not_enough_for_limits() =>
        Assert.Equal(new Shortfall("points", 1, 2), IndividualsLimits.From([5]).Missing);

    [Fact]
    public void All_faults_leave_nothing_and_no_limits()
    {
        Assert.Equal(new Shortfall("points", 0, 2), IndividualsLimits.From([]).Missing);
        Assert.Equal(-1, CusumChart.Run(new CusumDesign(0.5, 4), 0, 1, [], [], []));
    }

    [Fact]
    public void A_huge_offset_costs_no_digits_that_were_there()
    {
        double[] tiny = [.. Example6322.Select(x => 1e9 + (x * 1e-3))];
        IndividualsLimits limits = IndividualsLimits.From(tiny).Value;
        Assert.Equal(5.080241168e-3 * 10.98430, limits.Upper - 1e9, 1e-6); // 55.8024e-3
        var chart = new CusumChart(new CusumDesign(0.5, 4), 1e9, 1e-3);
        for (int i = 0; i < 5; i++)
        {
            _ = chart.Add(1e9 + 1e-3);
        }

        Assert.Equal(2.5, chart.High, 1e-3);
    }

    [Fact]
    public void Numbers_out_of_range_name_their_argument()
    {
        Assert.Equal("reference", Assert.Throws<ArgumentException>(() => new CusumDesign(-0.1, 4)).ParamName);
        Assert.Equal("decision", Assert.Throws<ArgumentException>(() => new CusumDesign(0.5, 0)).ParamName);
        Assert.Equal("headStart", Assert.Throws<ArgumentException>(() => new CusumDesign(0.5, 4, ChartSide.Both, 4)).ParamName);
        Assert.Equal("weight", Assert.Throws<ArgumentException>(() => new EwmaDesign(0, 3)).ParamName);
        Assert.Equal("limit", Assert.Throws<ArgumentException>(() => new EwmaDesign(0.1, double.NaN)).ParamName);
        Assert.Equal("sigma", Assert.Throws<ArgumentException>(() => new CusumChart(new CusumDesign(0.5, 4), 0, 0)).ParamName);
        Assert.Equal("design", Assert.Throws<ArgumentException>(() => new CusumChart(default, 0, 1)).ParamName);
        Assert.Equal("rho", Assert.Throws<ArgumentException>(() => new Ar1Whitener(0, 1, 1)).ParamName);
        Assert.Equal("wantedSeconds", Assert.Throws<ArgumentException>(() => new FalseAlarmInterval(1, 0.5)).ParamName);
        Assert.Equal("interval", Assert.Throws<ArgumentException>(() => ChartDesigner.SolveDecision(0.5, 1)).ParamName);
        Assert.Equal("design", Assert.Throws<ArgumentException>(() => ArlOfCusum.SteadyState(new CusumDesign(0.5, 4), 1)).ParamName);
    }

    [Fact]
    public void A_fault_as_a_number_is_the_caller_s_error()
    {
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => IndividualsLimits.From([1, double.NaN])).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => EwmaChart.Run(new EwmaDesign(0.1, 3), 0, 1, [double.PositiveInfinity], new double[1])).ParamName);
    }

    [Fact]
    public void Mismatched_lengths_name_the_short_span()
    {
        Assert.Equal("low", Assert.Throws<ArgumentException>(() => CusumChart.Run(new CusumDesign(0.5, 4), 0, 1, [1, 2], new double[2], new double[1])).ParamName);
        Assert.Equal("averages", Assert.Throws<ArgumentException>(() => EwmaChart.Run(new EwmaDesign(0.1, 3), 0, 1, [1, 2], new double[1])).ParamName);
    }

    private static Gen<(double[] Values, double K, bool Flag)> Cases() =>
        Gen.Select(Gen.Double[-10, 10].Array[0, 60], Gen.Double[0, 0.99], Gen.Bool);
}
