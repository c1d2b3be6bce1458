using MathNet.Numerics.Distributions;
using MathNet.Numerics.Random;

namespace DriftWatch.Analysis.Change;

/// <summary>What the statistics of <see cref="StepFinder"/> do on simulated series of the record's length, gaps and correlation.</summary>
internal sealed class StepSimulation
{
    /// <summary>Cuts for which the critical value is simulated; between them it is interpolated, being smooth.</summary>
    private const int Anchors = 9;

    /// <summary>
    /// Cuts are looked at whose likelihood-ratio statistic over the long-run variance is not above this. Its 95 % point is 7.35 in the
    /// limit of small steps (Hansen, Econometrica 68, 2000) and lower otherwise: three times as far is beyond doubt.
    /// </summary>
    private const double Beyond = 25;

    /// <summary>How many times as many series may be drawn for the claim.</summary>
    private const int MostExtra = 40;

    /// <summary>With more series than this beyond the record's own statistic they are counted. Common practice, no source.</summary>
    private const int FewBeyond = 2;

    /// <summary>Least series that a tail is made of. Common practice, no source.</summary>
    private const int LeastTail = 10;

    private readonly StepScan _scan;
    private readonly StepNoise _noise;
    private readonly int[] _places;
    private readonly int _least;
    private readonly StepOptions _options;
    private readonly int[] _anchors;
    private readonly Law _steps; // of the series with a step
    private readonly Law _none; // of those without
    private readonly double[][] _excess; // per anchor: (max G − Gₖ)/RSSₖ of each series
    private readonly double[] _residuals;
    private readonly List<double> _clear = []; // the claim's statistic of each series that can be compared
    private double _observed;

    /// <param name="scan">The record's cuts.</param>
    /// <param name="noise">Its noise: intervals are by it.</param>
    /// <param name="wary">The same, or slower if it may be slower: whether there is a step at all is judged by it.</param>
    /// <param name="places">Sample numbers.</param>
    /// <param name="least">Least number of values on a side.</param>
    /// <param name="options">As the caller has them.</param>
    public StepSimulation(StepScan scan, StepNoise noise, StepNoise wary, int[] places, int least, StepOptions options)
    {
        (_scan, _noise, _places, _least, _options) = (scan, noise, places, least, options);
        _steps = new Law(noise, noise.Rho + Selection(scan, noise));
        _none = wary == noise ? _steps : new Law(wary, wary.Rho + Selection(scan, wary));
        _residuals = new double[scan.Count];
        _anchors = AnchorsAbout();
        _excess = [.. _anchors.Select(_ => new double[options.Simulations])];
        Run();
    }

    /// <summary>
    /// The share of series without a step that look as clear as the record. Only those count whose best cut leaves enough on
    /// both sides, as the record's does: with another cut there would have been no answer, and the cuts near the ends are the
    /// ones that noise likes best. Where hardly one is as clear, the tail is carried on as an exponential one through its clearest tenth, as is
    /// usual for what lies beyond the largest of a sample (Pickands 1975, of shape 0; from memory): else a p value that is raised for short records could
    /// never get low enough for a plain step.
    /// </summary>
    public double PValue()
    {
        _clear.Sort();
        int count = _clear.Count;
        int beyond = count - _clear.TakeWhile(c => c < _observed).Count();
        double counted = (beyond + 1.0) / (count + 1);
        int tail = count / 10;
        if (beyond > FewBeyond || tail < LeastTail)
        {
            return counted;
        }

        double threshold = _clear[count - tail - 1];
        double excess = 0;
        for (int i = count - tail; i < count; i++)
        {
            excess += (_clear[i] - threshold) / tail;
        }

        return excess > 0 ? Math.Min(counted, (double)tail / count * Math.Exp(-(_observed - threshold) / excess)) : counted;
    }

    /// <summary>First and last cut that is not excluded.</summary>
    public (int From, int To) Interval()
    {
        double[] critical = [.. _excess.Select(Critical)];
        (int from, int to) = (_scan.Best, _scan.Best);
        int anchor = 0;
        for (int k = _anchors[0]; k <= _anchors[^1]; k++)
        {
            while (anchor < _anchors.Length - 2 && k > _anchors[anchor + 1])
            {
                anchor++;
            }

            int next = Math.Min(anchor + 1, _anchors.Length - 1);
            double share = next == anchor ? 0 : (double)(k - _anchors[anchor]) / (_anchors[next] - _anchors[anchor]);
            double limit = critical[anchor] + (share * (critical[next] - critical[anchor]));
            if (Excess(k) <= limit)
            {
                (from, to) = (Math.Min(from, k), Math.Max(to, k));
            }
        }

        return (from, to);
    }

