using MathNet.Numerics.Distributions;

namespace DriftWatch.Analysis.Relations;

/// <summary>Cross products of two series on one grid by lag and by block of the record, with how many pairs each has.</summary>
internal sealed class BlockSums
{
    private readonly int _lags;
    private readonly int _blocks;
    private readonly double[,] _products;
    private readonly int[,] _pairs;
    private readonly double _size;

    public BlockSums(GappySeries x, GappySeries y, int lags, int blocks)
    {
        (_lags, _blocks) = (lags, blocks);
        _products = new double[blocks, (2 * lags) + 1];
        _pairs = new int[blocks, (2 * lags) + 1];
        int n = x.Values.Length;
        double[] px = [.. x.Present.Select(p => p ? 1.0 : 0)];
        double[] py = [.. y.Present.Select(p => p ? 1.0 : 0)];
        for (int block = 0; block < blocks; block++)
        {
            int from = (int)((long)n * block / blocks);
            int to = (int)((long)n * (block + 1) / blocks);
            for (int k = -lags; k <= lags; k++)
            {
                // xₜ with yₜ₊ₖ, t in the block, t+k in the record.
                int low = Math.Max(from, -k);
                int high = Math.Min(to, n - k);
                if (high > low)
                {
                    _products[block, k + lags] = LinearSolve.Dot(x.Values.AsSpan(low, high - low), y.Values.AsSpan(low + k, high - low));
                    _pairs[block, k + lags] = (int)Math.Round(LinearSolve.Dot(px.AsSpan(low, high - low), py.AsSpan(low + k, high - low)));
                }
            }
        }

        _size = Math.Sqrt(LinearSolve.Dot(x.Values, x.Values) / Math.Max(1, x.Filled)) * Math.Sqrt(LinearSolve.Dot(y.Values, y.Values) / Math.Max(1, y.Filled));
    }

    /// <summary>The lag of the greatest correlation of either sign, in steps, one block left out (−1: none).</summary>
    public (double Lag, double Correlation, bool AtEnd)? Peak(int without)
    {
        if (!(_size > 0))
        {
            return null;
        }

        double[] r = new double[(2 * _lags) + 1];
        int best = 0;
        for (int k = 0; k < r.Length; k++)
        {
            r[k] = Correlation(k, without);
            best = Math.Abs(r[k]) > Math.Abs(r[best]) ? k : best;
        }

        if (best == 0 || best == r.Length - 1)
        {
            return (best - _lags, r[best], true);
        }

        // Parabola through the three: none of its neighbours is greater, so the shift is within half a step.
        double sign = Math.Sign(r[best]);
        double before = sign * r[best - 1], at = sign * r[best], after = sign * r[best + 1];
        double bend = before - (2 * at) + after;
        double shift = bend < 0 ? (before - after) / (2 * bend) : 0;
        return (best - _lags + Math.Clamp(shift, -0.5, 0.5), r[best], false);
    }

    /// <summary>Of the greatest |r|·√pairs among all lags, were the series independent of each other.</summary>
    /// <param name="scatter">Deviation of r·√pairs then: 1 of white series.</param>
    public double RelationP(double scatter)
    {
        if (!(_size > 0))
        {
            return 1;
        }

        double most = 0;
        for (int k = 0; k < (2 * _lags) + 1; k++)
        {
            int pairs = 0;
            for (int block = 0; block < _blocks; block++)
            {
                pairs += _pairs[block, k];
            }

            most = Math.Max(most, Math.Abs(Correlation(k, -1)) * Math.Sqrt(pairs));
        }

        double single = 2 * Normal.CDF(0, 1, -most / scatter);
        return Math.Clamp(1 - Math.Pow(1 - single, (2 * _lags) + 1), 0, 1);
    }

    private double Correlation(int k, int without)
    {
        double sum = 0;
        int pairs = 0;
        for (int block = 0; block < _blocks; block++)
        {
            if (block != without)
            {
                sum += _products[block, k];
                pairs += _pairs[block, k];
            }
        }

        return pairs > 0 ? sum / pairs / _size : 0;
    }
}
