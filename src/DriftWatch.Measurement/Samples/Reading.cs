namespace DriftWatch.Measurement.Samples;

/// <summary>
/// What an instrument said for one sampling period: a finite raw number, optionally with the least and the greatest
/// seen inside the period, or a fault. Never NaN, never the last good value repeated. <c>default</c> is the fault
/// <see cref="FaultCode.Missing"/>, so that a forgotten reading can't pass for a measured zero.
/// </summary>
public readonly record struct Reading
{
    private readonly bool _hasValue;
    private readonly FaultCode _fault;
    private readonly double _raw;
    private readonly double _minimum;
    private readonly double _maximum;

    private Reading(double raw, double minimum, double maximum, bool hasExtremes)
    {
        _hasValue = true;
        _raw = raw;
        _minimum = minimum;
        _maximum = maximum;
        HasExtremes = hasExtremes;
    }

    private Reading(FaultCode fault) => _fault = fault;

    public bool IsFault => !_hasValue;

    /// <summary>The fault; only meaningful when <see cref="IsFault"/>.</summary>
    public FaultCode Fault => _fault;

    /// <summary>The raw value in the channel's raw unit. Throws for a fault: there is no number to give.</summary>
    public double Raw => _hasValue ? _raw : throw new InvalidOperationException($"This reading is a fault: {_fault}.");

    /// <summary>The least raw value inside the period; the value itself where the instrument gives no extremes.</summary>
    public double Minimum => HasExtremes ? _minimum : Raw;

    /// <summary>The greatest raw value inside the period; the value itself where the instrument gives no extremes.</summary>
    public double Maximum => HasExtremes ? _maximum : Raw;

    public bool HasExtremes { get; }

    /// <exception cref="ArgumentOutOfRangeException">The value is NaN or infinite: that is a fault, not a value.</exception>
    public static Reading Of(double raw)
    {
        RequireFinite(raw, nameof(raw));
        return new Reading(raw, raw, raw, hasExtremes: false);
    }

    /// <exception cref="ArgumentOutOfRangeException">A number is not finite, or minimum ≤ raw ≤ maximum does not hold.</exception>
    public static Reading Of(double raw, double minimum, double maximum)
    {
        RequireFinite(raw, nameof(raw));
        RequireFinite(minimum, nameof(minimum));
        RequireFinite(maximum, nameof(maximum));
        ArgumentOutOfRangeException.ThrowIfGreaterThan(minimum, raw);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(raw, maximum);
        return new Reading(raw, minimum, maximum, hasExtremes: true);
    }

    public static Reading Failed(FaultCode fault) => new(fault);

    public override string ToString() => IsFault ? "!" + _fault.ToSlug() : Raw.ToString("R", null);

    private static void RequireFinite(double value, string name)
    {
        if (!double.IsFinite(value))
        {
            throw new ArgumentOutOfRangeException(name, value, "A reading is a finite number or a fault.");
        }
    }
}
