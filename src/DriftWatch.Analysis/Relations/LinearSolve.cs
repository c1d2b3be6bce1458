using System.Numerics;

namespace DriftWatch.Analysis.Relations;

/// <summary>What linear least squares leaves: coefficients, residual sum of squares and the triangle that errors come from.</summary>
internal readonly record struct LinearSolution(double[] Coefficients, double Squares, double[,] Triangle)
{
    /// <summary>(X'X)⁻¹ at [i, i], from the triangle R of X = QR: the squared length of row i of R⁻¹.</summary>
    public double UnscaledVariance(int i)
    {
        int p = Coefficients.Length;
        double sum = 0;
        for (int column = i; column < p; column++)
        {
            double entry = Inverse(i, column);
            sum += entry * entry;
        }

        return sum;
    }

    /// <summary>ln |X'X|.</summary>
    public double LogDeterminant()
    {
        double sum = 0;
        for (int j = 0; j < Coefficients.Length; j++)
        {
            sum += 2 * Math.Log(Triangle[j, j]);
        }

        return sum;
    }

    private double Inverse(int row, int column)
    {
        // Entry of R⁻¹ by back substitution for one unit vector; p is at most a handful.
        Span<double> x = stackalloc double[column + 1];
        for (int i = column; i >= row; i--)
        {
            double sum = i == column ? 1 : 0;
            for (int k = i + 1; k <= column; k++)
            {
                sum -= Triangle[i, k] * x[k];
            }

            x[i] = sum / Triangle[i, i];
        }

        return x[row];
    }
}

/// <summary>
/// Linear least squares of few columns by modified Gram-Schmidt, which is as stable as Householder's QR for this purpose
/// (Björck, 'Numerical Methods for Least Squares Problems', SIAM 1996, section 2.4). Own and not the library's because the
/// searches above it solve the same small shape hundreds of times and must not make matrices each time.
/// </summary>
internal static class LinearSolve
{
    /// <summary>A column of which less than this share is new says nothing of its own: 1e-9 leaves half the digits of a double.</summary>
    private const double LeastNew = 1e-9;

    /// <param name="columns">Overwritten.</param>
    /// <param name="right">Overwritten by the residuals.</param>
    /// <param name="rows">How many rows of each are in use.</param>
    /// <returns>Null where a column is a combination of those before it.</returns>
    public static LinearSolution? Solve(double[][] columns, double[] right, int rows)
    {
        int p = columns.Length;
        double[,] triangle = new double[p, p];
        double[] projected = new double[p];
        Span<double> y = right.AsSpan(0, rows);
        for (int j = 0; j < p; j++)
        {
            Span<double> column = columns[j].AsSpan(0, rows);
            double before = Dot(column, column);
            for (int k = 0; k < j; k++)
            {
                ReadOnlySpan<double> unit = columns[k].AsSpan(0, rows);
                double share = Dot(unit, column);
                triangle[k, j] = share;
                Subtract(column, unit, share);
            }

            double length = Math.Sqrt(Dot(column, column));
            if (!(length > LeastNew * Math.Sqrt(before)) || !double.IsFinite(length))
            {
                return null;
            }

            triangle[j, j] = length;
            for (int i = 0; i < rows; i++)
            {
                column[i] /= length;
            }

            projected[j] = Dot(column, y);
            Subtract(y, column, projected[j]);
        }

        double[] coefficients = new double[p];
        for (int i = p - 1; i >= 0; i--)
        {
            double sum = projected[i];
            for (int k = i + 1; k < p; k++)
            {
                sum -= triangle[i, k] * coefficients[k];
            }

            coefficients[i] = sum / triangle[i, i];
        }

        return new LinearSolution(coefficients, Dot(y, y), triangle);
    }

    internal static double Dot(ReadOnlySpan<double> a, ReadOnlySpan<double> b)
    {
        var lanes = Vector<double>.Zero;
        int i = 0;
        for (; i <= a.Length - Vector<double>.Count; i += Vector<double>.Count)
        {
            lanes += new Vector<double>(a[i..]) * new Vector<double>(b[i..]);
        }

        double sum = Vector.Sum(lanes);
        for (; i < a.Length; i++)
        {
            sum += a[i] * b[i];
        }

        return sum;
    }

    private static void Subtract(Span<double> from, ReadOnlySpan<double> unit, double share)
    {
        for (int i = 0; i < from.Length; i++)
        {
            from[i] -= share * unit[i];
        }
    }
}
