using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Trend;

/// <summary>The readings that are not wild, about their means, and where each stands on the grid of the usual step.</summary>
internal sealed class KeptReadings
{
    private const int MostMedians = 50;

    private KeptReadings(double[] x, double[] y, int[] places, double meanTime, double meanValue, double step) =>
        (X, Y, Places, MeanTime, MeanValue, Step) = (x, y, places, meanTime, meanValue, step);

    /// <summary>Times about <see cref="MeanTime"/>.</summary>
    internal double[] X { get; }

    /// <summary>Values about <see cref="MeanValue"/>.</summary>
    internal double[] Y { get; }

    /// <summary>Rising numbers on the grid; holes are where readings are missing or were wild.</summary>
    internal int[] Places { get; }

    internal double MeanTime { get; }

    internal double MeanValue { get; }

    /// <summary>The median time from one reading to the next.</summary>
    internal double Step { get; }

    /// <summary>Three readings at least; times rise.</summary>
    internal static KeptReadings From(ReadOnlySpan<double> times, ReadOnlySpan<double> values, double wildFrom)
    {
        int n = times.Length;
        double slope = MediansSlope(times, values);
        double[] residuals = new double[n];
        for (int i = 0; i < n; i++)
        {
            residuals[i] = values[i] - values[0] - (slope * (times[i] - times[0]));
        }

        (double centre, double scale) = RobustScale.MadInPlace((double[])residuals.Clone());

        // Where more than half of the readings are on the line itself, such as those of a coarse instrument, the MAD is 0 and tells
        // nothing about the others.
        double limit = scale > 0 ? wildFrom * scale : double.PositiveInfinity;
        double[] gaps = new double[n - 1];
        for (int i = 1; i < n; i++)
        {
            gaps[i - 1] = times[i] - times[i - 1];
        }

        double step = Selection.Median(gaps);
        var x = new List<double>(n);
        var y = new List<double>(n);
        var places = new List<int>(n);
        double place = 0;
        for (int i = 0; i < n; i++)
        {
            // The gaps are rounded one by one: a slow clock must not pile up to a hole. None is counted longer than a thousand steps:
            // whatever was before is forgotten by then.
            place += i == 0 ? 0 : Math.Clamp(Math.Round((times[i] - times[i - 1]) / step), 1, 1000);
            if (Math.Abs(residuals[i] - centre) <= limit)
            {
                x.Add(times[i] - times[0]);
                y.Add(values[i] - values[0]);
                places.Add((int)Math.Min(place, int.MaxValue - n + i));
            }
        }

        double[] keptX = [.. x];
        double[] keptY = [.. y];
        double meanX = Points.Mean(keptX);
        double meanY = Points.Mean(keptY);
        for (int i = 0; i < keptX.Length; i++)
        {
            keptX[i] -= meanX;
            keptY[i] -= meanY;
        }

        return new KeptReadings(keptX, keptY, [.. places], times[0] + meanX, values[0] + meanY, step);
    }

    /// <summary>Theil-Sen through the medians of up to fifty blocks of three readings or more.</summary>
    private static double MediansSlope(ReadOnlySpan<double> times, ReadOnlySpan<double> values)
    {
        int n = times.Length;
        int blocks = Math.Min(MostMedians, n / 3);
        double[] t = new double[blocks];
        double[] m = new double[blocks];
        double[] scratch = new double[(n / blocks) + 1];
        for (int k = 0; k < blocks; k++)
        {
            (int start, int end) = Drift.Block(k, blocks, n);
            t[k] = Points.Mean(times[start..end]);
            Span<double> block = scratch.AsSpan(0, end - start);
            values[start..end].CopyTo(block);
            m[k] = Selection.Median(block);
        }

        return PairwiseSlopes.Median(t, m);
    }
}
