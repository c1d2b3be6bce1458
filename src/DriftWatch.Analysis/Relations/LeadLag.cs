using MathNet.Numerics.Distributions;

namespace DriftWatch.Analysis.Relations;

public enum LeadLagVerdict
{
    /// <summary>Which moved first can't be told; <see cref="LeadLagAnswer.Why"/> has the reason.</summary>
    CannotBeTold,

    /// <summary>The first channel moved first.</summary>
    FirstLeads,

    /// <summary>The second channel moved first.</summary>
    SecondLeads,
}

/// <summary>Why it can't be told.</summary>
public enum LeadLagReason
{
    None,

    /// <summary>Nothing beyond chance relates the two within the lags searched.</summary>
    NoRelation,

    /// <summary>They are related, but the interval of the lag holds 0.</summary>
    TooCloseToTell,

    /// <summary>The strongest relation lies at the end of the lags searched: it may lie beyond.</summary>
    AtTheEnd,
}

/// <summary>Which of two channels moved first.</summary>
/// <param name="Verdict">The claim; none at a level of 5 % unless it is one.</param>
/// <param name="Why">Why there is no claim.</param>
/// <param name="LagSeconds">By how much the second follows the first, in seconds; negative where it leads. The best guess even where nothing is claimed.</param>
/// <param name="Lower">Lower end of its interval in seconds.</param>
/// <param name="Upper">Upper end in seconds.</param>
/// <param name="RelationP">Probability that two unrelated channels show as strong a relation at any of the lags, 0 … 1.</param>
/// <param name="Correlation">Of the commonly whitened channels at the lag, −1 … 1: its sign says whether they move together or against each other.</param>
/// <param name="Pairs">Whitened values in both channels behind it, at most.</param>
public readonly record struct LeadLagAnswer(
    LeadLagVerdict Verdict, LeadLagReason Why, double LagSeconds, double Lower, double Upper, double RelationP, double Correlation, int Pairs);

/// <summary>
/// Which of two channels moved first, or that it can't be told. Whether they are related at all: each is whitened by an autoregression of its own; of
/// independent channels the cross-correlations then are independent with variance 1/n (Haugh, 'Checking the independence of two
/// covariance-stationary time series', JASA 71, 1976), and the greatest of all lags is judged as the greatest of so many. By how
/// much: both are whitened by one common filter, which leaves a pure delay where it is and narrows the peak (prewhitening: Box and
/// Jenkins, 'Time Series Analysis', chapter 11); the peak of the cross-correlation, by parabola through three lags, and its interval by
/// leaving out each of 20 blocks of the record in turn (jackknife: Tukey 1958; blocks: Künsch 1989). A common filter and not, as for
/// Granger's tests, each channel's past: noise in one channel would make the cleaner one seem to lead.
/// Gaps: lags are taken over what is there on a grid. Wild values are held at 3 robust deviations after whitening.
/// </summary>
public static class LeadLag
{
    /// <summary>20 blocks of at least 5 values. Source: derived from the blocks; the README's table starts there.</summary>
    public const int LeastPairs = 100;

    private const int Blocks = 20;
    private const int LongestFilter = 10;
    private const double Level = 0.05;

    /// <summary>
    /// How far, in steps, a parabola can miss a peak between two slots. Derived: of white channels a delay of a part f of a step leaves
    /// correlations 0, 1−f, f, through which the parabola has its top at f/(2(2−3f)), at most 0.167 from f. Intervals reach this much further.
    /// </summary>
    private const double BetweenSlots = 0.167;

