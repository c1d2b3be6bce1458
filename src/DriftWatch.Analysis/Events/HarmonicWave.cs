using DriftWatch.Analysis.Relations;

namespace DriftWatch.Analysis.Events;

/// <summary>A mean and a wave of several harmonics in correlated noise.</summary>
internal sealed class HarmonicWave
{
    private readonly double[] _t;
    private readonly double[] _y;
    private readonly CorrelatedNoise _noise;
    private readonly int _harmonics;
    private readonly double _length;

    public HarmonicWave(ReadOnlySpan<double> times, ReadOnlySpan<double> values, CorrelatedNoise noise, int harmonics)
    {
        (_noise, _harmonics) = (noise, harmonics);
        _length = times[^1] - times[0];
        double middle = times[0] + (_length / 2);
        _t = new double[times.Length];
        _y = new double[times.Length];
        for (int i = 0; i < _t.Length; i++)
        {
            _t[i] = times[i] - middle;
            _y[i] = values[i] - values[0];
        }
    }

    public readonly record struct Fit(double Frequency, double FrequencyError, double[] Amplitudes, double PeakToPeak);

    public double? Correlation(double frequency) => _noise.Estimate(Columns(frequency), _y);

    /// <summary>
    /// The share of noise that a wave at this frequency explains, as a likelihood ratio puts it: 1 − e^(−LR/n), where either hypothesis has the
    /// ρ that suits it best. For white noise it is the generalised power.
    /// </summary>
    public double LikelihoodPower(double frequency)
    {
        double[][] columns = Columns(frequency);
        return _noise.LeastDeviance([columns[0]], _y) is { } without && _noise.LeastDeviance(columns, _y) is { } with
            ? Math.Clamp(1 - Math.Exp((with - without) / _y.Length), 0, 1)
            : 0;
    }

    public double? Squares(double rho, double frequency) => _noise.Solve(rho, Columns(frequency), _y)?.Squares;

    /// <summary>From a frequency near the best to the best, with its error; null where the columns are not independent.</summary>
    public Fit? Solve(double rho, double frequency)
    {
        double f = frequency;
        for (int round = 0; round < 12; round++)
        {
            if (_noise.Solve(rho, Columns(f), _y) is not { } linear || _noise.Solve(rho, Tangent(f, linear.Coefficients), _y) is not { } solution)
            {
                return null;
            }

            // The tangent's last column is the change of the wave with frequency; its coefficient is the step.
            double step = solution.Coefficients[^1];
            int p = solution.Coefficients.Length;
            double error = Math.Sqrt(solution.Squares / Math.Max(1, _t.Length - p) * solution.UnscaledVariance(p - 1));
            bool settled = Math.Abs(step) < 1e-3 * error || Math.Abs(step) < 1e-12 * f;
            double moved = f + Math.Clamp(step, -0.1 / _length, 0.1 / _length);
            if (settled || round == 11 || Math.Abs(moved - frequency) > 1 / _length)
            {
                return new Fit(f, error, Amplitudes(linear.Coefficients), PeakToPeak(linear.Coefficients));
            }

            f = moved;
        }

        return null;
    }

    private static double[] Amplitudes(double[] c) =>
        [.. Enumerable.Range(0, (c.Length - 1) / 2).Select(h => Math.Sqrt((c[(2 * h) + 1] * c[(2 * h) + 1]) + (c[(2 * h) + 2] * c[(2 * h) + 2])))];

    private static double PeakToPeak(double[] c)
    {
        const int steps = 512;
        double least = double.PositiveInfinity, most = double.NegativeInfinity;
        for (int i = 0; i < steps; i++)
        {
            double sum = 0;
            for (int h = 1; 2 * h < c.Length; h++)
            {
                (double sin, double cos) = Math.SinCos(2 * Math.PI * h * i / steps);
                sum += (c[(2 * h) - 1] * cos) + (c[2 * h] * sin);
            }

            least = Math.Min(least, sum);
            most = Math.Max(most, sum);
        }

        return most - least;
    }

    private double[][] Columns(double frequency)
    {
        int n = _t.Length;
        double[][] columns = [.. Enumerable.Range(0, 1 + (2 * _harmonics)).Select(_ => new double[n])];
        for (int i = 0; i < n; i++)
        {
            columns[0][i] = 1;
            double turns = frequency * _t[i];
            for (int h = 1; h <= _harmonics; h++)
            {
                double part = h * turns;
                (columns[2 * h][i], columns[(2 * h) - 1][i]) = Math.SinCos(2 * Math.PI * (part - Math.Floor(part)));
            }
        }

        return columns;
    }

    private double[][] Tangent(double frequency, double[] c)
    {
        double[][] columns = Columns(frequency);
        double[] change = new double[_t.Length];
        for (int i = 0; i < change.Length; i++)
        {
            double sum = 0;
            for (int h = 1; h <= _harmonics; h++)
            {
                sum += h * ((c[2 * h] * columns[(2 * h) - 1][i]) - (c[(2 * h) - 1] * columns[2 * h][i]));
            }

            change[i] = 2 * Math.PI * _t[i] * sum;
        }

        return [.. columns, change];
    }
}
