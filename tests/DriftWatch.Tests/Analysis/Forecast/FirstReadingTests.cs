using System.Globalization;
using System.Text.Json;
using DriftWatch.Analysis.Forecast;
using DriftWatch.Analysis.Trend;
using DriftWatch.Tests.Analysis.Trend;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Forecast;

public class FirstReadingTests
{
    private static double[] Steps(int n) => [.. Enumerable.Range(0, n).Select(i => (double)i)];

    private static DriftEstimate Drifting(int n, double rho, double slope, int seed) =>
        Drift.Estimate(Steps(n), new SeededNoise(seed).Next(n, rho, Wild.None, slope)).Value;

    /// <summary>Two fifths of a rate that falls as e^(−z²/2) are a tenth to a third of a deviation in z. Against the leading eigenvalue of the autoregressive kernel cut off at z: see Golden/forecast/make_passage.py.</summary>
    [Fact]
    public void The_rate_of_first_passage_is_the_kernels_within_two_fifths()
    {
        foreach (JsonProperty phi in Golden.Json("forecast/passage").EnumerateObject().Where(p => p.Value.ValueKind == JsonValueKind.Object))
        {
            var rate = new PassageRate(double.Parse(phi.Name, CultureInfo.InvariantCulture));
            foreach (JsonProperty z in phi.Value.EnumerateObject())
            {
                double actual = rate.Sum(double.Parse(z.Name, CultureInfo.InvariantCulture), 0, 1);
                Assert.True(actual / z.Value.GetDouble() is > 0.7 and < 1.4, $"phi {phi.Name}, z {z.Name}: {actual:0.000000} to {z.Value.GetDouble():0.000000}");
            }
        }
    }

    /// <summary>
    /// Of independent readings one in 740 is beyond three deviations on one side: 0.00135, as the NIST/SEMATECH e-Handbook (6.3.1) and every table
    /// of the normal law print it; 0.02275 beyond two.
    /// </summary>
    [Theory]
    [InlineData(2, 0.02275)]
    [InlineData(3, 0.00135)]
    public void The_rate_of_independent_readings_is_the_tail_that_is_printed(double deviations, double printed) =>
        Assert.InRange(new PassageRate(0).Sum(deviations, 0, 1) / printed, 0.78, 1.02);

    [Fact]
    public void Chances_of_steps_add_up_along_the_way()
    {
        var rate = new PassageRate(0.6);
        double whole = 0;
        for (int i = 0; i < 4000; i++)
        {
            whole += rate.Sum(5 - (i * 0.001), 0.001, 1);
        }

        Assert.Equal(whole, rate.Sum(5, 0.001, 4000), 1e-4 * whole);
        Assert.Equal(rate.Sum(1, 0.001, 4000), rate.Sum(-3, -0.001, 4000), 1e-9);
        Assert.Equal(0, rate.Sum(40, 0, 1e9));
        Assert.True(rate.Sum(-10, 0.01, 100) > 100);
    }

    [Theory]
    [InlineData(100, 0.3, 0.03)]
    [InlineData(400, 0.7, 0.01)]
    [InlineData(1140, 0.9, 0.004)]
    public void Intervals_hold_the_first_reading_beyond_as_often_as_they_say(int n, double rho, double slope)
    {
        var noise = new SeededNoise(300 + n);
        double limit = (slope * n) + 4;
        int given = 0, held = 0;
        for (int trial = 0; trial < 200; trial++)
        {
            double[] y = noise.Next(12 * n, rho, Wild.None, slope);
            var drift = Drift.Estimate(Steps(n), y.AsSpan(0, n));
            if (!drift.IsKnown)
            {
                continue;
            }

            int first = Enumerable.Range(n, 11 * n).First(i => y[i] >= limit || i == (12 * n) - 1);
            LimitForecast forecast = FirstReading.Of(drift.Value, limit, LimitSide.Above, n - 1, 1e6);
            given++;
            held += Math.Floor(forecast.Earliest) <= first && first <= Math.Ceiling(forecast.Latest) ? 1 : 0;
        }

        Assert.True(given > 150, $"{given}");
        Assert.InRange(100.0 * held / given, 90.5, 99.5);
    }

