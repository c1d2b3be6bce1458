namespace DriftWatch.Analysis.Events;

/// <summary>What is known beforehand of a first-order recovery, level + amplitude·exp(−t/τ).</summary>
public readonly record struct RecoveryTarget
{
    private RecoveryTarget(RecoveryKnowledge knowledge, double value, double time) => (Knowledge, Value, Time) = (knowledge, value, time);

    /// <summary>Nothing: level, amplitude and time constant are all fitted.</summary>
    public static RecoveryTarget Unknown { get; }

    internal RecoveryKnowledge Knowledge { get; }

    internal double Value { get; }

    internal double Time { get; }

    /// <summary>It ends at a level that is known, such as a regulator's setting.</summary>
    /// <param name="level">In the values' unit.</param>
    /// <exception cref="ArgumentException">The level is not finite.</exception>
    public static RecoveryTarget ToLevel(double level)
    {
        Statistics.Finite.Require(level);
        return new RecoveryTarget(RecoveryKnowledge.Level, level, 0);
    }

    /// <summary>It starts from a value that is known at a time that is known, such as a machine that warms up from the room's temperature.</summary>
    /// <param name="value">In the values' unit.</param>
    /// <param name="time">In seconds, on the scale of the times of the fit.</param>
    /// <exception cref="ArgumentException">One is not finite.</exception>
    public static RecoveryTarget FromStart(double value, double time)
    {
        Statistics.Finite.Require(value);
        Statistics.Finite.Require(time);
        return new RecoveryTarget(RecoveryKnowledge.Start, value, time);
    }
}

internal enum RecoveryKnowledge
{
    Nothing,
    Level,
    Start,
}
