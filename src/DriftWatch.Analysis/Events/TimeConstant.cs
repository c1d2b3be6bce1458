using DriftWatch.Analysis.Relations;
using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Events;

/// <summary>A first-order recovery, value = Level + Amplitude·exp(−(t−Origin)/τ) + noise.</summary>
/// <param name="Seconds">τ in seconds, above 0.</param>
/// <param name="StandardError">Of τ in seconds, of the linearised problem.</param>
/// <param name="Lower">Lower end of the interval in seconds, by the profile of the likelihood: it is not symmetric.</param>
/// <param name="Upper">Upper end in seconds.</param>
/// <param name="Level">Where it ends, in the values' unit; the known one where it is known.</param>
/// <param name="Amplitude">Value minus level at the origin, in the values' unit; of either sign.</param>
/// <param name="Origin">The first time, or the known start's, in seconds.</param>
/// <param name="Correlation">ρ of the noise from one typical step to the next, 0 … 1.</param>
/// <param name="EffectivePoints">n(1−ρ)/(1+ρ) of the points used.</param>
/// <param name="NoiseDeviation">Standard deviation of the noise, in the values' unit.</param>
/// <param name="Points">How many points were used.</param>
/// <param name="LeftOut">How many were left out as wild.</param>
public readonly record struct TimeConstantFit(
    double Seconds,
    double StandardError,
    double Lower,
    double Upper,
    double Level,
    double Amplitude,
    double Origin,
    double Correlation,
    double EffectivePoints,
    double NoiseDeviation,
    int Points,
    int LeftOut)
{
    public double At(double time) => Level + (Amplitude * Math.Exp(-(time - Origin) / Seconds));
}

/// <summary>
/// The time constant of a first-order recovery whose noise is correlated and may hold wild points. For each τ the rest of
/// the model is linear, so that τ alone is searched, over the whole range that the record can show: no start to choose and no
/// wrong optimum (variable projection: Golub and Pereyra, SIAM Journal on Numerical Analysis 10, 1973). Noise: first-order
/// autoregressive in time (<see cref="CorrelatedNoise"/>), ρ by restricted likelihood with the model's tangent taken
/// out. Interval: all τ with (RSS(τ)−RSS)/(RSS/(n−p)) below the square of Student's t (the profile; Bates and Watts, 'Nonlinear
/// Regression Analysis and Its Applications', 1988, chapter 6), with what the uncertainty of ρ adds (<see cref="CorrelatedNoise.Reach"/>).
/// Wild points: Huber's loss finds the curve, <see cref="OutlierScreen"/> what to leave out.
/// Below 30 effective points, and where the record doesn't bound τ from both sides, the answer is a shortfall.
/// </summary>
public static class TimeConstant
{
    /// <summary>The least effective sample size on which the interval has been shown to hold (this folder's README).</summary>
    public const double LeastEffectivePoints = 30;

    /// <summary>The longest τ searched, in lengths of the record: beyond it a curve is a line to any noise served here. Derived: at 10 its bend is 1/80 of its rise.</summary>
    private const double LongestInRecords = 10;

    private const int ScanPoints = 36;

    /// <summary>From this effective size on the interval holds with wild points left out as it does without them.</summary>
    private const double SureAfterScreening = 60;

    /// <summary>
    /// By how much the interval is wider where wild points were left out of a short record: they make its correlation less certain, and
    /// of short records those are answered whose correlation came out low. By simulation (README): without it 88 to 94 % were
    /// covered at an effective size of 30.
    /// </summary>
    private static double Widening(double effective) => 1 + (Math.Max(0, SureAfterScreening - effective) / 150);

