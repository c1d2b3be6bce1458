namespace DriftWatch.Mirror;

/// <summary>How a mirror stands. The slugs stand in answers of the API.</summary>
internal enum MirrorState
{
    /// <summary>All that is stored has been sent, but for the second or minute that is open.</summary>
    Level,

    /// <summary>It sends, and there is more to send.</summary>
    CatchingUp,

    /// <summary>It can't send now, and tries again.</summary>
    Waiting,
}

/// <summary>How one server stands with one bench, for page, API and notices.</summary>
internal sealed record MirrorReport
{
    public required MirrorSettings Settings { get; init; }

    public required MirrorState State { get; init; }

    /// <summary>Why it can't send, or what is wrong with what arrives; null where nothing is.</summary>
    public string? Trouble { get; init; }

    public string? Remedy { get; init; }

    /// <summary>When it last could not send after it could, nanoseconds since 1970; null while it can.</summary>
    public long? WaitingSinceUtc { get; init; }

    /// <summary>Readings that the server took since this process began; those sent again count again.</summary>
    public long Taken { get; init; }

    /// <summary>When it last took something; null before the first time.</summary>
    public long? LastTakenUtc { get; init; }

    /// <summary>How far what is new lies behind the store.</summary>
    public TimeSpan Behind { get; init; }

    /// <summary>
    /// Inputs of the log that are older and still to be sent: what was stored before, or while the server was away. Those of a second or minute
    /// that is still open are none of them: <see cref="IsBinOpen"/>.
    /// </summary>
    public long OlderInputs { get; init; }

    /// <summary>
    /// Of a mirror of means: all is sent but the last seconds or minutes, which may still get readings. They go when readings of two such later
    /// come, so while a machine stands silent they stay; that is no backlog.
    /// </summary>
    public bool IsBinOpen { get; init; }

    /// <summary>Inputs that retention dropped before they could be sent.</summary>
    public long Expired { get; init; }

    /// <summary>Lines that the server refused by themselves; they are kept here, and not sent again.</summary>
    public long Refused { get; init; }

    /// <summary>The newest of them and what was said to it.</summary>
    public string? LastRefused { get; init; }

    /// <summary>Readings of windows whose count was held against the server's.</summary>
    public long Compared { get; init; }

    /// <summary>Readings that the server did not hold though it took them twice.</summary>
    public long Missing { get; init; }

    /// <summary>Readings that it holds more than once.</summary>
    public long Doubled { get; init; }

    /// <summary>Why counts can't be compared; null where they can.</summary>
    public string? CountTrouble { get; init; }

    /// <summary>The server's clock minus this one's; null before it said.</summary>
    public TimeSpan? ClockAhead { get; init; }
}
