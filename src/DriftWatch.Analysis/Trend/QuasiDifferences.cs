namespace DriftWatch.Analysis.Trend;

/// <summary>
/// Least squares of a line under first-order autoregressive noise of a given ρ, for points on an even grid of which some may
/// be missing: a point g steps after the one before has the correlation ρ^g to it and brings the variance (1−ρ^2g)/(1−ρ²) of
/// an innovation anew. That is the exact Gaussian likelihood, since the noise has no memory but its last value.
/// </summary>
internal sealed class QuasiDifferences
{
    /// <summary>Beyond it a record can't be told from a random walk.</summary>
    internal const double LargestCorrelation = 0.9999;

    private readonly double[] _x;
    private readonly double[] _y;
    private readonly int[] _gaps;

    /// <param name="x">Times about their mean.</param>
    /// <param name="y">Values about some level.</param>
    /// <param name="places">Rising numbers on the grid; empty for 0, 1, 2 …</param>
    internal QuasiDifferences(double[] x, double[] y, ReadOnlySpan<int> places)
    {
        _x = x;
        _y = y;
        _gaps = new int[x.Length];
        for (int i = 1; i < x.Length; i++)
        {
            _gaps[i] = places.IsEmpty ? 1 : places[i] - places[i - 1];
        }
    }

    internal readonly record struct Sums(
        double S00, double S01, double S11, double Determinant, double Level, double Slope, double Residual, double LogVariances, int Rows);

    /// <param name="rho">ρ.</param>
    /// <param name="first">Keep the first point, at weight √(1−ρ²).</param>
    internal Sums At(double rho, bool first = true)
    {
        double s00 = 0, s01 = 0, s11 = 0, r0 = 0, r1 = 0, logVariances = 0;
        for (int i = first ? 0 : 1; i < _x.Length; i++)
        {
            (double one, double u, double v, double logVariance) = Row(i, rho);
            s00 += one * one;
            s01 += one * u;
            s11 += u * u;
            r0 += one * v;
            r1 += u * v;
            logVariances += logVariance;
        }

        double determinant = (s00 * s11) - (s01 * s01);
        double level = ((s11 * r0) - (s01 * r1)) / determinant;
        double slope = ((s00 * r1) - (s01 * r0)) / determinant;
        double residual = 0;
        for (int i = first ? 0 : 1; i < _x.Length; i++)
        {
            (double one, double u, double v, _) = Row(i, rho);
            double e = v - (level * one) - (slope * u);
            residual += e * e;
        }

        return new Sums(s00, s01, s11, determinant, level, slope, residual, logVariances, first ? _x.Length : _x.Length - 1);
    }

    /// <summary>The likeliest ρ: the best of a grid (the likelihood may have two humps), then golden section between its neighbours.</summary>
    /// <param name="restricted">By the likelihood of what the line leaves (REML), which is less biased.</param>
    /// <param name="width">How close is close enough.</param>
    internal double Likeliest(bool restricted, double width = 1e-10)
    {
        const int grid = 40;
        static double Node(int k) => Math.Clamp((2.0 * k / grid) - 1, -LargestCorrelation, LargestCorrelation);
        int best = 0;
        double most = double.NegativeInfinity;
        for (int k = 0; k <= grid; k++)
        {
            double here = LogLikelihood(Node(k), restricted);
            (best, most) = here > most ? (k, here) : (best, most);
        }

        const double golden = 0.6180339887498949;
        double low = Node(Math.Max(best - 1, 0));
        double high = Node(Math.Min(best + 1, grid));
        double a = high - (golden * (high - low));
        double b = low + (golden * (high - low));
        double atA = LogLikelihood(a, restricted);
        double atB = LogLikelihood(b, restricted);
        while (high - low > width)
        {
            if (atA > atB)
            {
                (high, b, atB) = (b, a, atA);
                a = high - (golden * (high - low));
                atA = LogLikelihood(a, restricted);
            }
            else
            {
                (low, a, atA) = (a, b, atB);
                b = low + (golden * (high - low));
                atB = LogLikelihood(b, restricted);
            }
        }

        return (low + high) / 2;
    }

    /// <summary>Less what doesn't depend on ρ. A line that fits exactly leaves no noise, and then any ρ does.</summary>
    private double LogLikelihood(double rho, bool restricted)
    {
        Sums sums = At(rho);
        double noise = Math.Log(Math.Max(sums.Residual, double.Epsilon));
        return restricted
            ? -0.5 * (sums.LogVariances + ((_x.Length - 2) * noise) + Math.Log(sums.Determinant))
            : -0.5 * (sums.LogVariances + (_x.Length * noise));
    }

    /// <summary>One, time and value of a row, freed of what the row before says, in units of an innovation; and the log of its variance.</summary>
    private (double One, double U, double V, double LogVariance) Row(int i, double rho)
    {
        if (i == 0)
        {
            double weight = Math.Sqrt(1 - (rho * rho));
            return (weight, weight * _x[0], weight * _y[0], -2 * Math.Log(weight));
        }

        if (_gaps[i] == 1)
        {
            return (1 - rho, _x[i] - (rho * _x[i - 1]), _y[i] - (rho * _y[i - 1]), 0);
        }

        double memory = Power(rho, _gaps[i]);
        double square = (1 - (rho * rho)) / (1 - (memory * memory));
        double scale = Math.Sqrt(square);
        return (scale * (1 - memory), scale * (_x[i] - (memory * _x[i - 1])), scale * (_y[i] - (memory * _y[i - 1])), -Math.Log(square));
    }

    /// <summary>ρ^g; most gaps are short, and for those multiplying is quicker than any power.</summary>
    internal static double Power(double rho, int gap)
    {
        if (gap > 8)
        {
            return Math.Pow(rho, gap);
        }

        double power = rho;
        for (int k = 1; k < gap; k++)
        {
            power *= rho;
        }

        return power;
    }
}
