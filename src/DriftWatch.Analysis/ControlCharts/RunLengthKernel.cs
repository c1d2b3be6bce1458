using MathNet.Numerics.Integration;
using MathNet.Numerics.LinearAlgebra;

namespace DriftWatch.Analysis.ControlCharts;

/// <summary>
/// One step of a chart that has not signalled, made discrete by quadrature (Nyström's method): entry (i, j) is the weight
/// with which the chart goes from its i-th state to its j-th without a signal. The average run length from every state
/// solves L = 1 + K·L; this is Page's integral equation (Page, 'Continuous inspection schemes', Biometrika 41, 1954) with
/// the integral replaced by a Gauss–Legendre sum.
/// </summary>
internal sealed class RunLengthKernel(Matrix<double> step)
{
    private readonly Matrix<double> _step = step;

    /// <summary>
    /// Orders whose nodes MathNet.Numerics holds as tables to all digits; those that it works out itself are good to ten only,
    /// which showed in the tenth digit of the run lengths.
    /// </summary>
    private static readonly int[] TabulatedOrders = [64, 96, 128, 256, 512];

    /// <summary>
    /// Nodes between two limits for a kernel that is a normal density: 4 per standard deviation of one step and some for the
    /// ends, which resolves it far below 1e-10.
    /// </summary>
    public static GaussLegendreRule Nodes(double from, double to, double widthInSteps)
    {
        double wanted = 24 + (4 * widthInSteps);
        int order = Array.Find(TabulatedOrders, o => o >= wanted);
        return new GaussLegendreRule(from, to, order == 0 ? TabulatedOrders[^1] : order);
    }

    /// <summary>Average run length from each state.</summary>
    public double[] Arl() => (Identity() - _step).Solve(Vector<double>.Build.Dense(_step.RowCount, 1)).ToArray();

    /// <summary>
    /// How a chart that has run for long without a signal is spread over its states (the quasi-stationary law, the left
    /// eigenvector of the largest eigenvalue; sums to 1). Inverse iteration about 1, the eigenvalue being just below it.
    /// </summary>
    public double[] LongRun()
    {
        const double settled = 1e-13;
        const int mostRounds = 10_000;
        var factors = (Identity() - _step).Transpose().LU();
        var law = Vector<double>.Build.Dense(_step.RowCount, 1.0 / _step.RowCount);
        for (int round = 0; round < mostRounds; round++)
        {
            Vector<double> next = factors.Solve(law);
            next /= next.Sum();
            double moved = (next - law).L1Norm();
            law = next;
            if (moved < settled)
            {
                break;
            }
        }

        return law.ToArray();
    }

    private Matrix<double> Identity() => Matrix<double>.Build.DenseIdentity(_step.RowCount);
}
