using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Relations;

/// <summary>How far one channel follows another, effect = Intercept + Slope·cause + noise.</summary>
/// <param name="Slope">Effect's unit by cause's unit.</param>
/// <param name="StandardError">Of the slope.</param>
/// <param name="Lower">Lower end of the slope's interval.</param>
/// <param name="Upper">Upper end.</param>
/// <param name="Intercept">Effect at cause 0, in the effect's unit.</param>
/// <param name="ExplainedShare">Share of the effect's variance that goes when the cause is taken out, 0 … 1, over the points used.</param>
/// <param name="Correlation">ρ of what is left, from one typical step to the next.</param>
/// <param name="EffectivePoints">n(1−ρ)/(1+ρ) of the points used.</param>
/// <param name="NoiseDeviation">Standard deviation of what is left, in the effect's unit.</param>
/// <param name="Points">How many points were used.</param>
/// <param name="LeftOut">How many were left out as wild.</param>
public readonly record struct KnownCauseFit(
    double Slope,
    double StandardError,
    double Lower,
    double Upper,
    double Intercept,
    double ExplainedShare,
    double Correlation,
    double EffectivePoints,
    double NoiseDeviation,
    int Points,
    int LeftOut)
{
    /// <summary>What is left of an effect when its known cause is taken out, in the effect's unit.</summary>
    public double Residual(double cause, double effect) => effect - Intercept - (Slope * cause);
}

/// <summary>
/// One channel's dependence on another where noise is correlated and points may be wild, such as a vacuum that follows the air
/// pressure. An MM-line finds the bulk (<see cref="RobustLine"/>), <see cref="OutlierScreen"/> leaves out what is wild in effect or
/// cause, and generalised least squares with first-order autoregressive noise give slope and error, ρ by restricted likelihood.
/// Noise in the cause itself flattens the slope, as in any regression, and more so here where the noise is strongly
/// correlated, because fast movements count most.
/// </summary>
public static class KnownCause
{
    /// <summary>The least effective sample size on which the interval has been shown to hold (this folder's README).</summary>
    public const double LeastEffectivePoints = 30;

    /// <param name="times">In seconds, rising.</param>
    /// <param name="causes">As many, in their unit.</param>
    /// <param name="effects">As many, in their unit.</param>
    /// <param name="confidence">Of the slope's interval.</param>
    /// <returns>A shortfall below 30 independent points, where the cause does not move, or where too many points are wild.</returns>
    /// <exception cref="ArgumentException">Lengths differ, a number is not finite, or times don't rise.</exception>
    public static Answer<KnownCauseFit> Fit(
        ReadOnlySpan<double> times, ReadOnlySpan<double> causes, ReadOnlySpan<double> effects, double confidence = 0.95)
    {
        Events.Traces.Check(times, effects);
        Events.Traces.Check(times, causes);
        Events.Traces.CheckConfidence(confidence);
        int n = times.Length;
        if (n < LeastEffectivePoints)
        {
            return new Shortfall("independent points", n, LeastEffectivePoints);
        }

        if (!causes.ContainsAnyExcept(causes[0]))
        {
            return new Shortfall("different values of the cause", 1, 2);
        }

        if (!effects.ContainsAnyExcept(effects[0]))
        {
            return new Shortfall("distinct values", 1, 2);
        }

        var whole = new Series(times, causes, effects);
        Answer<RobustLineFit> bulk = RobustLine.Fit(causes, effects, RobustMethod.Mm);
        if (!bulk.IsKnown)
        {
            return bulk.Missing!;
        }

        if (bulk.Value.Scale <= 1e-9 * Events.Traces.Range(effects))
        {
            // Rounding is all that is left: nothing to screen.
            return Line(whole, 0, confidence);
        }

        bool[] kept = OutlierScreen.Trusted(times, whole.Residuals(bulk.Value.Slope));
        if (TooFew(kept) is null && whole.Only(kept).Settle() is { } settled)
        {
            kept = OutlierScreen.Trusted(times, whole.Residuals(settled.Slope), settled.Rho);
        }

        return TooFew(kept) is { } missing ? missing : Line(whole.Only(kept), kept.Count(k => !k), confidence);
    }

