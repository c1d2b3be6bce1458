using DriftWatch.Measurement.Alarms;

namespace DriftWatch.Notices;

/// <summary>What a notice is about. The slugs stand in payloads and in the outbox: append only.</summary>
internal enum NoticeKind
{
    /// <summary>An alarm calls for a person.</summary>
    Alarm,

    /// <summary>Of an alarm that was told: it is over, or somebody has answered for it.</summary>
    FollowUp,

    /// <summary>Several that would have been too many one by one, or came in quiet hours.</summary>
    Digest,

    /// <summary>The alarm that the store takes nothing, told from memory; with it what else is not stored.</summary>
    StoreFailing,

    /// <summary>That alarm is over.</summary>
    StoreRecovered,

    /// <summary>Sent by a person who tries the route.</summary>
    Test,
}

/// <summary>One of several in a digest.</summary>
internal sealed record NoticeItem(string Alarm, string Tag, AlarmPriority Priority, AlarmStep Step, long AtUtc, string Text);

/// <summary>What is told, whichever way it goes. As JSON it is <see cref="NoticeJson"/>.</summary>
internal sealed record AlarmNotice
{
    /// <summary>
    /// Said with every notice. A lamp or a message that comes late, or not at all, must hurt nobody.
    /// </summary>
    public const string Caution = "DriftWatch only tells: it is no safety interlock and drives nothing on the machine. What must stop at once is stopped by the machine's own protection, the hard-wired pressure switch above all; local codes and licensed people come before anything said here.";

    /// <summary>32 hex digits, the same each time this notice is sent: a receiver that has seen it may drop it.</summary>
    public required string Id { get; init; }

    public required NoticeKind Kind { get; init; }

    public required string Bench { get; init; }

    public required string BenchLabel { get; init; }

    public required AlarmPriority Priority { get; init; }

    public required long AtUtc { get; init; }

    /// <summary>One line.</summary>
    public required string Subject { get; init; }

    /// <summary>Sentences for a person, lines ended by LF.</summary>
    public required string Text { get; init; }

    /// <summary>The line of the book; null where it is about several or none. Where the store fails that alarm's, whatever else is told with it.</summary>
    public AlarmTransition? Alarm { get; init; }

    /// <summary>How many lines of the book it tells of.</summary>
    public int Count { get; init; }

    /// <summary>The first of those of a digest, or of what is told with a failing store; at most <see cref="NoticeWriter.MostItems"/>.</summary>
    public IReadOnlyList<NoticeItem> Items { get; init; } = [];
}