    private double Excess(int k) => (_scan.Explained(_scan.Best) - _scan.Explained(k)) / (_scan.Squares - _scan.Explained(k));

    private double Critical(double[] excess)
    {
        Array.Sort(excess);
        return excess[Math.Min(excess.Length - 1, (int)Math.Ceiling(_options.Confidence * (excess.Length + 1)) - 1)];
    }

    /// <summary>
    /// A record that has just enough independent values for an answer more likely has an estimate of ρ that is too low than
    /// too high, for with a higher one there would be no answer: for a true ρ at the bound itself the estimates that pass are
    /// too low by 0.8 standard errors. This is the mean of a normal law cut off at the bound (derived).
    /// </summary>
    private static double Selection(StepScan scan, StepNoise noise)
    {
        double shorter = Math.Min(scan.Best, scan.Count - scan.Best);
        double inflation = (shorter / StepFinder.LeastEffective) - 1;
        double bound = inflation / ((2 * noise.SlowShare) + inflation);
        double room = (bound - noise.Rho) / noise.RhoError;
        return noise.RhoError * Normal.PDF(0, 1, room) / Normal.CDF(0, 1, room);
    }

    /// <summary>Cuts over all that can't be ruled out beforehand, dense about the best one.</summary>
    private int[] AnchorsAbout()
    {
        double limit = Beyond * _noise.LongRunVariance;
        int first = _scan.Best;
        int last = _scan.Best;
        for (int k = _least; k <= _scan.Count - _least; k++)
        {
            if (_scan.Explained(_scan.Best) - _scan.Explained(k) <= limit)
            {
                (first, last) = (Math.Min(first, k), Math.Max(last, k));
            }
        }

        var cuts = new SortedSet<int> { first, last, _scan.Best };
        const int half = Anchors / 2;
        for (int i = 1; i < half; i++)
        {
            double share = Math.Pow((double)i / half, 2);
            cuts.Add(_scan.Best - (int)(share * (_scan.Best - first)));
            cuts.Add(_scan.Best + (int)(share * (last - _scan.Best)));
        }

        return [.. cuts];
    }

    private void Run()
    {
        int n = _scan.Count;
        var random = new Xoshiro256StarStar(_options.Seed, threadSafe: false);
        double[] noise = new double[n];
        double[] sums = new double[n + 1];
        double[] weights = new double[n];
        for (int j = 1; j < n; j++)
        {
            weights[j] = n / ((double)j * (n - j));
        }

        _observed = _scan.Explained(_scan.Best) / _noise.LongRunVariance;
        var normal = new NormalStream(random);
        for (int b = 0; b < _options.Simulations; b++)
        {
            double squares = Draw(_steps, normal, noise, sums);
            if (_none == _steps)
            {
                Compare(noise, sums, weights);
            }

            for (int a = 0; a < _anchors.Length; a++)
            {
                _excess[a][b] = WithStep(_anchors[a], sums, squares, weights);
            }
        }

        // Where few of them can be compared, or the noise may be slower than it looks, series without a step are drawn for the claim alone.
        for (int b = 0; b < MostExtra * _options.Simulations && _clear.Count < _options.Simulations; b++)
        {
            _ = Draw(_none, normal, noise, sums);
            Compare(noise, sums, weights);
        }
    }

    /// <summary>The next series, its correlation drawn about the estimate, and the sums of its values.</summary>
    /// <returns>Its sum of squares.</returns>
    private double Draw(Law law, NormalStream normal, double[] noise, double[] sums)
    {
        // A negative correlation would make the intervals shorter; no estimate gets credit for that.
        double rho = Math.Clamp(law.Rho + (law.Noise.RhoError * normal.Next()), -0.95, 1 - (1.0 / noise.Length));
        double squares = Autoregressive(law.Noise.SlowShare, normal, rho, noise);
        for (int i = 0; i < noise.Length; i++)
        {
            sums[i + 1] = sums[i] + noise[i];
        }

        return squares;
    }

