using DriftWatch.Analysis.Statistics;
using MathNet.Numerics.LinearAlgebra;

namespace DriftWatch.Analysis.Calibrating;

/// <summary>
/// Fits calibration curves with uncertainty. The points' errors are taken as independent of each other; what all have in
/// common belongs into <see cref="CalibrationCurve.WithCommonUncertainty"/>. The order of points is of no account. Least
/// squares by QR on powers of x scaled to −1 … 1, which keeps a polynomial of degree 5 to nine digits and more.
/// </summary>
public static class CurveFit
{
    /// <summary>Higher degrees follow the noise, not the instrument: common practice, no source.</summary>
    public const int HighestDegree = 8;

    /// <summary>Rounds of York's iteration; some ten are usual.</summary>
    private const int MostRounds = 200;

    /// <summary>Least squares with equal, unknown errors in y; their size is taken from the residuals (JCGM 100:2008, H.3).</summary>
    /// <param name="x">Points, exact.</param>
    /// <param name="y">As many values.</param>
    /// <param name="degree">1 (a line) … 8.</param>
    /// <returns>A shortfall with fewer than degree+2 points or fewer than degree+1 different x.</returns>
    /// <exception cref="ArgumentException">A value is not finite, or lengths differ.</exception>
    public static Answer<CalibrationCurve> LeastSquares(ReadOnlySpan<double> x, ReadOnlySpan<double> y, int degree = 1) =>
        Fit(x, y, default, degree);

    /// <summary>Least squares weighted by the given uncertainty of each y, which are believed: ν is infinite and <see cref="CalibrationCurve.Misfit"/> says whether they may be.</summary>
    /// <param name="x">Points, exact.</param>
    /// <param name="y">As many values.</param>
    /// <param name="uncertainties">As many standard uncertainties of y, above zero.</param>
    /// <param name="degree">1 (a line) … 8.</param>
    /// <inheritdoc cref="LeastSquares"/>
    public static Answer<CalibrationCurve> Weighted(ReadOnlySpan<double> x, ReadOnlySpan<double> y, ReadOnlySpan<double> uncertainties, int degree = 1)
    {
        RequireUncertainties(uncertainties, x.Length, nameof(uncertainties));
        return Fit(x, y, uncertainties, degree);
    }

    /// <summary>
    /// The line through points with uncertainties in both coordinates, independent of each other: York, Evensen, Martínez and
    /// De Basabe Delgado, 'Unified equations for the slope, intercept, and standard errors of the best straight line',
    /// American Journal of Physics 72 (2004). The uncertainties are believed, as in <see cref="Weighted"/>.
    /// </summary>
    /// <param name="x">Points.</param>
    /// <param name="xUncertainties">Their standard uncertainties, above zero.</param>
    /// <param name="y">As many values.</param>
    /// <param name="yUncertainties">Theirs.</param>
    /// <returns>A shortfall with fewer than 3 points or 2 different x, or where no line settles.</returns>
    /// <exception cref="ArgumentException">A value is not finite, an uncertainty not above zero, or lengths differ.</exception>
    public static Answer<CalibrationCurve> BothUncertain(
        ReadOnlySpan<double> x, ReadOnlySpan<double> xUncertainties, ReadOnlySpan<double> y, ReadOnlySpan<double> yUncertainties)
    {
        RequireUncertainties(xUncertainties, x.Length, nameof(xUncertainties));
        RequireUncertainties(yUncertainties, x.Length, nameof(yUncertainties));
        Answer<CalibrationCurve> start = Fit(x, y, yUncertainties, 1);
        if (!start.IsKnown)
        {
            return start;
        }

        // About the means, so that a huge offset costs no digits.
        int n = x.Length;
        double x0 = Mean(x);
        double y0 = Mean(y);
        double slope = start.Value.Coefficients()[1].Value;
        var w = new double[n];
        var beta = new double[n];
        double xBar = 0, yBar = 0;
        for (int round = 0; round < MostRounds; round++)
        {
            double sumW = 0, sumX = 0, sumY = 0;
            for (int i = 0; i < n; i++)
            {
                w[i] = 1 / ((yUncertainties[i] * yUncertainties[i]) + (slope * slope * xUncertainties[i] * xUncertainties[i]));
                sumW += w[i];
                sumX += w[i] * (x[i] - x0);
                sumY += w[i] * (y[i] - y0);
            }

            xBar = sumX / sumW;
            yBar = sumY / sumW;
            double above = 0, below = 0;
            for (int i = 0; i < n; i++)
            {
                double u = x[i] - x0 - xBar;
                double v = y[i] - y0 - yBar;
                double varX = xUncertainties[i] * xUncertainties[i];
                double varY = yUncertainties[i] * yUncertainties[i];
                beta[i] = w[i] * ((u * varY) + (slope * v * varX));
                above += w[i] * beta[i] * v;
                below += w[i] * beta[i] * u;
            }

            double next = above / below;
            if (!double.IsFinite(next))
            {
                return new Shortfall("lines that settle", 0, 1);
            }

            bool settled = Math.Abs(next - slope) <= 4 * double.Epsilon + (1e-15 * Math.Abs(next));
            slope = next;
            if (settled)
            {
                return York(x, y, x0, y0, w, beta, slope, xBar, yBar);
            }
        }

        return York(x, y, x0, y0, w, beta, slope, xBar, yBar);
    }

