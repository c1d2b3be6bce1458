using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Relations;

/// <summary>
/// Finds wild points among residuals that are correlated in time: a point is held against what its nearest trusted neighbours
/// on both sides predict of it, in units of that prediction's own error, and the worst goes first, so that it doesn't
/// take its neighbours with it. Under strong correlation the prediction is sharp, and an outlier well within the scatter
/// of the series is still found; such a one would otherwise pass for noise and make the correlation look weaker than it
/// is. The scale is the MAD of these differences. The cut of 3 is common practice, no source; a
/// normal point crosses it once in 370, and wild ones below it, which stay, no longer weaken the correlation much.
/// </summary>
internal static class OutlierScreen
{
    public const double Cut = 3;

    /// <summary>The deviation of a normal variable over that of one cut off at ±3: 1/√(1 − 6φ(3)/(2Φ(3)−1)); derived.</summary>
    public const double Truncated = 1.01363;

    /// <summary>Above this share of wild points what is left may be the wild part: about where the robust correlation breaks down.</summary>
    public const double MostWild = 0.3;

    private const int Rounds = 3;

    /// <param name="times">In seconds, rising.</param>
    /// <param name="residuals">Of a robust fit.</param>
    /// <param name="correlation">ρ where it is known better than from the residuals, wild ones among them.</param>
    /// <returns>True where the point is trusted.</returns>
    public static bool[] Trusted(ReadOnlySpan<double> times, ReadOnlySpan<double> residuals, double? correlation = null)
    {
        int n = residuals.Length;
        bool[] kept = new bool[n];
        Array.Fill(kept, true);
        double step = new CorrelatedNoise(times).Step;
        double rho = Math.Clamp(correlation ?? Robust(residuals), 0, 0.99);
        double centre = RobustScale.Median(residuals).Value;
        double[] e = new double[n];
        for (int i = 0; i < n; i++)
        {
            e[i] = residuals[i] - centre;
        }

        var chain = new Chain(times.ToArray(), e, rho, step, kept);
        double last = double.PositiveInfinity;
        for (int round = 0; round < Rounds; round++)
        {
            // Each pass leaves fewer wild points, so that the scale of the next one is truer.
            double scale = chain.Scale();
            if (!(scale > 0) || scale >= last)
            {
                break;
            }

            last = scale;
            chain.Drop(Cut * scale);
        }

        return kept;
    }

    private static double Robust(ReadOnlySpan<double> residuals)
    {
        Answer<FirstOrderEstimate> estimate = Autocorrelation.RobustFirstOrder(residuals);
        return estimate.IsKnown ? estimate.Value.Rho : 0;
    }

    /// <summary>The trusted points as a doubly linked list.</summary>
    private sealed class Chain(double[] times, double[] e, double rho, double step, bool[] kept)
    {
        private readonly int[] _before = [.. Enumerable.Range(-1, e.Length)];
        private readonly int[] _after = [.. Enumerable.Range(1, e.Length)];
        private readonly int[] _version = new int[e.Length];
        private readonly double _log = rho > 0 ? Math.Log(rho) : double.NegativeInfinity;

        public double Scale()
        {
            var differences = new List<double>(e.Length);
            for (int i = 0; i < e.Length; i++)
            {
                if (kept[i])
                {
                    differences.Add(Math.Abs(Surprise(i)));
                }
            }

            differences.Sort();
            return differences.Count == 0 ? 0 : RobustScale.MadFactor * differences[differences.Count / 2];
        }

        public void Drop(double limit)
        {
            var worst = new PriorityQueue<(int Index, int Version), double>();
            for (int i = 0; i < e.Length; i++)
            {
                Offer(i);
            }

            while (worst.TryDequeue(out (int Index, int Version) at, out _))
            {
                if (!kept[at.Index] || _version[at.Index] != at.Version)
                {
                    continue;
                }

                int before = _before[at.Index];
                int after = _after[at.Index];
                kept[at.Index] = false;
                if (before >= 0)
                {
                    _after[before] = after;
                    _version[before]++;
                    Offer(before);
                }

                if (after < e.Length)
                {
                    _before[after] = before;
                    _version[after]++;
                    Offer(after);
                }
            }

            void Offer(int i)
            {
                double surprise = kept[i] ? Math.Abs(Surprise(i)) : 0;
                if (surprise > limit)
                {
                    worst.Enqueue((i, _version[i]), -surprise);
                }
            }
        }

        /// <summary>Difference from the best linear prediction by the two neighbours, over that prediction's deviation in units of the noise's.</summary>
        private double Surprise(int i)
        {
            double a = _before[i] >= 0 ? Weight(times[i] - times[_before[i]]) : 0;
            double b = _after[i] < e.Length ? Weight(times[_after[i]] - times[i]) : 0;
            double x = _before[i] >= 0 ? e[_before[i]] : 0;
            double y = _after[i] < e.Length ? e[_after[i]] : 0;

            // Neighbours correlate ab with each other: weights a(1−b²)/(1−a²b²) and b(1−a²)/(1−a²b²), the rest (1−a²)(1−b²)/(1−a²b²).
            double both = 1 - (a * a * b * b);
            double predicted = ((a * (1 - (b * b)) * x) + (b * (1 - (a * a)) * y)) / both;
            double variance = (1 - (a * a)) * (1 - (b * b)) / both;
            return (e[i] - predicted) / Math.Sqrt(Math.Max(variance, 1e-12));
        }

        private double Weight(double distance) => rho > 0 ? Math.Exp(_log * distance / step) : 0;
    }
}
