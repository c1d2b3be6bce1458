using MathNet.Numerics.Distributions;

namespace DriftWatch.Analysis.Relations;

/// <summary>
/// Noise whose correlation dies out exponentially with time, ρ^(Δt/step): a first-order autoregression where samples are even,
/// and its continuation to gaps and uneven samples (the Ornstein-Uhlenbeck process; Jones, 'Fitting a continuous time
/// autoregression to discrete data', 1981). Times are in seconds and rise; the step is their median distance. A negative
/// ρ has no such continuation and counts as 0, which makes no interval narrower.
/// </summary>
internal sealed class CorrelatedNoise
{
    /// <summary>Beyond this a record of any size served here can't be told from a random walk.</summary>
    private const double LargestRho = 0.9995;

    private readonly double[] _gaps;
    private readonly double[] _weights;
    private readonly double[] _shares;
    private double _rho = double.NaN;
    private double _logDeterminant;

    public CorrelatedNoise(ReadOnlySpan<double> times)
    {
        _gaps = new double[Math.Max(0, times.Length - 1)];
        _weights = new double[_gaps.Length];
        _shares = new double[_gaps.Length];
        for (int i = 0; i < _gaps.Length; i++)
        {
            _gaps[i] = times[i + 1] - times[i];
        }

        double[] sorted = [.. _gaps];
        Array.Sort(sorted);
        Step = sorted.Length == 0 ? 1 : sorted[sorted.Length / 2];
        for (int i = 0; i < _gaps.Length; i++)
        {
            _gaps[i] /= Step;
        }
    }

    /// <summary>The median distance of neighbours in seconds.</summary>
    public double Step { get; }

    /// <summary>ln |V| of the correlation matrix V.</summary>
    public double LogDeterminant(double rho)
    {
        Set(rho);
        return _logDeterminant;
    }

    /// <summary>L⁻¹x for V = LL': what is left is white, of the noise's own variance.</summary>
    public void Whiten(double rho, ReadOnlySpan<double> values, Span<double> white)
    {
        Set(rho);
        white[0] = values[0];
        for (int i = 0; i < _gaps.Length; i++)
        {
            white[i + 1] = (values[i + 1] - (_weights[i] * values[i])) * _shares[i];
        }
    }

    /// <summary>The filter behind <see cref="Whiten"/> for every point, the first included.</summary>
    public (double[] Weights, double[] Shares) Filter(double rho)
    {
        Set(rho);
        return ([0, .. _weights], [1, .. _shares]);
    }

    /// <summary>
    /// ρ by restricted maximum likelihood of values = columns·β + noise: the least of (n−p)·ln RSS + ln|V| + ln|X'V⁻¹X| (Harville,
    /// JASA 72, 1977), by a scan and golden section. Its bias from the columns taken out is far smaller than that of the
    /// residuals' own autocorrelation.
    /// </summary>
    /// <returns>Null where the columns determine no coefficients.</returns>
    public double? Estimate(double[][] columns, double[] values) => Least(columns, values, restricted: true)?.Rho;

    /// <summary>The least over ρ of n·ln RSS + ln|V|, which is −2 ln likelihood but for a constant.</summary>
    public double? LeastDeviance(double[][] columns, double[] values) => Least(columns, values, restricted: false)?.Criterion;

    private (double Rho, double Criterion)? Least(double[][] columns, double[] values, bool restricted)
    {
        int n = values.Length;
        var work = columns.Select(_ => new double[n]).ToArray();
        var right = new double[n];
        double Criterion(double rho) => Solve(rho, columns, values, work, right) is { } solution
            ? ((restricted ? n - columns.Length : n) * Math.Log(Math.Max(solution.Squares, double.Epsilon)))
                + LogDeterminant(rho) + (restricted ? solution.LogDeterminant() : 0)
            : double.PositiveInfinity;

        // Even in atanh ρ, where the criterion is nearest a parabola.
        double[] scan = [0, 0.15, 0.3, 0.45, 0.6, 0.7, 0.8, 0.86, 0.9, 0.935, 0.96, 0.98, 0.99, 0.996, LargestRho];
        int best = 0;
        double least = double.PositiveInfinity;
        for (int i = 0; i < scan.Length; i++)
        {
            double criterion = Criterion(scan[i]);
            if (criterion < least)
            {
                (best, least) = (i, criterion);
            }
        }

        if (double.IsPositiveInfinity(least))
        {
            return null;
        }

        double found = Search.Golden(Criterion, scan[Math.Max(0, best - 1)], scan[Math.Min(scan.Length - 1, best + 1)], 1e-6);
        return (found, Math.Min(least, Criterion(found)));
    }

    /// <summary>Generalised least squares at a given ρ.</summary>
    public LinearSolution? Solve(double rho, double[][] columns, double[] values)
    {
        var work = columns.Select(_ => new double[values.Length]).ToArray();
        return Solve(rho, columns, values, work, new double[values.Length]);
    }

    /// <inheritdoc cref="Solve(double, double[][], double[])"/>
    public LinearSolution? Solve(double rho, double[][] columns, double[] values, double[][] work, double[] right)
    {
        for (int j = 0; j < columns.Length; j++)
        {
            Whiten(rho, columns[j], work[j]);
        }

        Whiten(rho, values, right);
        return LinearSolve.Solve(work, right, values.Length);
    }

    /// <summary>
    /// How many standard errors an interval reaches to each side. Not only the noise's variance is estimated but ρ too, and with it the
    /// factor g = (1+ρ)/(1−ρ) by which correlation multiplies the variance of what is slow. With var ρ = (1−ρ²)/n (Bartlett 1946)
    /// the delta method gives var ln g = 4/(n(1−ρ²)): it takes degrees of freedom (2/ν is the variance of the logarithm of
    /// a variance with ν of them), and widens by e^(var/2), which is more than the mean of √g asks for (e^(var/8)): answers close to
    /// the least effective size are those whose ρ came out low. Where ρ is within its error √((1−ρ²)/n) of 0 it has been held at or
    /// above 0 and comes out high on average: the addition fades there. Derived, but for these two; held by the coverage tables.
    /// </summary>
    /// <param name="effective">n(1−ρ)/(1+ρ).</param>
    /// <param name="rho">ρ.</param>
    /// <param name="parameters">Fitted beside ρ and the variance.</param>
    /// <param name="confidence">Two-sided.</param>
    public static double Reach(double effective, double rho, int parameters, double confidence)
    {
        double fade = Math.Min(1, rho * rho * effective / ((1 - rho) * (1 - rho)));
        double logVariance = fade * 4 / (effective * (1 + rho) * (1 + rho));
        double degrees = 2 / ((2 / (effective - parameters)) + logVariance);
        return StudentT.InvCDF(0, 1, Math.Max(1, degrees), (1 + confidence) / 2) * Math.Exp(logVariance / 2);
    }

    private void Set(double rho)
    {
        if (rho == _rho)
        {
            return;
        }

        _rho = rho;
        double log = Math.Log(rho);
        double plainShare = 1 / Math.Sqrt(1 - (rho * rho));
        double sum = 0;
        for (int i = 0; i < _gaps.Length; i++)
        {
            bool even = Math.Abs(_gaps[i] - 1) < 1e-9;
            double weight = rho == 0 ? 0 : even ? rho : Math.Exp(log * _gaps[i]);
            _weights[i] = weight;
            _shares[i] = even || rho == 0 ? plainShare : 1 / Math.Sqrt(1 - (weight * weight));
            sum -= 2 * Math.Log(_shares[i]);
        }

        _logDeterminant = sum;
    }
}
