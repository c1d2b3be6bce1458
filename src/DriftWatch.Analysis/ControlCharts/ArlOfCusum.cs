using MathNet.Numerics.Distributions;
using MathNet.Numerics.Integration;
using MathNet.Numerics.LinearAlgebra;

namespace DriftWatch.Analysis.ControlCharts;

/// <summary>
/// Average run length of a cumulative-sum chart: the mean number of values up to and including the one that signals, for
/// independent normal values. One side solves Page's integral equation
/// L(s) = 1 + L(0)·Φ(k − s − δ) + ∫₀ʰ L(y)·φ(y + k − s − δ) dy by Gauss–Legendre nodes (Goel and Wu, Technometrics 13, 1971,
/// and R's package spc do the same); both sides together follow from the two single ones (van Dobben de Bruyn 1968; with a
/// head start Lucas and Crosier 1982). Relative error below 1e-8 for run lengths up to 1e8; beyond it grows with the run length
/// (about 1e-16 times it, for the equation becomes nearly singular).
/// </summary>
public static class ArlOfCusum
{
    /// <param name="design">The chart.</param>
    /// <param name="shift">How far the values' mean is from the target, in the design's standard deviations; 0 is in control.</param>
    /// <param name="spread">The values' true standard deviation over the one that the chart was designed with; above 0.</param>
    /// <returns>Values until the signal, counted from a fresh start (the zero state, which for a chart without head start is also the worst).</returns>
    public static double ZeroState(CusumDesign design, double shift, double spread = 1)
    {
        Check(design, shift, spread);
        switch (design.Side)
        {
            case ChartSide.High:
                return new OneSide(design, shift, spread).From(design.HeadStart);
            case ChartSide.Low:
                return new OneSide(design, -shift, spread).From(design.HeadStart);
            default:
                var up = new OneSide(design, shift, spread);
                var down = new OneSide(design, -shift, spread);
                (double up0, double down0) = (up.From(0), down.From(0));
                (double upHead, double downHead) = (up.From(design.HeadStart), down.From(design.HeadStart));
                return ((upHead * down0) + (up0 * downHead) - (up0 * down0)) / (up0 + down0);
        }
    }

    /// <summary>
    /// Mean number of values from the shift to the signal on a one-sided chart that has run in control for long without a
    /// false alarm (conditional steady state; <c>xcusum.ad</c> of R's spc gives the same).
    /// </summary>
    /// <exception cref="ArgumentException">The chart is two-sided: its steady state has two dimensions.</exception>
    public static double SteadyState(CusumDesign design, double shift, double spread = 1)
    {
        Check(design, shift, spread);
        if (design.Side == ChartSide.Both)
        {
            throw new ArgumentException("The steady state is computed for a one-sided chart.", nameof(design));
        }

        double[] law = new OneSide(design, 0, 1).Kernel.LongRun();
        double[] lengths = new OneSide(design, design.Side == ChartSide.High ? shift : -shift, spread).Kernel.Arl();
        return law.Zip(lengths, (weight, length) => weight * length).Sum();
    }

    /// <summary>
    /// Run length of a one-sided chart whose first value is shifted otherwise than the rest, as on residuals: the first one
    /// after a step of the level carries the whole step, the later ones only what prediction does not explain.
    /// </summary>
    internal static double AfterStep(CusumDesign design, double firstShift, double laterShift, double start)
    {
        double sign = design.Side == ChartSide.Low ? -1 : 1;
        var later = new OneSide(design, sign * laterShift, 1);
        return later.From(start, sign * firstShift);
    }

    private static void Check(CusumDesign design, double shift, double spread)
    {
        Require.Positive(design.Decision, nameof(design));
        Require.Finite(shift, nameof(shift));
        Require.Positive(spread, nameof(spread));
    }

    /// <summary>The equation of the upper sum; the lower one is the same with the shift turned about.</summary>
    private sealed class OneSide
    {
        private readonly double _reference;
        private readonly double _shift;
        private readonly double _spread;
        private readonly double[] _points; // the first is the 'wall' at 0, where the sum is with positive probability
        private readonly double[] _weights;
        private double[]? _lengths;

        public OneSide(CusumDesign design, double shift, double spread)
        {
            GaussLegendreRule rule = RunLengthKernel.Nodes(0, design.Decision, design.Decision / Math.Min(spread, 1));
            int nodes = rule.Order;
            (_reference, _shift, _spread) = (design.Reference, shift, spread);
            _points = [0, .. rule.Abscissas];
            _weights = [1, .. rule.Weights];
            Kernel = new RunLengthKernel(Matrix<double>.Build.Dense(nodes + 1, nodes + 1, (i, j) => Step(_points[i], j, _shift)));
        }

        public RunLengthKernel Kernel { get; }

        public double From(double start) => From(start, _shift);

        public double From(double start, double firstShift)
        {
            _lengths ??= Kernel.Arl();
            if (start == 0 && firstShift == _shift)
            {
                return _lengths[0];
            }

            double length = 1;
            for (int j = 0; j < _points.Length; j++)
            {
                length += Step(start, j, firstShift) * _lengths[j];
            }

            return length;
        }

        private double Step(double from, int to, double shift) => to == 0
            ? Normal.CDF(0, 1, (_reference - from - shift) / _spread)
            : _weights[to] * Normal.PDF(0, 1, (_points[to] + _reference - from - shift) / _spread) / _spread;
    }
}