    [Theory]
    [InlineData(LimitSide.Above)]
    [InlineData(LimitSide.Below)]
    public void A_reading_crosses_before_the_level_does(LimitSide side)
    {
        double sign = side == LimitSide.Above ? 1 : -1;
        double[] y = [.. new SeededNoise(3).Next(600, 0.5, Wild.None, 0.01).Select(v => sign * v)];
        DriftEstimate drift = Drift.Estimate(Steps(600), y).Value;
        LimitForecast reading = FirstReading.Of(drift, sign * 12, side, 599, 5000);
        LimitForecast level = TimeToLimit.Of(drift, sign * 12, side, 599, 5000);
        Assert.Equal(LimitOutlook.Crosses, reading.Outlook);
        Assert.True(reading.Earliest < reading.Best && reading.Best < reading.Latest);
        Assert.True(reading.Best < level.Best - 100);
    }

    [Fact]
    public void The_other_side_is_the_mirror_image()
    {
        double[] y = new SeededNoise(8).Next(600, 0.5, Wild.None, 0.01);
        LimitForecast up = FirstReading.Of(Drift.Estimate(Steps(600), y).Value, 12, LimitSide.Above, 599, 5000);
        LimitForecast down = FirstReading.Of(Drift.Estimate(Steps(600), [.. y.Select(v => -v)]).Value, -12, LimitSide.Below, 599, 5000);
        Assert.Equal(up.Best, down.Best, 15.0);
        Assert.Equal(up.Latest, down.Latest, 60.0);
    }

    [Fact]
    public void A_level_beyond_is_beyond_already_and_a_far_limit_is_not_within_the_horizon()
    {
        DriftEstimate drift = Drifting(600, 0.5, 0.01, 4);
        Assert.Equal(LimitOutlook.AlreadyBeyond, FirstReading.Of(drift, 3, LimitSide.Above, 599, 10).Outlook);
        Assert.Equal(LimitOutlook.NotWithinHorizon, FirstReading.Of(drift, 100, LimitSide.Above, 599, 1000).Outlook);
    }

    [Fact]
    public void Without_a_drift_there_is_no_latest_time()
    {
        LimitForecast forecast = FirstReading.Of(Drifting(600, 0.5, 0, 6), 9, LimitSide.Above, 599, 1000);
        Assert.Equal(LimitOutlook.NotWithinHorizon, forecast.Outlook);
        Assert.True(forecast.Latest > 1e5);
    }

    [Fact]
    public void Without_noise_it_is_the_levels_time()
    {
        DriftEstimate drift = Drift.Estimate(Steps(50), [.. Enumerable.Repeat(2.0, 50)]).Value;
        Assert.Equal(TimeToLimit.Of(drift, 3, LimitSide.Above, 49, 10), FirstReading.Of(drift, 3, LimitSide.Above, 49, 10));
    }

    [Fact]
    public void Programmers_errors_are_named()
    {
        DriftEstimate drift = Drifting(100, 0, 0.1, 1);
        Assert.Equal("limit", Assert.Throws<ArgumentException>(() => FirstReading.Of(drift, double.NaN, LimitSide.Above, 1, 1)).ParamName);
        Assert.Equal("now", Assert.Throws<ArgumentException>(() => FirstReading.Of(drift, 1, LimitSide.Above, double.NaN, 1)).ParamName);
        Assert.Equal("horizonSeconds", Assert.Throws<ArgumentException>(() => FirstReading.Of(drift, 100, LimitSide.Above, 1, -1)).ParamName);
        Assert.Equal("confidence", Assert.Throws<ArgumentException>(() => FirstReading.Of(drift, 100, LimitSide.Above, 1, 1, 2)).ParamName);
    }
}
