namespace DriftWatch.Measurement.Samples;

/// <summary>
/// A fixed-length vector measured as one thing, such as the timing error over one revolution of the head wheel.
/// The axis (head and angle of each point) is declared once, with the channel. Values are raw and finite.
/// </summary>
public sealed class Frame : IEquatable<Frame>
{
    private readonly double[] _values;

    /// <param name="sequence">The instrument's own frame count; wraps at 2³².</param>
    /// <param name="tachAngleDegrees">Wheel angle at the first point, 0 ≤ angle &lt; 360.</param>
    /// <param name="values">Raw values, one a point of the axis. The array is owned by the frame from here on.</param>
    public Frame(uint sequence, double tachAngleDegrees, double[] values)
    {
        ArgumentNullException.ThrowIfNull(values);
        if (!(tachAngleDegrees >= 0 && tachAngleDegrees < 360))
        {
            throw new ArgumentOutOfRangeException(nameof(tachAngleDegrees), tachAngleDegrees, "0 ≤ angle < 360 degrees.");
        }

        foreach (double value in values)
        {
            if (!double.IsFinite(value))
            {
                throw new ArgumentOutOfRangeException(nameof(values), value, "A frame holds finite numbers; anything else is a fault.");
            }
        }

        Sequence = sequence;
        TachAngleDegrees = tachAngleDegrees;
        _values = values;
    }

    public uint Sequence { get; }

    public double TachAngleDegrees { get; }

    public ReadOnlySpan<double> Values => _values;

    public int Count => _values.Length;

    /// <summary>Equal to the bit: −0 and +0 differ, as they do in the store.</summary>
    public bool Equals(Frame? other) =>
        other is not null && Sequence == other.Sequence
        && BitConverter.DoubleToInt64Bits(TachAngleDegrees) == BitConverter.DoubleToInt64Bits(other.TachAngleDegrees)
        && System.Runtime.InteropServices.MemoryMarshal.AsBytes(Values)
            .SequenceEqual(System.Runtime.InteropServices.MemoryMarshal.AsBytes(other.Values));

    public override bool Equals(object? obj) => Equals(obj as Frame);

    public override int GetHashCode() => HashCode.Combine(Sequence, TachAngleDegrees, _values.Length);
}
