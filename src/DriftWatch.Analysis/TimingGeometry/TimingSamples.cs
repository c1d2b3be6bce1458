using DriftWatch.Analysis.Statistics;
using DriftWatch.Measurement.Channels;

namespace DriftWatch.Analysis.TimingGeometry;

/// <summary>
/// A record of timing errors: what head played each sample, at what angle from mid-pass, and how late it came. One revolution or
/// many, on the even axis of a frame or on the real lines of a picture (<see cref="LineGrid"/>).
/// </summary>
public sealed class TimingSamples
{
    private readonly int[] _heads;
    private readonly double[] _anglesDegrees;
    private readonly double[] _errorsNs;
    private readonly int[] _slots;

    private TimingSamples(TimingStandard standard, int[] heads, double[] anglesDegrees, double[] errorsNs, int[] slots)
    {
        ArgumentNullException.ThrowIfNull(standard);
        if (heads.Length != errorsNs.Length || anglesDegrees.Length != errorsNs.Length)
        {
            throw new ArgumentException($"{errorsNs.Length} errors, {heads.Length} heads and {anglesDegrees.Length} angles.", nameof(errorsNs));
        }

        Finite.Require(errorsNs);
        Finite.Require(anglesDegrees);
        CheckAxis(heads, anglesDegrees);
        (Standard, _heads, _anglesDegrees, _errorsNs, _slots) = (standard, heads, anglesDegrees, errorsNs, slots);
    }

    /// <summary>The machine's standard.</summary>
    public TimingStandard Standard { get; }

    public int Count => _errorsNs.Length;

    /// <summary>1 to 4.</summary>
    public ReadOnlySpan<int> Heads => _heads;

    /// <summary>From mid-pass, positive in the direction of motion.</summary>
    public ReadOnlySpan<double> AnglesDegrees => _anglesDegrees;

    /// <summary>Positive is late.</summary>
    public ReadOnlySpan<double> ErrorsNs => _errorsNs;

    /// <summary>Place of each sample in time, counted in sample periods and rising: samples left out leave gaps.</summary>
    public ReadOnlySpan<int> Slots => _slots;

    /// <summary>Samples in the order of time, evenly spaced, with head and angle of each.</summary>
    /// <param name="standard">Of the machine.</param>
    /// <param name="heads">1 to 4.</param>
    /// <param name="anglesDegrees">From mid-pass, within ±90.</param>
    /// <param name="errorsNs">Finite; positive is late.</param>
    /// <exception cref="ArgumentException">Lengths differ, a number is not finite, a head is not 1 to 4, an angle is beyond ±90°.</exception>
    public static TimingSamples From(
        TimingStandard standard, ReadOnlySpan<int> heads, ReadOnlySpan<double> anglesDegrees, ReadOnlySpan<double> errorsNs) =>
        new(standard, heads.ToArray(), anglesDegrees.ToArray(), errorsNs.ToArray(), [.. Enumerable.Range(0, errorsNs.Length)]);

    /// <summary>One frame on its declared axis.</summary>
    /// <inheritdoc cref="From"/>
    public static TimingSamples FromFrame(TimingStandard standard, FrameAxis axis, ReadOnlySpan<double> errorsNs)
    {
        ArgumentNullException.ThrowIfNull(axis);
        return From(standard, [.. axis.Heads], [.. axis.AnglesDegrees], errorsNs);
    }

    /// <summary>The samples for which <paramref name="keep"/> says so; the others leave gaps in time.</summary>
    /// <param name="keep">One a sample.</param>
    public TimingSamples Where(ReadOnlySpan<bool> keep)
    {
        if (keep.Length != Count)
        {
            throw new ArgumentException($"{keep.Length} marks for {Count} samples.", nameof(keep));
        }

        var kept = new List<int>(Count);
        for (int i = 0; i < Count; i++)
        {
            if (keep[i])
            {
                kept.Add(i);
            }
        }

        return new TimingSamples(
            Standard,
            [.. kept.Select(i => _heads[i])],
            [.. kept.Select(i => _anglesDegrees[i])],
            [.. kept.Select(i => _errorsNs[i])],
            [.. kept.Select(i => _slots[i])]);
    }

    /// <summary>
    /// The same errors as if the wheel stood <paramref name="degrees"/> further on at every sample: past the end of a pass a sample
    /// belongs to the next head.
    /// </summary>
    public TimingSamples Turned(double degrees)
    {
        var heads = new int[Count];
        var angles = new double[Count];
        for (int i = 0; i < Count; i++)
        {
            (heads[i], angles[i]) = Wrap(_heads[i], _anglesDegrees[i] + degrees);
        }

        return new TimingSamples(Standard, heads, angles, _errorsNs, _slots);
    }

    internal static TimingSamples Placed(TimingStandard standard, int[] heads, double[] anglesDegrees, double[] errorsNs, int[] slots) =>
        new(standard, heads, anglesDegrees, errorsNs, slots);

    internal static void CheckAxis(ReadOnlySpan<int> heads, ReadOnlySpan<double> anglesDegrees)
    {
        for (int i = 0; i < heads.Length; i++)
        {
            if (heads[i] is < 1 or > 4)
            {
                throw new ArgumentException($"Sample {i} is of head {heads[i]}; heads are 1 to 4.", nameof(heads));
            }

            if (!(Math.Abs(anglesDegrees[i]) <= 90))
            {
                throw new ArgumentException($"Sample {i} is at {anglesDegrees[i]} degrees; a head plays within 90 of mid-pass.", nameof(anglesDegrees));
            }
        }
    }

    internal static (int Head, double AngleDegrees) Wrap(int head, double angleDegrees)
    {
        double passes = Math.Floor((angleDegrees + TimingStandard.HalfPassDegrees) / (2 * TimingStandard.HalfPassDegrees));
        int turned = (int)((head - 1 + passes) % 4);
        return (1 + ((turned + 4) % 4), angleDegrees - (passes * 2 * TimingStandard.HalfPassDegrees));
    }
}