    /// <param name="times">In seconds, rising.</param>
    /// <param name="values">As many, in their unit; those of one recovery only.</param>
    /// <param name="target">What is known beforehand.</param>
    /// <param name="confidence">Of the interval.</param>
    /// <param name="screenOutliers">False: every point is believed.</param>
    /// <exception cref="ArgumentException">Lengths differ, a number is not finite, times don't rise, or a known start lies behind the first time.</exception>
    public static Answer<TimeConstantFit> Fit(
        ReadOnlySpan<double> times,
        ReadOnlySpan<double> values,
        RecoveryTarget target = default,
        double confidence = 0.95,
        bool screenOutliers = true)
    {
        Traces.Check(times, values);
        Traces.CheckConfidence(confidence);
        if (times.Length < LeastEffectivePoints)
        {
            return new Shortfall("independent points", times.Length, LeastEffectivePoints);
        }

        if (!values.ContainsAnyExcept(values[0]))
        {
            return new Shortfall("distinct values", 1, 2);
        }

        var curve = new RecoveryCurve(times, values, target);
        if (!screenOutliers)
        {
            return Fit(curve, confidence, 0);
        }

        double[] residuals = curve.RobustResiduals(Scan(curve));
        if (RobustScale.Mad(residuals).Value <= RecoveryCurve.LeastNoise * (Traces.Range(values)))
        {
            return Fit(curve, confidence, 0);
        }

        // Wild points make the correlation look weak and the first screen blunt; what is left after it tells the correlation better.
        bool[] kept = OutlierScreen.Trusted(times, residuals);
        if (TooFew(kept) is null && curve.Only(kept).Settle(Scan(curve)) is { } settled)
        {
            kept = OutlierScreen.Trusted(times, curve.ResidualsAt(settled.Rate, kept), settled.Rho);
        }

        return TooFew(kept) is { } missing ? missing : Fit(curve.Only(kept), confidence, kept.Count(k => !k));
    }

    private static Shortfall? TooFew(bool[] kept)
    {
        int trusted = kept.Count(k => k);
        double least = Math.Ceiling((1 - OutlierScreen.MostWild) * kept.Length);
        return trusted < least ? new Shortfall("points that follow one curve", trusted, least) : null;
    }

    /// <summary>Rates, from the fastest that two samples could show to the slowest that the record could.</summary>
    internal static double[] Scan(RecoveryCurve curve)
    {
        double low = Math.Log(1 / (LongestInRecords * curve.Length));
        double high = Math.Log(2 / curve.Noise.Step);
        return [.. Enumerable.Range(0, ScanPoints).Select(i => Math.Exp(low + ((high - low) * i / (ScanPoints - 1))))];
    }

    private static Answer<TimeConstantFit> Fit(RecoveryCurve curve, double confidence, int leftOut)
    {
        double[] scan = Scan(curve);
        if (curve.Settle(scan) is not { } settled)
        {
            return Unbounded(0);
        }

        (double rate, double rho) = settled;
        int n = curve.Points;
        double effective = Autocorrelation.EffectiveSampleSize(n, rho);
        if (effective < LeastEffectivePoints)
        {
            return new Shortfall("independent points", effective, LeastEffectivePoints);
        }

        if (curve.Tangent(rho, rate) is not { } solution)
        {
            return Unbounded(0);
        }

        int p = solution.Coefficients.Length;
        (double level, double amplitude) = curve.Coefficients(rho, rate);
        double squares = curve.Squares(rho, rate);
        double variance = squares / (n - p);
        double seconds = 1 / rate;
        double error = Math.Sqrt(variance * solution.UnscaledVariance(p - 1)) * seconds * seconds / Math.Abs(amplitude);
        double reach = CorrelatedNoise.Reach(effective, rho, p, confidence) * (leftOut > 0 ? OutlierScreen.Truncated * Widening(effective) : 1);
        double limit = squares + (variance * reach * reach);
        double Beyond(double log) => curve.Squares(rho, Math.Exp(log)) - limit;
        if (!(Beyond(Math.Log(scan[0])) > 0) || !(Beyond(Math.Log(scan[^1])) > 0))
        {
            return Unbounded(seconds / error);
        }

        double slow = Math.Exp(Outer(Beyond, Math.Log(rate), Math.Log(scan[0])));
        double fast = Math.Exp(Outer(Beyond, Math.Log(rate), Math.Log(scan[^1])));
        return new TimeConstantFit(
            seconds, error, 1 / fast, 1 / slow, level, amplitude, curve.Origin, rho, effective, Math.Sqrt(variance), n, leftOut);
    }

    /// <summary>The crossing nearest to the best rate on the way to an end.</summary>
    private static double Outer(Func<double, double> beyond, double from, double to)
    {
        const int steps = 48;
        double inside = from;
        for (int i = 1; i <= steps; i++)
        {
            double at = from + ((to - from) * i / steps);
            if (beyond(at) > 0)
            {
                return Search.Crossing(beyond, inside, at);
            }

            inside = at;
        }

        return to;
    }

    /// <summary>The record bounds τ on one side at most. About two standard errors part a bounded interval from this.</summary>
    private static Shortfall Unbounded(double errors) => new("standard errors in the time constant", double.IsFinite(errors) ? errors : 0, double.IsFinite(errors) ? Math.Max(3, Math.Ceiling(errors + 1)) : 3);
}
