using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;

namespace DriftWatch.Measurement.Alarms;

/// <summary>
/// How an alarm stands, by the names of ANSI/ISA-18.2 and IEC 62682 (from secondary sources: the texts were not readable
/// here, and no conformance is claimed). Append only: the slugs stand in the book.
/// </summary>
public enum AlarmState
{
    /// <summary>What it tells of does not exist, and nobody is waited for.</summary>
    Normal,

    /// <summary>It exists and nobody has answered for it.</summary>
    Unacknowledged,

    /// <summary>It exists and a person has taken it on.</summary>
    Acknowledged,

    /// <summary>It is over and nobody has answered for it.</summary>
    ReturnedUnacknowledged,

    /// <summary>A person wants to hear no more of it for a stated time, for a stated reason.</summary>
    Shelved,

    /// <summary>The machine is not in a state in which it is judged.</summary>
    SuppressedByDesign,

    /// <summary>A person has taken it out of service, for a stated reason, until a person puts it back.</summary>
    OutOfService,
}

/// <summary>
/// By what happens if nobody acts and how soon. Three, because a person keeps no more apart; source: from memory (the
/// standards' practice of a few), the consequences are this machine's.
/// </summary>
public enum AlarmPriority
{
    /// <summary>Look when you can: nothing is lost within the hour.</summary>
    Low,

    /// <summary>The transfer suffers within minutes, or nobody would see it suffer.</summary>
    Medium,

    /// <summary>Tape or machine are harmed within seconds to a minute, or the proof of the night hangs on a process that must not stop.</summary>
    High,
}

/// <summary>What befell an alarm. Append only: the slugs stand in the book.</summary>
public enum AlarmStep
{
    /// <summary>It came into being, or came back before anybody had answered for it.</summary>
    Raised,

    /// <summary>Another finding of the same trouble joined it.</summary>
    Joined,

    /// <summary>Its priority rose, or it threatens more than it did: who had answered for it, had answered for less.</summary>
    Worsened,

    /// <summary>Its probable cause was said, or another one than before.</summary>
    CauseNamed,

    /// <summary>What it tells of is over.</summary>
    Returned,

    Acknowledged,
    Shelved,

    /// <summary>By a person, because its time was over, or because it came back worse than it was when it was shelved.</summary>
    Unshelved,

    /// <summary>It was answered for, and the machine left the state in which it is judged.</summary>
    Suppressed,

    /// <summary>The machine is back in that state.</summary>
    Unsuppressed,

    TakenOutOfService,
    PutBackInService,
}

/// <summary>
/// One line of the book: what befell an alarm, when, and all that was known. The same log of inputs gives the same lines.
/// </summary>
public sealed record AlarmTransition
{
    /// <summary><c>bench.alarm.kind.subject.number</c>, number being that of the input that raised it: one id from coming to going.</summary>
    public required string Id { get; init; }

    /// <summary><c>kind.subject</c> of the finding that came first: what is shelved, taken out of service and counted.</summary>
    public required string Tag { get; init; }

    /// <summary>Number of the input that made this line.</summary>
    public required long Input { get; init; }

    /// <summary>Place among the lines of one input, from 0.</summary>
    public required int Place { get; init; }

    public required string Bench { get; init; }

    /// <summary>Hash of the bench file in force.</summary>
    public required string BenchHash { get; init; }

    public required AlarmStep Step { get; init; }

    public required AlarmState From { get; init; }

    public required AlarmState To { get; init; }

    /// <summary>Whether what it tells of exists now, whatever the state shows.</summary>
    public required bool IsActive { get; init; }

    public required bool IsAcknowledged { get; init; }

    public required AlarmPriority Priority { get; init; }

    /// <summary>What happens if nobody acts, and how soon; null below high priority, and in lines from before it was kept.</summary>
    public string? Consequence { get; init; }

    /// <summary>When the judge said so.</summary>
    public required EngineTime At { get; init; }

    public required long AtUtc { get; init; }

    /// <summary>When this coming of it was raised.</summary>
    public required long RaisedUtc { get; init; }

    /// <summary>When what it tells of began: earlier than raised by the judge's delay.</summary>
    public required long StartUtc { get; init; }

    /// <summary>The machine's state at that instant.</summary>
    public required MachineState State { get; init; }

    /// <summary>The finding that came first, of all that belong to it.</summary>
    public required string FirstOut { get; init; }

    /// <summary>The finding this line is about; null where it is about the alarm as a whole.</summary>
    public string? Finding { get; init; }

    /// <summary>How many findings belong to it so far.</summary>
    public required int Findings { get; init; }

    public string? Channel { get; init; }

    /// <summary>Of the finding that tells most: its worst value, limit, unit, where the limit comes from, and the baseline where there is one.</summary>
    public double? Value { get; init; }

    public double? Limit { get; init; }

    public string? Unit { get; init; }

    public string? LimitSource { get; init; }

    public double? Baseline { get; init; }

    /// <summary>Where the tape stood when its first finding began; null where no run was entered.</summary>
    public TapePlace? OnTape { get; init; }

    /// <summary>Its probable cause as a slug; null while none is said.</summary>
    public string? Cause { get; init; }

    /// <summary>Who did it; null where no person did.</summary>
    public string? By { get; init; }

    /// <summary>How that name is known: declared, token or proxy; null where no person did it, and in lines from before it was kept.</summary>
    public string? Identity { get; init; }

    /// <summary>Why: the person's words, or a slug such as <c>time-over</c>.</summary>
    public string? Why { get; init; }

    /// <summary>Until when it is shelved; null where it is not, or until it is over.</summary>
    public long? ShelvedUntilUtc { get; init; }

    /// <summary>One sentence for a person.</summary>
    public required string Text { get; init; }

    /// <summary>Ids of the calibrations that were applied back; only in a re-judgement, which stands beside the book of the day.</summary>
    public IReadOnlyList<Guid>? Recalibrated { get; init; }

    /// <summary>Whether this line asks for a person: it exists, nobody has answered for it, and nothing keeps it quiet.</summary>
    public bool Calls => To == AlarmState.Unacknowledged
        && Step is (AlarmStep.Raised or AlarmStep.Worsened or AlarmStep.Unshelved or AlarmStep.Unsuppressed or AlarmStep.PutBackInService);
}
