namespace DriftWatch.Analysis.ControlCharts;

/// <summary>
/// A cumulative-sum chart that takes values one by one, without allocation. After a signal it goes on summing, so that what
/// is drawn shows the whole excursion; <see cref="Restart"/> begins anew after somebody acted.
/// </summary>
public sealed class CusumChart
{
    private readonly double _target;
    private readonly double _perSigma;
    private readonly double _reference;
    private readonly double _decision;
    private readonly bool _watchesHigh;
    private readonly bool _watchesLow;

    /// <param name="design">The chart's numbers, in standard deviations.</param>
    /// <param name="target">The level in order, in the values' unit.</param>
    /// <param name="sigma">The standard deviation in order, in the values' unit, above 0.</param>
    /// <exception cref="ArgumentException">Target or sigma is not usable.</exception>
    public CusumChart(CusumDesign design, double target, double sigma)
    {
        Require.Finite(target, nameof(target));
        Require.Positive(sigma, nameof(sigma));
        Require.Positive(design.Decision, nameof(design)); // a default design has none
        Design = design;
        (_target, _perSigma, _reference, _decision) = (target, 1 / sigma, design.Reference, design.Decision);
        (_watchesHigh, _watchesLow) = (design.Side != ChartSide.Low, design.Side != ChartSide.High);
        Restart();
    }

    public CusumDesign Design { get; }

    /// <summary>C⁺, in standard deviations; 0 or more.</summary>
    public double High { get; private set; }

    /// <summary>C⁻, in standard deviations; 0 or more.</summary>
    public double Low { get; private set; }

    /// <summary>Values since C⁺ left 0: at a signal, the shift began about so many values ago (Page 1954).</summary>
    public long HighSince { get; private set; }

    /// <summary>Values since C⁻ left 0.</summary>
    public long LowSince { get; private set; }

    /// <summary>Takes the next value. Must be finite: faults never reach a chart.</summary>
    public ChartSignal Add(double value)
    {
        double z = (value - _target) * _perSigma;
        var signal = ChartSignal.None;
        if (_watchesHigh)
        {
            double sum = High + z - _reference;
            (High, HighSince) = sum > 0 ? (sum, HighSince + 1) : (0, 0);
            signal |= High > _decision ? ChartSignal.High : ChartSignal.None;
        }

        if (_watchesLow)
        {
            double sum = Low - z - _reference;
            (Low, LowSince) = sum > 0 ? (sum, LowSince + 1) : (0, 0);
            signal |= Low > _decision ? ChartSignal.Low : ChartSignal.None;
        }

        return signal;
    }

    /// <summary>Begins anew, at the head start.</summary>
    public void Restart()
    {
        (High, Low) = (_watchesHigh ? Design.HeadStart : 0, _watchesLow ? Design.HeadStart : 0);
        (HighSince, LowSince) = (0, 0);
    }

    /// <summary>Charts a whole record: both sums after each value, in standard deviations.</summary>
    /// <returns>Index of the first value that signals; −1 where none does.</returns>
    /// <exception cref="ArgumentException">A value is not finite, or a span for results is shorter than the values.</exception>
    public static int Run(CusumDesign design, double target, double sigma, ReadOnlySpan<double> values, Span<double> high, Span<double> low)
    {
        Require.Finite(values, nameof(values));
        Require.Finite(target, nameof(target));
        Require.Positive(sigma, nameof(sigma));
        if (high.Length < values.Length || low.Length < values.Length)
        {
            throw new ArgumentException("Room for as many sums as values is needed.", high.Length < values.Length ? nameof(high) : nameof(low));
        }

        int first = -1;
        double up = design.Side != ChartSide.Low ? design.HeadStart : double.NegativeInfinity;
        double down = design.Side != ChartSide.High ? design.HeadStart : double.NegativeInfinity;
        double scale = 1 / sigma;
        for (int i = 0; i < values.Length; i++)
        {
            double z = (values[i] - target) * scale;
            up = Sum(up + z - design.Reference);
            down = Sum(down - z - design.Reference);
            (high[i], low[i]) = (Math.Max(0, up), Math.Max(0, down));
            if (first < 0 && (high[i] > design.Decision || low[i] > design.Decision))
            {
                first = i;
            }
        }

        return first;

        // A side that is not watched stays below everything.
        static double Sum(double sum) => double.IsNegativeInfinity(sum) ? sum : Math.Max(0, sum);
    }
}
