using DriftWatch.Analysis.Relations;
using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Events;

/// <summary>
/// One recovery's points with the linear part of its model for any rate 1/τ: columns 1 and e^(−rate·t) where nothing is known,
/// e^(−rate·t) where the level is, 1−e^(−rate·t) where the start is. Values are kept about a known or first one, so that a huge
/// offset costs no digits.
/// </summary>
internal sealed class RecoveryCurve
{
    /// <summary>Residuals below this share of the values' range are rounding, and no point can be wild among them.</summary>
    internal const double LeastNoise = 1e-9;

    private readonly double[] _t;
    private readonly double[] _y;
    private readonly RecoveryTarget _target;
    private readonly double _offset;
    private readonly double[] _exponential;
    private readonly double[] _right;
    private readonly double[][] _work;

    public RecoveryCurve(ReadOnlySpan<double> times, ReadOnlySpan<double> values, RecoveryTarget target)
    {
        _target = target;
        Origin = target.Knowledge == RecoveryKnowledge.Start ? target.Time : times[0];
        if (Origin > times[0])
        {
            throw new ArgumentException("The known start lies behind the first time.", nameof(target));
        }

        _offset = target.Knowledge == RecoveryKnowledge.Nothing ? values[0] : target.Value;
        int n = times.Length;
        _t = new double[n];
        _y = new double[n];
        for (int i = 0; i < n; i++)
        {
            _t[i] = times[i] - Origin;
            _y[i] = values[i] - _offset;
        }

        Length = times[^1] - Origin;
        Noise = new CorrelatedNoise(_t);
        _exponential = new double[n];
        _right = new double[n];
        _work = [.. Enumerable.Range(0, target.Knowledge == RecoveryKnowledge.Nothing ? 2 : 1).Select(_ => new double[n])];
        Ones = new double[n];
        Array.Fill(Ones, 1);
    }

    public double Origin { get; }

    public double Length { get; }

    public int Points => _t.Length;

    public CorrelatedNoise Noise { get; }

    private double[] Ones { get; }

    public RecoveryCurve Only(bool[] kept)
    {
        double[] times = [.. _t.Where((_, i) => kept[i]).Select(t => t + Origin)];
        double[] values = [.. _y.Where((_, i) => kept[i]).Select(y => y + _offset)];
        return new RecoveryCurve(times, values, _target);
    }

    /// <summary>Whitened residual sum of squares at a rate, infinite where the columns are one.</summary>
    public double Squares(double rho, double rate) => Linear(rho, rate)?.Squares ?? double.PositiveInfinity;

    public (double Level, double Amplitude) Coefficients(double rho, double rate)
    {
        double[] c = Linear(rho, rate)!.Value.Coefficients;
        return _target.Knowledge switch
        {
            RecoveryKnowledge.Nothing => (_offset + c[0], c[1]),
            RecoveryKnowledge.Level => (_offset, c[0]),
            _ => (_offset + c[0], -c[0]),
        };
    }

    /// <summary>The linear problem with the rate's own column t·e^(−rate·t) last.</summary>
    public LinearSolution? Tangent(double rho, double rate) => Noise.Solve(rho, TangentColumns(rate), _y);

    /// <summary>ρ with the tangent taken out; 0 where nothing but rounding is left.</summary>
    public double? Correlation(double rate) =>
        Math.Sqrt(Squares(0, rate) / Points) <= LeastNoise * Traces.Range(_y) ? 0 : Noise.Estimate(TangentColumns(rate), _y);

    /// <summary>The curve without correlation first, then twice with what its residuals show of it.</summary>
    public (double Rate, double Rho)? Settle(double[] scan)
    {
        double rho = 0;
        double? rate = BestRate(rho, scan);
        for (int round = 0; round < 2 && rate is { } found; round++)
        {
            if (Correlation(found) is not { } correlation)
            {
                return null;
            }

            rho = correlation;
            rate = BestRate(rho, scan);
        }

        return rate is { } last ? (last, rho) : null;
    }

    /// <summary>Residuals of all points about the curve that the trusted ones give at a rate.</summary>
    public double[] ResidualsAt(double rate, bool[] trusted) => Residuals(rate, [.. trusted.Select(k => k ? 1.0 : 0)]);

