namespace DriftWatch.Analysis.ControlCharts;

/// <summary>
/// By what the mean moving range of two neighbours is divided to estimate the standard deviation. The choice shows in the
/// fourth digit of the limits, so it is declared.
/// </summary>
public enum MovingRangeDivisor
{
    /// <summary>d₂(2) = 2/√π = 1.128379…, the expected range of two standard normal values.</summary>
    Exact,

    /// <summary>1.128, as tables print it; with it the limit of the range is the printed 3.267 times the mean range.</summary>
    Printed,
}

/// <summary>
/// Limits of a Shewhart chart for individual values with its moving range: mean ± L·σ̂ with σ̂ = mean moving range / d₂, and
/// D₄·(mean moving range) for the range itself (NIST/SEMATECH e-Handbook 6.3.2.2 with L = 3 and the printed 1.128).
/// </summary>
/// <param name="Mean">Centre line, in the values' unit.</param>
/// <param name="Sigma">Standard deviation from the moving range, in the values' unit; above 0.</param>
/// <param name="Width">L.</param>
/// <param name="MeanRange">Mean moving range.</param>
/// <param name="RangeLimit">Upper limit of the moving range; infinite where the range is not watched.</param>
public readonly record struct IndividualsLimits(double Mean, double Sigma, double Width, double MeanRange, double RangeLimit)
{
    /// <summary>2/√π, the mean of |x − y| for independent standard normal x and y.</summary>
    public static readonly double ExactD2 = 2 / Math.Sqrt(Math.PI);

    /// <summary>As printed in tables of control-chart constants.</summary>
    public const double PrintedD2 = 1.128;

    /// <summary>D₄(2) = 1 + 3·d₃/d₂ with d₃ = √(2 − 4/π), the standard deviation of that range.</summary>
    public static readonly double ExactD4 = 1 + (3 * Math.Sqrt(2 - (4 / Math.PI)) / (2 / Math.Sqrt(Math.PI)));

    /// <summary>As printed in tables of control-chart constants.</summary>
    public const double PrintedD4 = 3.267;

    /// <summary>
    /// A mean range needs two values; what so few are worth is another matter (see the table of estimated limits in this
    /// folder's README).
    /// </summary>
    public const int LeastPoints = 2;

    public double Upper => Mean + (Width * Sigma);

    public double Lower => Mean - (Width * Sigma);

    /// <param name="values">A record in control, in the order of time; finite.</param>
    /// <param name="divisor">Which d₂ and D₄.</param>
    /// <param name="width">L; 3 is Shewhart's.</param>
    /// <param name="watchesRange">Whether the moving range signals too.</param>
    /// <returns>A shortfall for fewer than two values, or where no value differs from its neighbour, so that there is no scale.</returns>
    /// <exception cref="ArgumentException">A value is not finite, or the width is not above 0.</exception>
    public static Answer<IndividualsLimits> From(
        ReadOnlySpan<double> values, MovingRangeDivisor divisor = MovingRangeDivisor.Exact, double width = 3, bool watchesRange = true)
    {
        Require.Finite(values, nameof(values));
        Require.Positive(width, nameof(width));
        if (values.Length < LeastPoints)
        {
            return new Shortfall("points", values.Length, LeastPoints);
        }

        // About the first value, so that an offset a billion times the noise costs no digits.
        double sum = 0, ranges = 0;
        for (int i = 1; i < values.Length; i++)
        {
            sum += values[i] - values[0];
            ranges += Math.Abs(values[i] - values[i - 1]);
        }

        double meanRange = ranges / (values.Length - 1);
        if (meanRange == 0)
        {
            return new Shortfall("steps between neighbours", 0, 1);
        }

        (double d2, double d4) = divisor == MovingRangeDivisor.Exact ? (ExactD2, ExactD4) : (PrintedD2, PrintedD4);
        return new IndividualsLimits(
            values[0] + (sum / values.Length), meanRange / d2, width, meanRange, watchesRange ? d4 * meanRange : double.PositiveInfinity);
    }

    /// <summary>Limits for a level and a standard deviation that are known.</summary>
    /// <param name="mean">Level in order, in the values' unit.</param>
    /// <param name="sigma">Standard deviation, above 0.</param>
    /// <param name="design">Widths, from <see cref="ChartDesigner"/>.</param>
    public static IndividualsLimits Known(double mean, double sigma, IndividualsDesign design)
    {
        Require.Finite(mean, nameof(mean));
        Require.Positive(sigma, nameof(sigma));
        return new IndividualsLimits(mean, sigma, design.Width, ExactD2 * sigma, design.RangeWidth * sigma);
    }
}

/// <summary>Widths of an individuals chart, in standard deviations of the charted value.</summary>
/// <param name="Width">L: a value signals beyond it.</param>
/// <param name="RangeWidth">A step between neighbours signals above it; infinite where the range is not watched.</param>
public readonly record struct IndividualsDesign(double Width, double RangeWidth = double.PositiveInfinity);

/// <summary>A chart of individual values and their moving range that takes values one by one, without allocation.</summary>
public sealed class IndividualsChart(IndividualsLimits limits)
{
    private readonly double _upper = limits.Upper;
    private readonly double _lower = limits.Lower;
    private readonly double _rangeLimit = limits.RangeLimit;
    private double _last;
    private bool _hasLast;

    public IndividualsLimits Limits { get; } = limits;

    /// <summary>The last step between neighbours; 0 before the second value.</summary>
    public double Range { get; private set; }

    /// <summary>Takes the next value. Must be finite: faults never reach a chart.</summary>
    public ChartSignal Add(double value)
    {
        ChartSignal signal = value > _upper ? ChartSignal.High : value < _lower ? ChartSignal.Low : ChartSignal.None;
        if (_hasLast)
        {
            Range = Math.Abs(value - _last);
            signal |= Range > _rangeLimit ? ChartSignal.Range : ChartSignal.None;
        }

        (_last, _hasLast) = (value, true);
        return signal;
    }

    /// <summary>Forgets the last value, as after a gap or a restart.</summary>
    public void Restart() => (_last, _hasLast, Range) = (0, false, 0);

    /// <summary>Charts a whole record.</summary>
    /// <returns>What each value signals.</returns>
    /// <exception cref="ArgumentException">A value is not finite.</exception>
    public static ChartSignal[] Run(IndividualsLimits limits, ReadOnlySpan<double> values)
    {
        Require.Finite(values, nameof(values));
        var signals = new ChartSignal[values.Length];
        for (int i = 0; i < values.Length; i++)
        {
            bool range = i > 0 && Math.Abs(values[i] - values[i - 1]) > limits.RangeLimit;
            signals[i] = (values[i] > limits.Upper ? ChartSignal.High : ChartSignal.None)
                | (values[i] < limits.Lower ? ChartSignal.Low : ChartSignal.None)
                | (range ? ChartSignal.Range : ChartSignal.None);
        }

        return signals;
    }
}
