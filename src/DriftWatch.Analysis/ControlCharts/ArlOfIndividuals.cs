using MathNet.Numerics.Distributions;
using MathNet.Numerics.Integration;
using MathNet.Numerics.LinearAlgebra;

namespace DriftWatch.Analysis.ControlCharts;

/// <summary>
/// Average run length of a Shewhart chart of individual, independent normal values: 1/P(outside) without the moving range;
/// with it the integral equation over the last value u, L(u) = 1 + ∫ L(v)·φ(v − δ) dv over v within both the limits and the
/// range of u (Crowder, 'Computation of ARL for combined individual measurement and moving range charts', Journal of Quality
/// Technology 19, 1987; the equation from memory, held against simulation and a Markov chain). The two charts together alarm
/// far more often than the one alone.
/// </summary>
public static class ArlOfIndividuals
{
    private const int NodesAPanel = 20;

    /// <param name="design">The chart.</param>
    /// <param name="shift">How far the values' mean is from the centre line, in the design's standard deviations.</param>
    /// <param name="spread">The values' true standard deviation over the one that the chart was designed with; above 0.</param>
    /// <returns>Values until the signal; the first value has no range yet.</returns>
    public static double Of(IndividualsDesign design, double shift, double spread = 1)
    {
        Require.Positive(design.Width, nameof(design));
        Require.Finite(shift, nameof(shift));
        Require.Positive(spread, nameof(spread));
        if (!(design.RangeWidth > 0))
        {
            throw new ArgumentException("The range's width is above 0.", nameof(design));
        }

        if (design.RangeWidth >= 2 * design.Width)
        {
            // No step inside the limits is that wide. Two tails, not one minus the middle: it keeps its digits when both are tiny.
            return 1 / (Normal.CDF(0, 1, (-design.Width - shift) / spread) + Normal.CDF(0, 1, (-design.Width + shift) / spread));
        }

        return WithRange(design, shift, spread);
    }

    private static double WithRange(IndividualsDesign design, double shift, double spread)
    {
        (double edge, double range) = (design.Width, design.RangeWidth);
        double[] breaks = Breaks(edge, range);
        int panels = breaks.Length - 1;
        var unit = new GaussLegendreRule(-1, 1, NodesAPanel);
        double[] barycentric = Barycentric(unit.Abscissas);
        double[] points = new double[panels * NodesAPanel];
        for (int p = 0; p < panels; p++)
        {
            for (int j = 0; j < NodesAPanel; j++)
            {
                points[(p * NodesAPanel) + j] = Map(unit.Abscissas[j], breaks[p], breaks[p + 1]);
            }
        }

        var step = Matrix<double>.Build.Dense(points.Length, points.Length);
        for (int i = 0; i < points.Length; i++)
        {
            Row(points[i] - range, points[i] + range, (column, weight) => step[i, column] += weight);
        }

        double[] lengths = new RunLengthKernel(step).Arl();
        double length = 1;
        Row(-edge, edge, (column, weight) => length += weight * lengths[column]);
        return length;

        // The integral of L·φ over the part of [from, to] within the limits, as weights on the nodes: within a panel L is
        // the polynomial through its nodes.
        void Row(double from, double to, Action<int, double> add)
        {
            for (int p = 0; p < panels; p++)
            {
                (double a, double b) = (Math.Max(from, breaks[p]), Math.Min(to, breaks[p + 1]));
                for (int q = 0; a < b && q < NodesAPanel; q++)
                {
                    double v = Map(unit.Abscissas[q], a, b);
                    double weight = unit.Weights[q] * (b - a) / 2 * Normal.PDF(0, 1, (v - shift) / spread) / spread;
                    double inPanel = ((2 * v) - breaks[p] - breaks[p + 1]) / (breaks[p + 1] - breaks[p]);
                    double[] basis = Basis(inPanel, unit.Abscissas, barycentric);
                    for (int j = 0; j < NodesAPanel; j++)
                    {
                        add((p * NodesAPanel) + j, weight * basis[j]);
                    }
                }
            }
        }
    }

    /// <summary>The run length has kinks where u ± range meets a limit, and weaker ones a further range away: panels end there.</summary>
    private static double[] Breaks(double edge, double range)
    {
        var breaks = new SortedSet<double> { -edge, 0, edge };
        for (double at = edge - range; at > -edge && breaks.Count < 20; at -= range)
        {
            breaks.Add(at);
            breaks.Add(-at);
        }

        return [.. breaks];
    }

    private static double Map(double unit, double a, double b) => ((a + b) + (unit * (b - a))) / 2;

    private static double[] Barycentric(double[] nodes) =>
        [.. nodes.Select(x => 1 / nodes.Where(y => y != x).Aggregate(1.0, (product, y) => product * 2 * (x - y)))];

    private static double[] Basis(double x, double[] nodes, double[] barycentric)
    {
        double[] basis = new double[nodes.Length];
        double sum = 0;
        for (int j = 0; j < nodes.Length; j++)
        {
            if (x == nodes[j])
            {
                Array.Clear(basis);
                basis[j] = 1;
                return basis;
            }

            basis[j] = barycentric[j] / (x - nodes[j]);
            sum += basis[j];
        }

        for (int j = 0; j < nodes.Length; j++)
        {
            basis[j] /= sum;
        }

        return basis;
    }
}
