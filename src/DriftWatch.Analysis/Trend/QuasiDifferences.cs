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

    private readonly double _firstX;
    private readonly double _firstY;
    private readonly double _slope;
    private readonly int _points;
    private readonly (int Gap, Pairs Pairs)[] _classes;

    /// <param name="x">Times about their mean.</param>
    /// <param name="y">Values about their mean.</param>
    /// <param name="places">Rising numbers on the grid; empty for 0, 1, 2 …</param>
    internal QuasiDifferences(double[] x, double[] y, ReadOnlySpan<int> places)
    {
        // About the line by least squares what is left of the values is noise, so the squares below are not small differences of large ones.
        double xx = 0, xy = 0;
        for (int i = 0; i < x.Length; i++)
        {
            xx += x[i] * x[i];
            xy += x[i] * y[i];
        }

        _points = x.Length;
        _slope = xy / xx;
        _firstX = x[0];
        _firstY = y[0] - (_slope * x[0]);
        var classes = new SortedDictionary<int, Pairs>();
        Pairs neighbours = default;
        double before = _firstY;
        for (int i = 1; i < x.Length; i++)
        {
            int gap = places.IsEmpty ? 1 : places[i] - places[i - 1];
            double now = y[i] - (_slope * x[i]);
            if (gap == 1)
            {
                neighbours.Add(x[i - 1], before, x[i], now);
            }
            else
            {
                classes.TryGetValue(gap, out Pairs pairs);
                pairs.Add(x[i - 1], before, x[i], now);
                classes[gap] = pairs;
            }

            before = now;
        }

        classes[1] = neighbours;
        _classes = [.. classes.Select(pair => (pair.Key, pair.Value))];
    }

    internal readonly record struct Sums(
        double S00, double S01, double S11, double Determinant, double Level, double Slope, double Residual, double LogVariances, int Rows);

    /// <summary>Sums over the pairs of points of one gap: with them a fit costs the number of different gaps, not that of points.</summary>
    private record struct Pairs
    {
        public double Count;
        public double X, Y, X0, Y0;
        public double XX, XX0, X0X0, XY, XY0, X0Y, X0Y0, YY, YY0, Y0Y0;

        public void Add(double x0, double y0, double x, double y)
        {
            Count++;
            X += x;
            Y += y;
            X0 += x0;
            Y0 += y0;
            XX += x * x;
            XX0 += x * x0;
            X0X0 += x0 * x0;
            XY += x * y;
            XY0 += x * y0;
            X0Y += x0 * y;
            X0Y0 += x0 * y0;
            YY += y * y;
            YY0 += y * y0;
            Y0Y0 += y0 * y0;
        }
    }

    /// <param name="rho">ρ.</param>
    /// <param name="first">Keep the first point, at weight √(1−ρ²).</param>
    internal Sums At(double rho, bool first = true)
    {
        double s00 = 0, s01 = 0, s11 = 0, r0 = 0, r1 = 0, squares = 0, logVariances = 0;
        double fresh = 1 - (rho * rho);
        if (first)
        {
            s00 = fresh;
            s01 = fresh * _firstX;
            s11 = fresh * _firstX * _firstX;
            r0 = fresh * _firstY;
            r1 = fresh * _firstX * _firstY;
            squares = fresh * _firstY * _firstY;
            logVariances = -Math.Log(fresh);
        }

        foreach ((int gap, Pairs p) in _classes)
        {
            double m = Power(rho, gap);
            double weight = gap == 1 ? 1 : fresh / (1 - (m * m));
            double one = 1 - m;
            s00 += weight * p.Count * one * one;
            s01 += weight * one * (p.X - (m * p.X0));
            s11 += weight * (p.XX - (2 * m * p.XX0) + (m * m * p.X0X0));
            r0 += weight * one * (p.Y - (m * p.Y0));
            r1 += weight * (p.XY - (m * (p.XY0 + p.X0Y)) + (m * m * p.X0Y0));
            squares += weight * (p.YY - (2 * m * p.YY0) + (m * m * p.Y0Y0));
            logVariances -= p.Count * Math.Log(weight);
        }

        double determinant = (s00 * s11) - (s01 * s01);
        double level = ((s11 * r0) - (s01 * r1)) / determinant;
        double slope = ((s00 * r1) - (s01 * r0)) / determinant;
        double residual = Math.Max(0, squares - (level * r0) - (slope * r1));
        return new Sums(s00, s01, s11, determinant, level, _slope + slope, residual, logVariances, first ? _points : _points - 1);
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
            ? -0.5 * (sums.LogVariances + ((_points - 2) * noise) + Math.Log(sums.Determinant))
            : -0.5 * (sums.LogVariances + (_points * noise));
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
