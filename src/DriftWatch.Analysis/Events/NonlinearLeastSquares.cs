using DriftWatch.Analysis.Relations;
using MathNet.Numerics.LinearAlgebra;
using MathNet.Numerics.Optimization;

namespace DriftWatch.Analysis.Events;

/// <summary>Least squares of a model that isn't linear in its parameters.</summary>
/// <param name="Parameters">In the order of the start.</param>
/// <param name="StandardErrors">Of each, of the linearised problem with the residuals' own variance.</param>
/// <param name="Squares">Residual sum of squares.</param>
/// <param name="ResidualDeviation">√(Squares/(n−p)).</param>
/// <param name="RelativeOffset">The convergence criterion of Bates and Watts at the answer, no unit: 0 at a perfect optimum.</param>
public sealed record NonlinearFit(
    IReadOnlyList<double> Parameters, IReadOnlyList<double> StandardErrors, double Squares, double ResidualDeviation, double RelativeOffset);

/// <summary>
/// General nonlinear least squares. The search is the library's Levenberg-Marquardt (Marquardt 1963), which reports success also
/// where it stood still far from any optimum; so that its answer is never taken on trust, each is held against the
/// relative offset of Bates and Watts, 'A relative offset orthogonality convergence criterion for nonlinear least squares'
/// (Technometrics 23, 1981): the residuals' part in the plane of the model's derivatives over their part across it. That takes
/// derivatives that are independent; where a parameter has no effect at the stopping place, the answer is a shortfall too.
/// From a start so far off that the search strays, the product thus says nothing rather than something wrong.
/// A few steps of Gauss and Newton on derivatives of our own then give the last digits.
/// </summary>
public static class NonlinearLeastSquares
{
    /// <summary>Bates and Watts stop at 0.001, where parameters are within a thousandth of their intervals' size; steps here end far below it.</summary>
    public const double LargestOffset = 1e-4;

    /// <summary>
    /// Values and parameters are whole steps of their last digit, and on a huge offset these come to more than that: with a signal of a
    /// thousandth on 1e9 to some thousandths of an interval. What they make unsure is allowed for up to a tenth of an interval (derived).
    /// </summary>
    private const double LargestByRounding = 0.1;

    private const int MostIterations = 2000;

    /// <param name="model">Parameters and x to y; pure.</param>
    /// <param name="x">Any order.</param>
    /// <param name="y">As many.</param>
    /// <param name="start">A first guess of each parameter.</param>
    /// <returns>A shortfall where points are fewer than parameters + 1, where the data leave a parameter undetermined, or where no optimum was reached.</returns>
    /// <exception cref="ArgumentException">Lengths differ, there is no parameter, or a number is not finite.</exception>
    public static Answer<NonlinearFit> Fit(
        Func<IReadOnlyList<double>, double, double> model, ReadOnlySpan<double> x, ReadOnlySpan<double> y, ReadOnlySpan<double> start)
    {
        ArgumentNullException.ThrowIfNull(model);
        Statistics.Finite.Require(x);
        Statistics.Finite.Require(y);
        Statistics.Finite.Require(start);
        if (x.Length != y.Length)
        {
            throw new ArgumentException($"As many y as x are needed: {x.Length} x, {y.Length} y.", nameof(y));
        }

        if (start.Length == 0)
        {
            throw new ArgumentException("A model has at least one parameter.", nameof(start));
        }

        int p = start.Length;
        if (x.Length <= p)
        {
            return new Shortfall("points", x.Length, p + 1);
        }

        var problem = new Problem(model, x.ToArray(), y.ToArray(), start.ToArray());
        double[]? found = Search(problem, start.ToArray());
        if (found is null)
        {
            return new Shortfall("optimum", 0, 1);
        }

        for (int round = 0; round < 20; round++)
        {
            if (problem.Linearise(found) is not { } linear)
            {
                return new Shortfall("determined parameters", p - 1, p);
            }

            double[] next = [.. found.Select((b, j) => b + linear.Step[j])];
            double squares = problem.Squares(next);
            if (!(squares < linear.Squares) || next.Zip(found).All(pair => Math.Abs(pair.First - pair.Second) <= 1e-14 * Math.Abs(pair.First)))
            {
                break;
            }

            found = next;
        }

        if (problem.Linearise(found) is not { } last)
        {
            return new Shortfall("determined parameters", p - 1, p);
        }

        double deviation = Math.Sqrt(last.Squares / (x.Length - p));
        double largest = Math.Max(LargestOffset, Math.Min(LargestByRounding, Rounding(y) / deviation));
        if (!(last.Offset < largest))
        {
            return new Shortfall("digits of convergence", Math.Max(0, -Math.Log10(last.Offset)), -Math.Log10(largest));
        }

        return new NonlinearFit(found, [.. last.UnscaledErrors.Select(e => e * deviation)], last.Squares, deviation, last.Offset);
    }

    /// <summary>Length of a residual vector that is two steps of the greatest value's last digit everywhere, as a level that can't be set more finely leaves.</summary>
    private static double Rounding(ReadOnlySpan<double> y)
    {
        double greatest = 0;
        foreach (double value in y)
        {
            greatest = Math.Max(greatest, Math.Abs(value));
        }

        return 2 * (Math.BitIncrement(greatest) - greatest) * Math.Sqrt(y.Length);
    }

