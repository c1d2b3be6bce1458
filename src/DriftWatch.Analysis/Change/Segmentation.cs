using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Change;

/// <summary>A record cut into regimes.</summary>
/// <param name="Changes">Index of the first sample of each new regime, rising; empty where one regime explains all.</param>
/// <param name="Cost">Cost of all segments plus the penalty for each change: what was made least.</param>
/// <param name="Penalty">The penalty for one change.</param>
public sealed record SegmentedRecord(IReadOnlyList<int> Changes, double Cost, double Penalty);

/// <summary>
/// Penalties for one change. A cost here is twice a negative log likelihood, so each parameter that a change adds costs ln n
/// by Schwarz's criterion: the new level and the instant make 2 ln n (Yao, Statistics and Probability Letters 6, 1988).
/// </summary>
public static class SegmentPenalty
{
    /// <summary>2 ln n: finds most; white noise of known size is cut in one record in twenty or so, with segments of five values or more (this folder's README).</summary>
    public static double Schwarz(int count) => 2 * Math.Log(RequireCount(count));

    /// <summary>
    /// 3 ln n: the leading part of the modified criterion of Zhang and Siegmund (Biometrics 63, 2007), which counts that the
    /// instant was searched for. White noise of known size is cut in one record in a hundred or fewer from 60 values on (this folder's README).
    /// </summary>
    public static double Strict(int count) => 3 * Math.Log(RequireCount(count));

    private static int RequireCount(int count) => count >= 2 ? count : throw new ArgumentException("A change needs two values.", nameof(count));
}

/// <summary>
/// Cuts a record into the regimes that make Σ cost(segment) + penalty·(number of changes) least; exactly, by the recursion
/// F(t) = min over s of F(s) + cost(s, t) + penalty, with the starts left out that can never be best again: PELT (Killick,
/// Fearnhead and Eckley, 'Optimal detection of changepoints with a linear computational cost', JASA 107, 2012). Linear in
/// time where changes keep coming; where none comes nothing can be left out and time goes with the square of the length.
/// </summary>
public static class Segmentation
{
    /// <summary>Regimes of a level with noise of a known size: cost Σ(x − mean)²/σ².</summary>
    /// <param name="values">In the order of time; finite.</param>
    /// <param name="sigma">Standard deviation of the noise in the values' unit, above 0; for autocorrelated noise the long-run one.</param>
    /// <param name="penalty">For each change, above 0; see <see cref="SegmentPenalty"/>.</param>
    /// <param name="least">Least values in a segment, 1 or more.</param>
    /// <exception cref="ArgumentException">A value is not finite, or a number is outside its range.</exception>
    public static Answer<SegmentedRecord> OfLevel(ReadOnlySpan<double> values, double sigma, double penalty, int least = 1)
    {
        Check(values, penalty, least);
        if (!(sigma > 0) || !double.IsFinite(sigma))
        {
            throw new ArgumentException("The noise's standard deviation is finite and above 0.", nameof(sigma));
        }

        return values.Length < least
            ? new Shortfall("points", values.Length, least)
            : Pelt.Run(new LevelCost(values, sigma), values.Length, penalty, least);
    }

    /// <summary>
    /// Regimes of a level and a noise of its own size: cost n·(ln 2πs² + RSS/(n·s²)) with s² = max(RSS/n, leastSigma²). A
    /// segment of few values that happen to agree looks like a regime without noise, so give <paramref name="least"/> ten
    /// values or more unless such segments are wanted.
    /// </summary>
    /// <param name="values">In the order of time; finite.</param>
    /// <param name="leastSigma">Least standard deviation, above 0: the instrument's resolution.</param>
    /// <param name="penalty">For each change, above 0.</param>
    /// <param name="least">Least values in a segment, 2 or more.</param>
    /// <exception cref="ArgumentException">A value is not finite, or a number is outside its range.</exception>
    public static Answer<SegmentedRecord> OfLevelAndNoise(ReadOnlySpan<double> values, double leastSigma, double penalty, int least = 10)
    {
        Check(values, penalty, least);
        if (least < 2)
        {
            throw new ArgumentException("One value has no noise: 2 or more in a segment.", nameof(least));
        }

        if (!(leastSigma > 0) || !double.IsFinite(leastSigma))
        {
            throw new ArgumentException("The least standard deviation is finite and above 0.", nameof(leastSigma));
        }

        return values.Length < least
            ? new Shortfall("points", values.Length, least)
            : Pelt.Run(new LevelAndNoiseCost(values, leastSigma), values.Length, penalty, least);
    }

    private static void Check(ReadOnlySpan<double> values, double penalty, int least)
    {
        Finite.Require(values);
        if (!(penalty > 0) || !double.IsFinite(penalty))
        {
            throw new ArgumentException("The penalty for a change is finite and above 0.", nameof(penalty));
        }

        if (least < 1)
        {
            throw new ArgumentException("A segment has one value or more.", nameof(least));
        }
    }
}
