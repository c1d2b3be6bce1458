using MathNet.Numerics.LinearAlgebra;

namespace DriftWatch.Analysis.RfHeads;

/// <summary>
/// A smoothing spline through scattered readings with the errors of what is read from it. The curve is a cubic, which can rise, dip
/// and rise by itself, plus a random walk integrated three times (a spline of the seventh degree), as smooth as the readings ask for by restricted likelihood: Kimeldorf and Wahba, 'A correspondence between Bayesian estimation on stochastic processes and smoothing by splines',
/// Annals of Mathematical Statistics 41 (1970); errors after Wahba, 'Bayesian confidence intervals for the cross-validated smoothing
/// spline', Journal of the Royal Statistical Society B 45 (1983), which hold what the smoothing takes off as well. Both from memory;
/// held against R's mgcv.
/// </summary>
internal sealed class SmoothCurve
{
    /// <summary>Order of the penalised derivative.</summary>
    private const int Order = 4;

    /// <summary>Fewer leave the scatter unknown; more keep short sweeps from following a narrow dip. Source: derived, by simulation.</summary>
    private const double LeastFreedom = 2;

    private readonly double[] _z;
    private readonly Matrix<double> _inverse;
    private readonly Matrix<double> _x;
    private readonly Matrix<double> _trend;
    private readonly Vector<double> _beta;
    private readonly Vector<double> _alpha;
    private readonly double _ratio;
    private readonly double _variance;

    private SmoothCurve(double[] z, Matrix<double> x, Restricted best, double ratio, double least, double greatest)
    {
        (_z, _x, _ratio) = (z, x, ratio);
        (_inverse, _trend, _beta, _alpha, _variance) = (best.Inverse, best.Trend, best.Beta, best.Alpha, best.Variance);
        (Least, Greatest) = (least, greatest);
        Freedom = best.Freedom(x);
    }

    public double Least { get; }

    public double Greatest { get; }

    /// <summary>How many parameters the curve is worth, 4 and more.</summary>
    public double EffectiveParameters => _z.Length - Freedom;

    /// <summary>Of a reading about the curve.</summary>
    public double Scatter => Math.Sqrt(_variance);

    /// <summary>Readings less <see cref="EffectiveParameters"/>.</summary>
    public double Freedom { get; }

    /// <param name="x">Finite, at least nine different ones.</param>
    /// <param name="y">As many.</param>
    public static SmoothCurve Through(ReadOnlySpan<double> x, ReadOnlySpan<double> y)
    {
        double[] copy = x.ToArray();
        double least = copy.Min();
        double greatest = copy.Max();
        double[] z = [.. copy.Select(v => (v - least) / (greatest - least))];
        var design = Matrix<double>.Build.Dense(z.Length, Order, (i, j) => Math.Pow(z[i], j));
        var kernel = Matrix<double>.Build.Dense(z.Length, z.Length, (i, j) => Kernel(z[i], z[j]));
        var values = Vector<double>.Build.DenseOfArray(y.ToArray());

        // From a plain cubic on, by thirds of a decade, then between the best one's neighbours. Not to a curve that follows every reading, though the
        // likelihood of a record without scatter asks for it: some freedom stays, or nothing could be said of errors.
        const double From = -2, Step = 1.0 / 3;
        const int Steps = 46;
        double last = From;
        (double Least, double At) best = (double.PositiveInfinity, From);
        for (int i = 0; i < Steps; i++)
        {
            double at = From + (i * Step);
            Restricted tried = Restricted.At(kernel, design, values, Math.Pow(10, at));
            if (tried.Freedom(design) < LeastFreedom)
            {
                break;
            }

            last = at;
            best = tried.Criterion < best.Least ? (tried.Criterion, at) : best;
        }

        double low = best.At - Step, high = Math.Min(best.At + Step, last);
        for (int i = 0; i < 25; i++)
        {
            double left = low + ((high - low) / 3), right = high - ((high - low) / 3);
            bool leftIsBetter = Restricted.At(kernel, design, values, Math.Pow(10, left)).Criterion
                < Restricted.At(kernel, design, values, Math.Pow(10, right)).Criterion;
            (low, high) = leftIsBetter ? (low, right) : (left, high);
        }

        double ratio = Math.Pow(10, (low + high) / 2);
        return new SmoothCurve(z, design, Restricted.At(kernel, design, values, ratio), ratio, least, greatest);
    }

