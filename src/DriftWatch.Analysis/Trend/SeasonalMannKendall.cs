using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Trend;

/// <summary>
/// The Mann-Kendall test within seasons: S and its variance are summed over the places of a cycle, so a cycle is no trend.
/// Hirsch, Slack and Smith, 'Techniques of trend analysis for monthly water quality data', Water Resources Research 18 (1982).
/// Takes the seasons as independent; where one season's noise lasts into the next, the variance is too small.
/// </summary>
public static class SeasonalMannKendall
{
    /// <param name="values">In the order of time, evenly spaced, from the first season on; the last cycle may be incomplete.</param>
    /// <param name="seasons">Values in a cycle, from 2.</param>
    /// <exception cref="ArgumentException">A value is not finite, or there are fewer than two seasons.</exception>
    public static Answer<MannKendallResult> Test(ReadOnlySpan<double> values, int seasons)
    {
        Finite.Require(values);
        if (seasons < 2)
        {
            throw new ArgumentException("A cycle has 2 seasons or more; without, ask Mann-Kendall.", nameof(seasons));
        }

        if (values.Length < MannKendall.LeastPoints || values.Length < 2 * seasons)
        {
            return new Shortfall("points", values.Length, Math.Max(MannKendall.LeastPoints, 2 * seasons));
        }

        long s = 0;
        double variance = 0;
        double[] season = new double[(values.Length / seasons) + 1];
        for (int first = 0; first < seasons; first++)
        {
            int count = 0;
            for (int i = first; i < values.Length; i += seasons)
            {
                season[count++] = values[i];
            }

            (long one, double oneVariance) = MannKendall.Score(season.AsSpan(0, count));
            s += one;
            variance += oneVariance;
        }

        return MannKendallResult.From(s, variance);
    }
}