    private static CalibrationCurve York(
        ReadOnlySpan<double> x, ReadOnlySpan<double> y, double x0, double y0, double[] w, double[] beta, double slope, double xBar, double yBar)
    {
        // The uncertainties are taken at the adjusted points, where the line says that the true ones lie.
        double sumW = w.Sum();
        double adjusted = xBar + (Enumerable.Range(0, w.Length).Sum(i => w[i] * beta[i]) / sumW);
        double spread = 0;
        double squares = 0;
        for (int i = 0; i < w.Length; i++)
        {
            double u = xBar + beta[i] - adjusted;
            spread += w[i] * u * u;
            double residual = y[i] - y0 - yBar - (slope * (x[i] - x0 - xBar));
            squares += w[i] * residual * residual;
        }

        (double least, double greatest) = Range(x);
        double half = (greatest - least) / 2;
        double middle = least + half;
        double shift = middle - x0;
        double slopeVariance = 1 / spread;
        double distance = shift - adjusted;
        Matrix<double> covariance = Matrix<double>.Build.DenseOfArray(new[,]
        {
            { (1 / sumW) + (distance * distance * slopeVariance), distance * slopeVariance * half },
            { distance * slopeVariance * half, slopeVariance * half * half },
        });
        Vector<double> basis = Vector<double>.Build.DenseOfArray([y0 + yBar + (slope * (shift - xBar)), slope * half]);
        double misfit = Math.Sqrt(squares / (w.Length - 2));
        return new CalibrationCurve(basis, covariance, middle, half, least, greatest, misfit, double.PositiveInfinity, misfit, w.Length);
    }

    private static Answer<CalibrationCurve> Fit(ReadOnlySpan<double> x, ReadOnlySpan<double> y, ReadOnlySpan<double> uncertainties, int degree)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(degree, 1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(degree, HighestDegree);
        Finite.Require(x);
        Finite.Require(y);
        if (x.Length != y.Length)
        {
            throw new ArgumentException("As many values as points are needed.", nameof(y));
        }

        int n = x.Length;
        if (n < degree + 2)
        {
            return new Shortfall("points", n, degree + 2);
        }

        int distinct = Distinct(x);
        if (distinct < degree + 1)
        {
            return new Shortfall("different points", distinct, degree + 1);
        }

        (double least, double greatest) = Range(x);
        double half = (greatest - least) / 2;
        double middle = least + half;
        Matrix<double> design = Matrix<double>.Build.Dense(n, degree + 1);
        Vector<double> values = Vector<double>.Build.Dense(n);
        for (int i = 0; i < n; i++)
        {
            double z = (x[i] - middle) / half;
            double root = uncertainties.IsEmpty ? 1 : 1 / uncertainties[i];
            double power = root;
            for (int j = 0; j <= degree; j++)
            {
                design[i, j] = power;
                power *= z;
            }

            values[i] = root * (y[i] - y[0]);
        }

        var qr = design.QR(MathNet.Numerics.LinearAlgebra.Factorization.QRMethod.Thin);
        Vector<double> basis = qr.Solve(values);

        // One round of refinement: the residuals are fitted as well, which wins back the digits that a first solution lost.
        basis += qr.Solve(values - (design * basis));
        Vector<double> residuals = values - (design * basis);
        double squares = residuals * residuals;
        double variance = squares / (n - degree - 1);
        Matrix<double> inverse = qr.R.Inverse();
        Matrix<double> covariance = inverse * inverse.Transpose();
        basis[0] += y[0];
        return uncertainties.IsEmpty
            ? new CalibrationCurve(basis, variance * covariance, middle, half, least, greatest, Math.Sqrt(variance), n - degree - 1, null, n)
            : new CalibrationCurve(basis, covariance, middle, half, least, greatest, Math.Sqrt(variance), double.PositiveInfinity, Math.Sqrt(variance), n);
    }

    private static void RequireUncertainties(ReadOnlySpan<double> uncertainties, int points, string name)
    {
        if (uncertainties.Length != points)
        {
            throw new ArgumentException("As many uncertainties as points are needed.", name);
        }

        foreach (double u in uncertainties)
        {
            if (!(u > 0 && double.IsFinite(u)))
            {
                throw new ArgumentException($"An uncertainty of {u} is not above zero.", name);
            }
        }
    }

    private static double Mean(ReadOnlySpan<double> values)
    {
        double sum = 0;
        foreach (double value in values)
        {
            sum += value - values[0];
        }

        return values[0] + (sum / values.Length);
    }

    private static (double Least, double Greatest) Range(ReadOnlySpan<double> x)
    {
        double least = x[0];
        double greatest = x[0];
        foreach (double value in x)
        {
            least = Math.Min(least, value);
            greatest = Math.Max(greatest, value);
        }

        return (least, greatest);
    }

    private static int Distinct(ReadOnlySpan<double> x)
    {
        var seen = new HashSet<double>();
        foreach (double value in x)
        {
            seen.Add(value);
        }

        return seen.Count;
    }
}
