using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Trend;

/// <summary>The line of repeated medians.</summary>
/// <param name="Slope">In value units a second (a unit of the times given).</param>
/// <param name="Intercept">The median of value − slope·time: the line's value at time 0.</param>
public readonly record struct RepeatedMediansFit(double Slope, double Intercept);

/// <summary>
/// The slope that bears up to half of wild points: the median over points of the median of each point's slopes to all others.
/// Siegel, 'Robust regression using repeated medians', Biometrika 69 (1982). O(n²) time and O(n) memory: for hundreds to some
/// thousands of points, such as a night's block medians, not for each of its readings.
/// </summary>
public static class RepeatedMedians
{
    /// <summary>Two points make a line and say nothing about a bad one.</summary>
    public const int LeastPoints = 3;

    /// <param name="times">In seconds, in any order; slopes to points of equal time are left out.</param>
    /// <param name="values">As many, in their unit.</param>
    /// <exception cref="ArgumentException">Lengths differ, or a number is not finite.</exception>
    public static Answer<RepeatedMediansFit> Fit(ReadOnlySpan<double> times, ReadOnlySpan<double> values)
    {
        Points.Check(times, values);
        int n = times.Length;
        if (n < LeastPoints)
        {
            return new Shortfall("points", n, LeastPoints);
        }

        if (Points.AllEqual(times))
        {
            return new Shortfall("different times", 1, 2);
        }

        double[] medians = new double[n];
        double[] slopes = new double[n];
        for (int i = 0; i < n; i++)
        {
            int count = 0;
            for (int j = 0; j < n; j++)
            {
                if (times[j] != times[i])
                {
                    slopes[count++] = (values[j] - values[i]) / (times[j] - times[i]);
                }
            }

            medians[i] = Selection.Median(slopes.AsSpan(0, count));
        }

        double slope = Selection.Median(medians);
        for (int i = 0; i < n; i++)
        {
            medians[i] = values[i] - (slope * times[i]);
        }

        return new RepeatedMediansFit(slope, Selection.Median(medians));
    }
}
