using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Samples;

namespace DriftWatch.Measurement.Channels;

/// <summary>One measured quantity of a bench, as the bench file declares it and the profiles complete it.</summary>
public sealed record ChannelDefinition
{
    /// <summary>A slug, stable for ever: it names the channel in files, findings and the store.</summary>
    public required string Id { get; init; }

    /// <summary>
    /// A small number that stands for the id in the log and the store. Given once per bench folder and never reused,
    /// so that a log outlives any change of the bench file.
    /// </summary>
    public required int Key { get; init; }

    public required string Label { get; init; }

    public ChannelKind Kind { get; init; }

    public ChannelRole Role { get; init; }

    /// <summary>1 to 4 for a channel of one head; null otherwise.</summary>
    public int? Head { get; init; }

    /// <summary>The engineering unit's symbol, see <see cref="Units.Unit"/>.</summary>
    public required string Unit { get; init; }

    /// <summary>The unit of what the instrument says.</summary>
    public required string RawUnit { get; init; }

    /// <summary>The instrument's slug; null for a ratio formed in acquisition.</summary>
    public string? Instrument { get; init; }

    /// <summary>The input's name in the instrument's profile; null for a ratio.</summary>
    public string? Input { get; init; }

    /// <summary>For a ratio: the two channels whose readings of the same scan are divided. Both are kept as channels of their own.</summary>
    public RatioDefinition? Ratio { get; init; }

    public required TimeSpan Period { get; init; }

    /// <summary>From the bench file or the sensor's profile: version 1, and the next each time a running bench reads an edited one.</summary>
    public required Calibration Calibration { get; init; }

    public IReadOnlyList<LimitDefinition> Limits { get; init; } = [];

    public FaultRules Faults { get; init; } = new();

    /// <summary>The working point in engineering units, where the channel has one (50 psi of regulated air).</summary>
    public double? Setpoint { get; init; }

    /// <summary>Only for a frame: head and angle of each point.</summary>
    public FrameAxis? Axis { get; init; }

    /// <summary>Silence after which data is stale (advisory); source: threshold table 'data age'.</summary>
    public TimeSpan StaleAdvisory { get; init; } = TimeSpan.FromSeconds(5);

    /// <summary>Silence after which data is stale (alarm).</summary>
    public TimeSpan StaleAlarm { get; init; } = TimeSpan.FromSeconds(10);

    /// <summary>Former ids: recordings made under them still find this channel.</summary>
    public IReadOnlyList<string> Aliases { get; init; } = [];
}

/// <summary>A ratio of two inputs, such as a pressure sensor's output over its own supply rail.</summary>
public sealed record RatioDefinition(string Of, string Over);

/// <summary>What makes a raw reading a fault. All in the raw unit; null means the rule is off.</summary>
public sealed record FaultRules
{
    /// <summary>At or below: <see cref="BelowFault"/>.</summary>
    public double? Low { get; init; }

    public FaultCode BelowFault { get; init; } = FaultCode.UnderRange;

    /// <summary>At or above: <see cref="AboveFault"/>.</summary>
    public double? High { get; init; }

    public FaultCode AboveFault { get; init; } = FaultCode.OverRange;

    /// <summary>Greatest step between two successive readings one period apart; > 0.</summary>
    public double? MaximumStep { get; init; }

    /// <summary>The same code for this long is stuck.</summary>
    public TimeSpan? StuckAfter { get; init; }
}

/// <summary>The declared axis of a frame: point i belongs to <c>Heads[i]</c> (1–4) at <c>AnglesDegrees[i]</c> from mid-pass.</summary>
public sealed record FrameAxis
{
    public required IReadOnlyList<int> Heads { get; init; }

    public required IReadOnlyList<double> AnglesDegrees { get; init; }

    public int Count => Heads.Count;

    /// <summary>The even grid: <paramref name="perHead"/> points a head over ±<paramref name="halfSpanDegrees"/>, heads 1 to 4 in turn.</summary>
    public static FrameAxis Even(int perHead, double halfSpanDegrees = 45)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(perHead, 1);
        var heads = new int[4 * perHead];
        var angles = new double[4 * perHead];
        for (int i = 0; i < heads.Length; i++)
        {
            heads[i] = (i / perHead) + 1;
            angles[i] = -halfSpanDegrees + (((i % perHead) + 0.5) * 2 * halfSpanDegrees / perHead);
        }

        return new FrameAxis { Heads = heads, AnglesDegrees = angles };
    }
}