    private static double[]? Search(Problem problem, double[] start)
    {
        // Each parameter in units of its start, so that the search's first steps mean the same to all.
        double[] unit = [.. start.Select(b => b == 0 ? 1 : Math.Abs(b))];
        double[] Scaled(Vector<double> u) => [.. u.Select((value, j) => value * unit[j])];
        var objective = ObjectiveFunction.NonlinearModel(
            (u, at) =>
            {
                double[] b = Scaled(u);
                return at.Map(value => problem.Model(b, value));
            },
            Vector<double>.Build.Dense(problem.X),
            Vector<double>.Build.Dense(problem.Y),
            null,
            6);
        try
        {
            NonlinearMinimizationResult result = new LevenbergMarquardtMinimizer(1e-3, 1e-20, 1e-15, 1e-20, MostIterations)
                .FindMinimum(objective, Vector<double>.Build.Dense([.. start.Select((b, j) => b / unit[j])]));
            double[] found = Scaled(result.MinimizingPoint);
            return found.All(double.IsFinite) ? found : null;
        }
        catch (MathNet.Numerics.NumericalBreakdownException)
        {
            return null;
        }
        catch (EvaluationException)
        {
            return null;
        }
    }

    private readonly record struct Linearised(double[] Step, double[] UnscaledErrors, double Squares, double Offset);

    private sealed class Problem(Func<IReadOnlyList<double>, double, double> model, double[] x, double[] y, double[] start)
    {
        public Func<IReadOnlyList<double>, double, double> Model => model;

        public double[] X => x;

        public double[] Y => y;

        public double Squares(double[] b)
        {
            double sum = 0;
            for (int i = 0; i < x.Length; i++)
            {
                double residual = y[i] - model(b, x[i]);
                sum += residual * residual;
            }

            return sum;
        }

        public Linearised? Linearise(double[] b)
        {
            int n = x.Length;
            int p = b.Length;
            double[] residuals = [.. x.Select((at, i) => y[i] - model(b, at))];
            double squares = residuals.Sum(r => r * r);
            double[] size = new double[p];
            double[][] columns = new double[p][];
            for (int j = 0; j < p; j++)
            {
                columns[j] = Derivative(b, j);
                size[j] = Math.Sqrt(LinearSolve.Dot(columns[j], columns[j]));
                if (!(size[j] > 0) || !double.IsFinite(size[j]))
                {
                    return null;
                }

                for (int i = 0; i < n; i++)
                {
                    columns[j][i] /= size[j];
                }

                // A parameter that could change by its own size and not be seen among rounding has no effect.
                if (b[j] != 0 && size[j] * Math.Abs(b[j]) < 1e-10 * Math.Sqrt(squares))
                {
                    return null;
                }
            }

            if (LinearSolve.Solve(columns, residuals, n) is not { } solution)
            {
                return null;
            }

            double inPlane = Math.Max(0, squares - solution.Squares);
            double offset = squares > 0 ? Math.Sqrt(inPlane / p) / Math.Sqrt(Math.Max(solution.Squares, double.Epsilon) / (n - p)) : 0;
            return new Linearised(
                [.. solution.Coefficients.Select((c, j) => c / size[j])],
                [.. Enumerable.Range(0, p).Select(j => Math.Sqrt(solution.UnscaledVariance(j)) / size[j])],
                squares,
                offset);
        }

        /// <summary>
        /// Central differences of two spans, Richardson's rule: error of the fourth order. A span that moves the model by less than a million
        /// steps of its last digit, as on a huge offset, is widened, to a tenth of the parameter or of its start at most.
        /// </summary>
        private double[] Derivative(double[] b, int j)
        {
            double[] moved = [.. b];
            double[] At(double by)
            {
                moved[j] = b[j] + by;
                return [.. x.Select(value => model(moved, value))];
            }

            double span = 1e-4 * (b[j] == 0 ? 1 : Math.Abs(b[j]));
            double widest = 0.1 * Math.Max(Math.Abs(b[j]), Math.Abs(start[j]));
            double[] far = At(span), low = At(-span);
            while (span < widest && !Moves(far, low))
            {
                span = Math.Min(widest, 10 * span);
                (far, low) = (At(span), At(-span));
            }

            double[] near = At(span / 2), nearLow = At(-span / 2);
            double[] slope = new double[x.Length];
            for (int i = 0; i < slope.Length; i++)
            {
                double wide = (far[i] - low[i]) / (2 * span);
                double narrow = (near[i] - nearLow[i]) / span;
                slope[i] = ((4 * narrow) - wide) / 3;
            }

            return slope;
        }

        private static bool Moves(double[] far, double[] low)
        {
            double most = 0, greatest = 0;
            for (int i = 0; i < far.Length; i++)
            {
                most = Math.Max(most, Math.Abs(far[i] - low[i]));
                greatest = Math.Max(greatest, Math.Abs(far[i]));
            }

            return most > 1e6 * (Math.BitIncrement(greatest) - greatest);
        }
    }
}
