using System.Numerics;

namespace DriftWatch.Analysis.Events;

/// <summary>
/// The sums of cosines and sines that every kind of Lomb-Scargle power is made of, for all frequencies of a grid. Each point's
/// cosine and sine turn from one frequency to the next by a complex multiplication; every 256 steps they are set afresh, so
/// that rounding can't add up beyond about 256 last digits. No approximation, and O(points × frequencies) at about a
/// nanosecond each. Points may be whitened: each column then is (xᵢ − weightᵢ·xᵢ₋₁)·shareᵢ.
/// </summary>
internal sealed class SpectrumSums
{
    private const int Refresh = 256;
    private const int Chunk = 512;

    private readonly double[] _t;
    private readonly double[] _ones;
    private readonly double[] _y;
    private readonly double[] _weights;
    private readonly double[] _shares;

    /// <param name="times">Measured from some origin near them, in seconds.</param>
    /// <param name="y">Whitened already.</param>
    /// <param name="ones">The constant, whitened already; zeros for a model without a mean.</param>
    /// <param name="weights">Of the point before, first 0.</param>
    /// <param name="shares">Factor of each.</param>
    public SpectrumSums(double[] times, double[] y, double[] ones, double[] weights, double[] shares) =>
        (_t, _y, _ones, _weights, _shares) = (times, y, ones, weights, shares);

    /// <summary>One frequency's sums: of the constant o, cosine c, sine s and values y, all whitened.</summary>
    internal struct At
    {
        public double Oc, Os, Cc, Cs, Ss, Cy, Sy;
    }

    public At[] Over(FrequencyGrid grid)
    {
        var sums = new At[grid.Count];
        int lanes = Vector<double>.Count;
        int room = Chunk + lanes + 1;
        double[] c = new double[room], s = new double[room], turnC = new double[room], turnS = new double[room];
        for (int from = 0; from < _t.Length; from += Chunk)
        {
            // Index 0 holds the point before the chunk, which whitening needs.
            int count = Math.Min(Chunk, _t.Length - from);
            for (int i = 0; i <= count; i++)
            {
                double t = _t[Math.Max(0, from + i - 1)];
                (turnS[i], turnC[i]) = Math.SinCos(2 * Math.PI * grid.Step * t);
            }

            for (int k = 0; k < grid.Count; k++)
            {
                if (k % Refresh == 0)
                {
                    double f = grid.At(k);
                    for (int i = 0; i <= count; i++)
                    {
                        double turns = f * _t[Math.Max(0, from + i - 1)];
                        (s[i], c[i]) = Math.SinCos(2 * Math.PI * (turns - Math.Floor(turns)));
                    }
                }
                else
                {
                    Turn(c, s, turnC, turnS, count + 1);
                }

                Add(ref sums[k], c, s, from, count);
            }
        }

        return sums;
    }

    private static void Turn(double[] c, double[] s, double[] turnC, double[] turnS, int count)
    {
        // Past the end there is room for a whole vector, whose contents nobody reads.
        for (int i = 0; i < count; i += Vector<double>.Count)
        {
            var cos = new Vector<double>(c, i);
            var sin = new Vector<double>(s, i);
            var byCos = new Vector<double>(turnC, i);
            var bySin = new Vector<double>(turnS, i);
            ((cos * byCos) - (sin * bySin)).CopyTo(c, i);
            ((sin * byCos) + (cos * bySin)).CopyTo(s, i);
        }
    }

    private void Add(ref At sum, double[] c, double[] s, int from, int count)
    {
        Vector<double> oc = default, os = default, cc = default, cs = default, ss = default, cy = default, sy = default;
        int i = 0;
        int lanes = Vector<double>.Count;
        for (; i <= count - lanes; i += lanes)
        {
            int at = from + i;
            var weight = new Vector<double>(_weights, at);
            var share = new Vector<double>(_shares, at);
            var o = new Vector<double>(_ones, at);
            var y = new Vector<double>(_y, at);
            Vector<double> cos = (new Vector<double>(c, i + 1) - (weight * new Vector<double>(c, i))) * share;
            Vector<double> sin = (new Vector<double>(s, i + 1) - (weight * new Vector<double>(s, i))) * share;
            oc += o * cos;
            os += o * sin;
            cc += cos * cos;
            cs += cos * sin;
            ss += sin * sin;
            cy += cos * y;
            sy += sin * y;
        }

        sum.Oc += Vector.Sum(oc);
        sum.Os += Vector.Sum(os);
        sum.Cc += Vector.Sum(cc);
        sum.Cs += Vector.Sum(cs);
        sum.Ss += Vector.Sum(ss);
        sum.Cy += Vector.Sum(cy);
        sum.Sy += Vector.Sum(sy);
        for (; i < count; i++)
        {
            int at = from + i;
            double cos = (c[i + 1] - (_weights[at] * c[i])) * _shares[at];
            double sin = (s[i + 1] - (_weights[at] * s[i])) * _shares[at];
            sum.Oc += _ones[at] * cos;
            sum.Os += _ones[at] * sin;
            sum.Cc += cos * cos;
            sum.Cs += cos * sin;
            sum.Ss += sin * sin;
            sum.Cy += cos * _y[at];
            sum.Sy += sin * _y[at];
        }
    }
}