    private static Shortfall? TooFew(bool[] kept)
    {
        int trusted = kept.Count(k => k);
        double least = Math.Ceiling((1 - OutlierScreen.MostWild) * kept.Length);
        return trusted < least ? new Shortfall("points that follow one line", trusted, least) : null;
    }

    private static Answer<KnownCauseFit> Line(Series series, int leftOut, double confidence)
    {
        if (series.Settle() is not { } settled)
        {
            return new Shortfall("different values of the cause", 1, 2);
        }

        int n = series.Count;
        double effective = Autocorrelation.EffectiveSampleSize(n, settled.Rho);
        if (effective < LeastEffectivePoints)
        {
            return new Shortfall("independent points", effective, LeastEffectivePoints);
        }

        double deviation = Math.Sqrt(settled.Solution.Squares / (n - 2));
        double error = deviation * Math.Sqrt(settled.Solution.UnscaledVariance(1));
        double reach = error * CorrelatedNoise.Reach(effective, settled.Rho, 2, confidence) * (leftOut > 0 ? OutlierScreen.Truncated : 1);
        return new KnownCauseFit(
            settled.Slope,
            error,
            settled.Slope - reach,
            settled.Slope + reach,
            series.Intercept(settled.Solution.Coefficients),
            series.ExplainedShare(settled.Slope),
            settled.Rho,
            effective,
            deviation,
            n,
            leftOut);
    }

    private sealed class Series
    {
        private readonly double[] _times;
        private readonly double[] _x;
        private readonly double[] _y;
        private readonly double _cause;
        private readonly double _effect;

        public Series(ReadOnlySpan<double> times, ReadOnlySpan<double> causes, ReadOnlySpan<double> effects)
        {
            (_times, _x, _y) = (times.ToArray(), causes.ToArray(), effects.ToArray());
            (_cause, _effect) = (causes[0], effects[0]);
            for (int i = 0; i < _x.Length; i++)
            {
                _x[i] -= _cause;
                _y[i] -= _effect;
            }
        }

        public int Count => _times.Length;

        public double Intercept(double[] c) => _effect + c[0] - (c[1] * _cause);

        public Series Only(bool[] kept)
        {
            double[] Kept(double[] all, double offset) => [.. all.Where((_, i) => kept[i]).Select(v => v + offset)];
            return new Series(Kept(_times, 0), Kept(_x, _cause), Kept(_y, _effect));
        }

        public (double Slope, double Rho, LinearSolution Solution)? Settle()
        {
            double[] ones = new double[Count];
            Array.Fill(ones, 1);
            var noise = new CorrelatedNoise(_times);
            double[][] columns = [ones, _x];
            double least = 1e-9 * Events.Traces.Range(_y);
            double? rho = noise.Solve(0, columns, _y) is { } plain && Math.Sqrt(plain.Squares / Count) <= least ? 0 : noise.Estimate(columns, _y);
            return rho is { } known && noise.Solve(known, columns, _y) is { } solution
                ? (solution.Coefficients[1], known, solution)
                : null;
        }

        public double[] Residuals(double slope) => [.. _y.Select((y, i) => y - (slope * _x[i]))];

        public double ExplainedShare(double slope)
        {
            double[] left = Residuals(slope);
            double before = SquaresAboutMean(_y);
            return before > 0 ? Math.Clamp(1 - (SquaresAboutMean(left) / before), 0, 1) : 0;
        }

        private static double SquaresAboutMean(double[] values)
        {
            double mean = values.Average();
            return values.Sum(v => (v - mean) * (v - mean));
        }
    }
}