    private void Compare(double[] noise, double[] sums, double[] weights)
    {
        if (WithoutStep(noise, sums, weights) is { } clear)
        {
            _clear.Add(clear);
        }
    }

    /// <summary>A stationary series of variance 1 at the record's places.</summary>
    /// <returns>Its sum of squares.</returns>
    private double Autoregressive(double slowShare, NormalStream normal, double rho, double[] noise)
    {
        double fresh = Math.Sqrt(1 - (rho * rho));
        double share = Math.Sqrt(slowShare);
        double white = Math.Sqrt(1 - slowShare);
        double squares = 0, slow = 0;
        for (int i = 0; i < noise.Length; i++)
        {
            int gap = i == 0 ? int.MaxValue : _places[i] - _places[i - 1];
            if (gap == 1)
            {
                slow = (rho * slow) + (fresh * normal.Next());
            }
            else
            {
                double carried = i == 0 ? 0 : Math.Pow(rho, gap);
                slow = (carried * slow) + (Math.Sqrt(1 - (carried * carried)) * normal.Next());
            }

            noise[i] = white > 0 ? (share * slow) + (white * normal.Next()) : slow;
            squares += noise[i] * noise[i];
        }

        return squares;
    }

    /// <summary>The statistic of the claim on a series without a step; null where its best cut leaves too little on a side.</summary>
    private double? WithoutStep(double[] noise, double[] sums, double[] weights)
    {
        int n = noise.Length;
        double mean = sums[n] / n;
        (double best, int cut) = (-1, _least);
        for (int j = _least; j <= n - _least; j++)
        {
            double sum = sums[j] - (j * mean);
            double explained = sum * sum * weights[j];
            if (explained > best)
            {
                (best, cut) = (explained, j);
            }
        }

        StepNoise about = StepNoise.About(noise, _places, cut, sums[cut] / cut, (sums[n] - sums[cut]) / (n - cut), _residuals);
        if (about.Effective(Math.Min(cut, n - cut)) < StepFinder.LeastEffective)
        {
            return null;
        }

        return best / about.LongRunVariance;
    }

    /// <summary>
    /// (max G − Gₖ)/RSSₖ where the step is at k: the series keeps the record's means on both sides of k and its sum of squares
    /// about them, so only the course of the noise is drawn.
    /// </summary>
    private double WithStep(int k, double[] sums, double squares, double[] weights)
    {
        int n = _scan.Count;
        (double before, double after) = (sums[k] / k, (sums[n] - sums[k]) / (n - k));
        double about = squares - (k * before * before) - ((n - k) * after * after);
        double scale = 1 / Math.Sqrt(about);
        double step = (_scan.MeanAfter(k) - _scan.MeanBefore(k)) / Math.Sqrt(_scan.Squares - _scan.Explained(k));

        // Sum of the deviations from the one mean: that of the noise about its two means, and the step's triangle.
        double slopeBefore = -step * (n - k) / n;
        double slopeAfter = step * k / n;
        double best = 0;
        for (int j = _least; j <= k; j++)
        {
            double sum = ((sums[j] - (j * before)) * scale) + (j * slopeBefore);
            best = Math.Max(best, sum * sum * weights[j]);
        }

        double at = sums[k];
        double peak = k * slopeBefore;
        for (int j = k + 1; j <= n - _least; j++)
        {
            double sum = ((sums[j] - at - ((j - k) * after)) * scale) + peak + ((j - k) * slopeAfter);
            best = Math.Max(best, sum * sum * weights[j]);
        }

        return best - (peak * peak * weights[k]);
    }

    /// <summary>What series are drawn by: the noise, and the ρ about which theirs are.</summary>
    private readonly record struct Law(StepNoise Noise, double Rho);
}

/// <summary>Standard normal values by the polar method (Marsaglia and Bray 1964), two at a time.</summary>
internal sealed class NormalStream(RandomSource random)
{
    private double _spare;
    private bool _hasSpare;

    public double Next()
    {
        if (_hasSpare)
        {
            _hasSpare = false;
            return _spare;
        }

        while (true)
        {
            double u = (2 * random.NextDouble()) - 1;
            double v = (2 * random.NextDouble()) - 1;
            double square = (u * u) + (v * v);
            if (square is > 0 and < 1)
            {
                double factor = Math.Sqrt(-2 * Math.Log(square) / square);
                (_spare, _hasSpare) = (v * factor, true);
                return u * factor;
            }
        }
    }
}
