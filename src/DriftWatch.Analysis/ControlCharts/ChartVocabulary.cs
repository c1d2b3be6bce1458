namespace DriftWatch.Analysis.ControlCharts;

/// <summary>Which way a chart watches for a shift.</summary>
public enum ChartSide
{
    /// <summary>Upwards only.</summary>
    High,

    /// <summary>Downwards only.</summary>
    Low,

    /// <summary>Both ways.</summary>
    Both,
}

/// <summary>What a chart says of one value.</summary>
[Flags]
public enum ChartSignal
{
    None = 0,

    /// <summary>Above the upper limit.</summary>
    High = 1,

    /// <summary>Below the lower limit.</summary>
    Low = 2,

    /// <summary>The step from the value before is above the limit of the moving range.</summary>
    Range = 4,
}

/// <summary>
/// How rarely a chart may cry wolf, in time: the mean interval between false alarms that is wanted, at a sampling period.
/// </summary>
public readonly record struct FalseAlarmInterval
{
    /// <param name="samplingPeriodSeconds">Seconds from one charted value to the next; above 0.</param>
    /// <param name="wantedSeconds">Wanted mean seconds between false alarms; more than one sampling period.</param>
    /// <exception cref="ArgumentException">The two do not make an interval of more than one sample.</exception>
    public FalseAlarmInterval(double samplingPeriodSeconds, double wantedSeconds)
    {
        Require.Positive(samplingPeriodSeconds, nameof(samplingPeriodSeconds));
        if (!(wantedSeconds > samplingPeriodSeconds) || !double.IsFinite(wantedSeconds))
        {
            throw new ArgumentException("A false-alarm interval is finite and longer than a sampling period.", nameof(wantedSeconds));
        }

        (SamplingPeriodSeconds, WantedSeconds) = (samplingPeriodSeconds, wantedSeconds);
    }

    public double SamplingPeriodSeconds { get; }

    public double WantedSeconds { get; }

    /// <summary>The interval in samples: the in-control average run length that the chart is designed for.</summary>
    public double Samples => WantedSeconds / SamplingPeriodSeconds;
}

/// <summary>Checks of arguments that all charts share.</summary>
internal static class Require
{
    public static void Finite(ReadOnlySpan<double> values, string name)
    {
        foreach (double value in values)
        {
            if (!double.IsFinite(value))
            {
                throw new ArgumentException("Faults are taken out before a chart sees the values; all of them are finite.", name);
            }
        }
    }

    public static void Finite(double value, string name)
    {
        if (!double.IsFinite(value))
        {
            throw new ArgumentException("A finite number is needed.", name);
        }
    }

    public static void Positive(double value, string name)
    {
        if (!(value > 0) || !double.IsFinite(value))
        {
            throw new ArgumentException("A finite number above 0 is needed.", name);
        }
    }
}
