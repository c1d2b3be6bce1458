using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Storage;

/// <summary>How a notice stands in the outbox. The numbers are stored: append only, and what is not told yet stays below 2.</summary>
public enum NoticeState
{
    /// <summary>It waits for its instant: nobody is told if the alarm is answered for before.</summary>
    Held = 0,

    /// <summary>It is to be sent as soon as its route takes it.</summary>
    Waiting = 1,

    /// <summary>Its route took it.</summary>
    Sent = 2,

    /// <summary>It will not be sent, and <see cref="StoredNotice.Said"/> tells why.</summary>
    GivenUp = 3,
}

/// <summary>One row of the outbox: a notice on its way by one route.</summary>
public sealed record StoredNotice
{
    /// <summary>Place in the order of planning; 0 before it is stored.</summary>
    public long Number { get; init; }

    public required string Route { get; init; }

    /// <summary>Once for each route, for ever: the same thing planned again is the same row.</summary>
    public required string Key { get; init; }

    /// <summary>The alarm it tells of; empty where it tells of several.</summary>
    public required string Alarm { get; init; }

    /// <summary>A slug.</summary>
    public required string Kind { get; init; }

    public required AlarmPriority Priority { get; init; }

    public required NoticeState State { get; init; }

    /// <summary>When it was planned.</summary>
    public required EngineTime Made { get; init; }

    /// <summary>Not to be sent before.</summary>
    public required EngineTime Due { get; init; }

    /// <summary>How often sending was begun.</summary>
    public int Tries { get; init; }

    public EngineTime? Ended { get; init; }

    public long? EndedUtc { get; init; }

    /// <summary>What was last said of it, by the far end or by us.</summary>
    public string? Said { get; init; }

    /// <summary>What is told, as JSON.</summary>
    public required byte[] Json { get; init; }
}

/// <summary>A change of the outbox: a row put as it is now, or one taken away.</summary>
/// <param name="Row">The row by its route and key.</param>
/// <param name="IsRemoval">Whether it is taken away.</param>
public readonly record struct NoticeChange(StoredNotice Row, bool IsRemoval = false);