    /// <summary>The rate of the least squares: the best of a scan, narrowed by golden section, then by Gauss and Newton to full digits.</summary>
    public double? BestRate(double rho, double[] scan)
    {
        int best = 0;
        double least = double.PositiveInfinity;
        for (int i = 0; i < scan.Length; i++)
        {
            double squares = Squares(rho, scan[i]);
            if (squares < least)
            {
                (best, least) = (i, squares);
            }
        }

        if (double.IsPositiveInfinity(least))
        {
            return null;
        }

        double low = Math.Log(scan[Math.Max(0, best - 1)]);
        double high = Math.Log(scan[Math.Min(scan.Length - 1, best + 1)]);
        double rate = Math.Exp(Search.Golden(log => Squares(rho, Math.Exp(log)), low, high, 1e-5));
        for (int round = 0; round < 8; round++)
        {
            if (Tangent(rho, rate) is not { } solution)
            {
                break;
            }

            double amplitude = Coefficients(rho, rate).Amplitude;
            double step = -solution.Coefficients[^1] / amplitude;
            if (!(Math.Abs(step) < 1e-4 * rate))
            {
                break;
            }

            rate += step;
            if (Math.Abs(step) < 1e-15 * rate)
            {
                break;
            }
        }

        return rate;
    }

    /// <summary>Residuals of Huber's fit, correlation left out of account: the scale is the MAD of the residuals, found in turn with the curve.</summary>
    public double[] RobustResiduals(double[] scan)
    {
        if (BestRate(0, scan) is not { } rate)
        {
            return [.. _y];
        }

        double[] residuals = Residuals(rate, null);
        double rounding = LeastNoise * Traces.Range(_y);
        for (int round = 0; round < 2; round++)
        {
            double scale = RobustScale.Mad(residuals).Value;
            if (!(scale > rounding))
            {
                break;
            }

            double[] from = residuals;
            double LossAt(double log) => Weighted(Math.Exp(log), from, scale).Sum(r => Loss.HuberRho(r / scale));
            int best = 0;
            double least = double.PositiveInfinity;
            for (int i = 0; i < scan.Length; i += 2)
            {
                double loss = LossAt(Math.Log(scan[i]));
                if (loss < least)
                {
                    (best, least) = (i, loss);
                }
            }

            double found = Search.Golden(LossAt, Math.Log(scan[Math.Max(0, best - 2)]), Math.Log(scan[Math.Min(scan.Length - 1, best + 2)]), 1e-5);
            residuals = Weighted(Math.Exp(found), from, scale);
        }

        return residuals;
    }

    private double[] Weighted(double rate, double[] start, double scale)
    {
        double[] weights = new double[Points];
        double[] residuals = start;
        for (int round = 0; round < 3; round++)
        {
            for (int i = 0; i < Points; i++)
            {
                weights[i] = Math.Sqrt(Loss.HuberWeight(residuals[i] / scale));
            }

            residuals = Residuals(rate, weights);
        }

        return residuals;
    }

    private double[] Residuals(double rate, double[]? weights)
    {
        double[][] columns = Columns(rate);
        double[][] work = _work;
        double[] residuals = [.. _y];
        for (int i = 0; i < residuals.Length; i++)
        {
            double weight = weights is null ? 1 : weights[i];
            _right[i] = weight * _y[i];
            for (int j = 0; j < columns.Length; j++)
            {
                work[j][i] = weight * columns[j][i];
            }
        }

        if (LinearSolve.Solve(work, _right, Points) is { } solution)
        {
            for (int j = 0; j < columns.Length; j++)
            {
                for (int i = 0; i < residuals.Length; i++)
                {
                    residuals[i] -= solution.Coefficients[j] * columns[j][i];
                }
            }
        }

        return residuals;
    }

    private LinearSolution? Linear(double rho, double rate) => Noise.Solve(rho, Columns(rate), _y, _work, _right);

    private double[][] Columns(double rate)
    {
        bool start = _target.Knowledge == RecoveryKnowledge.Start;
        for (int i = 0; i < _t.Length; i++)
        {
            _exponential[i] = start ? 1 - Math.Exp(-rate * _t[i]) : Math.Exp(-rate * _t[i]);
        }

        return _target.Knowledge == RecoveryKnowledge.Nothing ? [Ones, _exponential] : [_exponential];
    }

    private double[][] TangentColumns(double rate)
    {
        double[] tangent = new double[_t.Length];
        for (int i = 0; i < tangent.Length; i++)
        {
            tangent[i] = _t[i] * Math.Exp(-rate * _t[i]);
        }

        return [.. Columns(rate), tangent];
    }
}
