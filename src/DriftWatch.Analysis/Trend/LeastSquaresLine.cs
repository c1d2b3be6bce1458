using MathNet.Numerics.Distributions;

namespace DriftWatch.Analysis.Trend;

/// <summary>A line by least squares, value = Level + Slope·(time − MeanTime), with the errors that hold for independent noise.</summary>
/// <param name="Slope">In value units a second (a unit of the times given).</param>
/// <param name="SlopeError">Standard error of the slope.</param>
/// <param name="MeanTime">Where the two estimates are independent.</param>
/// <param name="Level">Value at <paramref name="MeanTime"/>.</param>
/// <param name="LevelError">Standard error of the level.</param>
/// <param name="ResidualDeviation">√(RSS/(n−2)).</param>
/// <param name="DurbinWatson">Σ(eᵢ−eᵢ₋₁)²/Σeᵢ² in the order given: near 2 without autocorrelation; 2 where all residuals are 0.</param>
/// <param name="Points">n.</param>
public readonly record struct LineFit(
    double Slope, double SlopeError, double MeanTime, double Level, double LevelError, double ResidualDeviation, double DurbinWatson, int Points)
{
    /// <summary>The line's value at time 0.</summary>
    public double Intercept => Level - (Slope * MeanTime);

    /// <summary>Standard error of <see cref="Intercept"/>.</summary>
    public double InterceptError => Math.Sqrt((LevelError * LevelError) + (MeanTime * MeanTime * SlopeError * SlopeError));

    /// <summary>n−2.</summary>
    public int DegreesOfFreedom => Points - 2;

    public double At(double time) => Level + (Slope * (time - MeanTime));
}

/// <summary>
/// Ordinary least squares of a line (any textbook), computed about the means so that neither a huge offset nor Unix times cost
/// digits, and Newey and West's errors, which allow for autocorrelation and changing variance.
/// </summary>
public static class LeastSquaresLine
{
    public const int LeastPoints = 3;

    /// <param name="times">In seconds; the order matters to Durbin-Watson only.</param>
    /// <param name="values">As many, in their unit.</param>
    /// <exception cref="ArgumentException">Lengths differ, or a number is not finite.</exception>
    public static Answer<LineFit> Fit(ReadOnlySpan<double> times, ReadOnlySpan<double> values)
    {
        Trend.Points.Check(times, values);
        int n = times.Length;
        if (n < LeastPoints)
        {
            return new Shortfall("points", n, LeastPoints);
        }

        if (Trend.Points.AllEqual(times))
        {
            return new Shortfall("different times", 1, 2);
        }

        double meanTime = Trend.Points.Mean(times);
        double level = Trend.Points.Mean(values);
        double sxx = 0, sxy = 0;
        for (int i = 0; i < n; i++)
        {
            double x = times[i] - meanTime;
            sxx += x * x;
            sxy += x * (values[i] - level);
        }

        double slope = sxy / sxx;
        double squares = 0, steps = 0, before = 0;
        for (int i = 0; i < n; i++)
        {
            double residual = values[i] - level - (slope * (times[i] - meanTime));
            squares += residual * residual;
            steps += i == 0 ? 0 : (residual - before) * (residual - before);
            before = residual;
        }

        double deviation = Math.Sqrt(squares / (n - 2));
        return new LineFit(
            slope, deviation / Math.Sqrt(sxx), meanTime, level, deviation / Math.Sqrt(n), deviation, squares > 0 ? steps / squares : 2, n);
    }

    /// <summary>
    /// Newey and West's standard errors of intercept and slope with Bartlett's weights 1 − l/(L+1), no prewhitening and no factor
    /// for small samples unless asked: 'A simple, positive semi-definite, heteroskedasticity and autocorrelation consistent
    /// covariance matrix', Econometrica 55 (1987). They fall short under strong autocorrelation: see the folder's README.
    /// </summary>
    /// <param name="times">In seconds, rising: lags are counted in points.</param>
    /// <param name="values">As many, in their unit.</param>
    /// <param name="lags">L; null for <see cref="UsualLags"/>.</param>
    /// <param name="smallSample">Multiply the covariance by n/(n−2).</param>
    /// <exception cref="ArgumentException">Lengths differ, a number is not finite, times don't rise, or lags are negative.</exception>
    public static Answer<(double Intercept, double Slope)> NeweyWestErrors(
        ReadOnlySpan<double> times, ReadOnlySpan<double> values, int? lags = null, bool smallSample = false)
    {
        Trend.Points.Check(times, values);
        Trend.Points.CheckRising(times);
        if (lags < 0)
        {
            throw new ArgumentException("Lags are 0 or more.", nameof(lags));
        }

        return NeweyWestErrorsInOrder(times, values, lags, smallSample);
    }

    /// <summary>The same for any regressor, in the order of the points: what textbooks print has seldom time for one.</summary>
    internal static Answer<(double Intercept, double Slope)> NeweyWestErrorsInOrder(
        ReadOnlySpan<double> times, ReadOnlySpan<double> values, int? lags, bool smallSample)
    {
        Answer<LineFit> fitted = Fit(times, values);
        if (!fitted.IsKnown)
        {
            return fitted.Missing!;
        }

        LineFit fit = fitted.Value;
        int n = times.Length;
        double[] e = new double[n];
        double[] xe = new double[n];
        double sxx = 0;
        for (int i = 0; i < n; i++)
        {
            double x = times[i] - fit.MeanTime;
            e[i] = values[i] - fit.Level - (fit.Slope * x);
            xe[i] = x * e[i];
            sxx += x * x;
        }

        int last = Math.Min(lags ?? UsualLags(n), n - 1);
        double m00 = 0, m01 = 0, m11 = 0;
        for (int lag = 0; lag <= last; lag++)
        {
            double weight = lag == 0 ? 0.5 : 1 - (lag / (last + 1.0));
            double s00 = 0, s01 = 0, s11 = 0;
            for (int i = lag; i < n; i++)
            {
                s00 += e[i] * e[i - lag];
                s01 += (e[i] * xe[i - lag]) + (xe[i] * e[i - lag]);
                s11 += xe[i] * xe[i - lag];
            }

            m00 += 2 * weight * s00;
            m01 += weight * s01;
            m11 += 2 * weight * s11;
        }

        double factor = smallSample ? n / (n - 2.0) : 1;
        double slope = m11 / (sxx * sxx);
        double level = m00 / ((double)n * n);
        double both = m01 / (n * sxx);
        double intercept = level - (2 * fit.MeanTime * both) + (fit.MeanTime * fit.MeanTime * slope);
        return (Math.Sqrt(Math.Max(0, factor * intercept)), Math.Sqrt(Math.Max(0, factor * slope)));
    }

    /// <summary>L = ⌊4·(n/100)^(2/9)⌋, the rule of thumb that textbooks ascribe to Newey and West. Source: common practice, from memory.</summary>
    public static int UsualLags(int points) => (int)Math.Floor(4 * Math.Pow(points / 100.0, 2.0 / 9));

    /// <summary>Two-sided quantile of Student's t.</summary>
    internal static double StudentQuantile(double confidence, double degreesOfFreedom) =>
        StudentT.InvCDF(0, 1, degreesOfFreedom, (1 + confidence) / 2);
}