    public double At(double x)
    {
        double s = Scaled(x);
        return Mean(Powers(s), Covariances(s));
    }

    /// <summary>The rise from one place to another, and its error.</summary>
    public (double Value, double Error) Rise(double from, double to)
    {
        double a = Scaled(from), b = Scaled(to);
        Vector<double> powers = Powers(b) - Powers(a);
        Vector<double> covariances = Covariances(b) - Covariances(a);
        return (Mean(powers, covariances), Error(powers, covariances, Kernel(a, a) + Kernel(b, b) - (2 * Kernel(a, b))));
    }

    /// <summary>The slope at a place, and its error, a unit of x.</summary>
    public (double Value, double Error) Slope(double x)
    {
        double s = Scaled(x);
        double unit = Greatest - Least;
        var powers = Vector<double>.Build.Dense(Order, j => j == 0 ? 0 : j * Math.Pow(s, j - 1));
        var covariances = Vector<double>.Build.Dense(_z.Length, i => _ratio * KernelSlope(s, _z[i]));
        return (Mean(powers, covariances) / unit, Error(powers, covariances, Math.Pow(s, 5) / 20) / unit);
    }

    private double Scaled(double x) => (x - Least) / (Greatest - Least);

    private static Vector<double> Powers(double s) => Vector<double>.Build.Dense(Order, j => Math.Pow(s, j));

    private Vector<double> Covariances(double s) => Vector<double>.Build.Dense(_z.Length, i => _ratio * Kernel(s, _z[i]));

    private double Mean(Vector<double> powers, Vector<double> covariances) => (powers * _beta) + (covariances * _alpha);

    private double Error(Vector<double> powers, Vector<double> covariances, double own)
    {
        Vector<double> solved = _inverse * covariances;
        Vector<double> rest = powers - (_x.TransposeThisAndMultiply(solved));
        return Math.Sqrt(Math.Max(0, _variance * ((_ratio * own) - (covariances * solved) + (rest * (_trend * rest)))));
    }

    /// <summary>∫(s−u)³(t−u)³/36 over u from 0 to the lesser: covariance of a random walk integrated three times.</summary>
    private static double Kernel(double s, double t)
    {
        double a = Math.Min(s, t), d = Math.Abs(s - t);
        return Math.Pow(a, 4) * ((a * a * a / 7) + (d * a * a / 2) + (3 * d * d * a / 5) + (d * d * d / 4)) / 36;
    }

    /// <summary>Derivative of the kernel by s.</summary>
    private static double KernelSlope(double s, double t)
    {
        double d = Math.Abs(s - t);
        return s <= t
            ? s * s * s * ((s * s * s / 6) + (3 * d * s * s / 5) + (3 * d * d * s / 4) + (d * d * d / 3)) / 12
            : Math.Pow(t, 4) * ((t * t / 6) + (2 * d * t / 5) + (d * d / 4)) / 12;
    }

    /// <summary>Generalised least squares for one ratio of the walk's variance to the readings', with −2 log restricted likelihood.</summary>
    private readonly record struct Restricted(
        Matrix<double> Inverse, Matrix<double> Trend, Vector<double> Beta, Vector<double> Alpha, double Variance, double Criterion)
    {
        /// <summary>Trace of what makes residuals of readings.</summary>
        public double Freedom(Matrix<double> x)
        {
            Matrix<double> weighted = Inverse * x;
            return Inverse.Trace() - (Trend * weighted.TransposeThisAndMultiply(weighted)).Trace();
        }

        public static Restricted At(Matrix<double> kernel, Matrix<double> x, Vector<double> y, double ratio)
        {
            int n = y.Count;
            var factor = (Matrix<double>.Build.DenseIdentity(n) + (ratio * kernel)).Cholesky();
            Matrix<double> inverse = factor.Solve(Matrix<double>.Build.DenseIdentity(n));
            Matrix<double> weighted = inverse * x;
            var normal = x.TransposeThisAndMultiply(weighted).Cholesky();
            Vector<double> beta = normal.Solve(weighted.TransposeThisAndMultiply(y));
            Vector<double> alpha = inverse * (y - (x * beta));
            double variance = Math.Max((y * alpha) / (n - Order), 1e-30);
            return new Restricted(
                inverse, normal.Solve(Matrix<double>.Build.DenseIdentity(Order)), beta, alpha, variance,
                ((n - Order) * Math.Log(variance)) + factor.DeterminantLn + normal.DeterminantLn);
        }
    }
}