    /// <param name="firstTimes">In seconds, rising.</param>
    /// <param name="first">As many, in their unit.</param>
    /// <param name="secondTimes">In seconds on the same clock, rising; need not be the same instants.</param>
    /// <param name="second">As many, in their unit.</param>
    /// <param name="stepSeconds">Of the grid: no finer than either channel's sampling.</param>
    /// <param name="longestLagSeconds">The longest lag searched either way.</param>
    /// <param name="confidence">Of the lag's interval.</param>
    /// <returns>A shortfall where fewer than 100 values in both are left once whitened, or where one is constant.</returns>
    /// <exception cref="ArgumentException">Lengths differ, a number is not finite, times don't rise, or step and lag are not 0 &lt; step ≤ lag.</exception>
    public static Answer<LeadLagAnswer> Find(
        ReadOnlySpan<double> firstTimes,
        ReadOnlySpan<double> first,
        ReadOnlySpan<double> secondTimes,
        ReadOnlySpan<double> second,
        double stepSeconds,
        double longestLagSeconds,
        double confidence = 0.95)
    {
        Events.Traces.Check(firstTimes, first);
        Events.Traces.Check(secondTimes, second);
        Events.Traces.CheckConfidence(confidence);
        if (!(stepSeconds > 0) || !double.IsFinite(stepSeconds))
        {
            throw new ArgumentException("A step is above 0 s.", nameof(stepSeconds));
        }

        if (!(longestLagSeconds >= stepSeconds) || !double.IsFinite(longestLagSeconds))
        {
            throw new ArgumentException("The longest lag is at least a step.", nameof(longestLagSeconds));
        }

        if (first.Length < LeastPairs || second.Length < LeastPairs)
        {
            return new Shortfall("points", Math.Min(first.Length, second.Length), LeastPairs);
        }

        if (!first.ContainsAnyExcept(first[0]) || !second.ContainsAnyExcept(second[0]))
        {
            return new Shortfall("distinct values", 1, 2);
        }

        double origin = Math.Max(firstTimes[0], secondTimes[0]);
        double end = Math.Min(firstTimes[^1], secondTimes[^1]);
        int slots = end > origin ? (int)Math.Min(int.MaxValue / 2, Math.Floor((end - origin) / stepSeconds)) + 1 : 0;
        int lags = (int)Math.Round(longestLagSeconds / stepSeconds);
        if (slots < Math.Max(LeastPairs, 4 * lags))
        {
            return new Shortfall("s of record in both", Math.Max(0, end - origin), Math.Max(LeastPairs, 4 * lags) * stepSeconds);
        }

        var x = GappySeries.OnGrid(firstTimes, first, origin, stepSeconds, slots);
        var y = GappySeries.OnGrid(secondTimes, second, origin, stepSeconds, slots);
        return Judge(x, y, lags, stepSeconds, confidence);
    }

    private static Answer<LeadLagAnswer> Judge(GappySeries x, GappySeries y, int lags, double step, double confidence)
    {
        double[] ownX = x.Autocorrelations(LongestFilter);
        double[] ownY = y.Autocorrelations(LongestFilter);
        GappySeries whiteX = Whitened(x, ownX);
        GappySeries whiteY = Whitened(y, ownY);
        double[] common = [.. ownX.Zip(ownY, (a, b) => (a + b) / 2)];
        GappySeries a = Whitened(x, common);
        GappySeries b = Whitened(y, common);
        int pairs = new[] { whiteX, whiteY, a, b }.Min(s => s.Filled);
        if (pairs < LeastPairs)
        {
            return new Shortfall("whitened values", pairs, LeastPairs);
        }

        double relation = new BlockSums(whiteX, whiteY, lags, 1).RelationP(Scatter(whiteX, whiteY));
        var sums = new BlockSums(a, b, lags, Blocks);
        if (sums.Peak(-1) is not { } lag)
        {
            return new Shortfall("distinct values", 1, 2);
        }

        double[] without = [.. Enumerable.Range(0, Blocks).Select(block => sums.Peak(block)?.Lag ?? lag.Lag)];
        double mean = without.Average();
        double error = Math.Sqrt((Blocks - 1.0) / Blocks * without.Sum(l => (l - mean) * (l - mean)));
        double reach = (StudentT.InvCDF(0, 1, Blocks - 1, (1 + confidence) / 2) * error) + BetweenSlots;
        double lower = (lag.Lag - reach) * step;
        double upper = (lag.Lag + reach) * step;
        LeadLagReason why = relation > Level ? LeadLagReason.NoRelation
            : lag.AtEnd ? LeadLagReason.AtTheEnd
            : lower <= 0 && upper >= 0 ? LeadLagReason.TooCloseToTell
            : LeadLagReason.None;
        LeadLagVerdict verdict = why != LeadLagReason.None ? LeadLagVerdict.CannotBeTold
            : lower > 0 ? LeadLagVerdict.FirstLeads
            : LeadLagVerdict.SecondLeads;
        return new LeadLagAnswer(verdict, why, lag.Lag * step, lower, upper, relation, lag.Correlation, pairs);
    }

    /// <summary>
    /// By how much correlations of two unrelated series scatter more than those of white ones, √(1 + 2Σ rₓ(j)·r_y(j)) (Bartlett 1935): wild values
    /// spoil the filters, and what is held at 3 deviations after them still remembers.
    /// </summary>
    private static double Scatter(GappySeries x, GappySeries y)
    {
        double sum = 1;
        double[] own = x.Autocorrelations(LongestFilter);
        double[] other = y.Autocorrelations(LongestFilter);
        for (int j = 1; j <= LongestFilter; j++)
        {
            sum += 2 * own[j] * other[j];
        }

        return Math.Sqrt(Math.Max(1, sum));
    }

    /// <summary>Filters shorten until gaps leave at least half of the values.</summary>
    private static GappySeries Whitened(GappySeries series, double[] autocorrelations)
    {
        int filled = series.Filled;
        for (int longest = LongestFilter; ; longest = longest == 1 ? 0 : (longest + 1) / 2)
        {
            double[] phi = AutoregressiveFilter.Best(autocorrelations[..(longest + 1)], filled);
            GappySeries white = series.Filtered(phi);
            if (longest == 0 || white.Filled >= filled / 2)
            {
                return white.Held(3);
            }
        }
    }
}
