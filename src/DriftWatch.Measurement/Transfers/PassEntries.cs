namespace DriftWatch.Measurement.Transfers;

/// <summary>What a person says of one item of the check list.</summary>
public enum CheckAnswer
{
    Done,

    /// <summary>Looked at and not in order, or left undone knowingly; the note says why.</summary>
    NotDone,

    /// <summary>This bench or tape has no such thing.</summary>
    DoesNotApply,
}

/// <summary>What the readings say of something a person signs.</summary>
public enum ProofStanding
{
    /// <summary>There is no reading that could tell.</summary>
    CannotTell,

    Proved,

    /// <summary>The readings say otherwise.</summary>
    Contradicted,
}

/// <summary>What the readings said at the instant of an act, in one sentence.</summary>
public sealed record TelemetryProof(ProofStanding Standing, string Text);

/// <summary>An item of the pre-flight, signed. Signed again it corrects what was said before.</summary>
public sealed record CheckSigned : EntryBody
{
    /// <summary>Key of the item in the check list.</summary>
    public required string Check { get; init; }

    public required CheckAnswer Answer { get; init; }

    /// <summary>What was read off, where the item asks for a number, in the item's unit.</summary>
    public double? Value { get; init; }

    /// <summary>What the readings said when it was signed; null where the item asks for no proof.</summary>
    public TelemetryProof? Telemetry { get; init; }

    /// <summary>SHA-256 (lower-case hex) of the check list it was signed by.</summary>
    public required string ListHash { get; init; }
}

/// <summary>A value at a step of the line-up.</summary>
/// <param name="Value">In the step's unit.</param>
/// <param name="Channel">The channel or quantity that read it; null where a person read it off and wrote it down.</param>
public sealed record LineUpReading(double Value, string? Channel)
{
    public bool IsByHand => Channel is null;
}

/// <summary>What a step was held against, kept with the step so that it stands when the list has changed.</summary>
/// <param name="Least">Null where nothing is too low.</param>
/// <param name="Greatest">Null where nothing is too high.</param>
/// <param name="Unit">Of both, and of the readings.</param>
/// <param name="Source">Where the numbers come from.</param>
public sealed record LineUpTolerance(double? Least, double? Greatest, string Unit, string Source)
{
    public bool Holds(double value) => !(value < Least) && !(value > Greatest);
}

/// <summary>A step of the line-up. Recorded again it corrects what was said before.</summary>
public sealed record LineUpStepRecorded : EntryBody
{
    /// <summary>Key of the step in the line-up list.</summary>
    public required string Step { get; init; }

    /// <summary>False where it was left out; the note says why.</summary>
    public bool IsDone { get; init; } = true;

    public LineUpReading? Before { get; init; }

    public LineUpReading? After { get; init; }

    public LineUpTolerance? Tolerance { get; init; }

    /// <summary>What was turned, which way and how far, in the person's words.</summary>
    public string? Turned { get; init; }

    /// <summary>SHA-256 (lower-case hex) of the line-up list.</summary>
    public required string ListHash { get; init; }
}

/// <summary>The line-up is over: this tape's baseline is taken, and the tape may run.</summary>
public sealed record LineUpEnded : EntryBody;

/// <summary>What began or ended a run.</summary>
public enum RunCue
{
    Hand,

    /// <summary>The machine's state, by the rule of the bench.</summary>
    State,
}

/// <summary>Where the place on the tape comes from.</summary>
public enum PositionBasis
{
    /// <summary>Time since the run began at the tape's nominal speed: shuttling and stops are not seen.</summary>
    ElapsedTime,

    /// <summary>A channel of the role <c>tape-counter</c>.</summary>
    Counter,

    /// <summary>A channel of the role <c>timecode</c>.</summary>
    Timecode,
}

/// <summary>Tape runs for keeps.</summary>
public sealed record RunBegan : EntryBody
{
    public required RunCue Cue { get; init; }

    public required PositionBasis Basis { get; init; }

    /// <summary>The channel that counts; null for elapsed time.</summary>
    public string? Channel { get; init; }

    /// <summary>Place at the beginning by the counter of the bench, seconds; 0 at the head of the tape.</summary>
    public double StartSeconds { get; init; }

    /// <summary>What the head wheel's rate said of the standard; null where nobody asked it, as entries of old have it.</summary>
    public TelemetryProof? Standard { get; init; }
}

public sealed record RunEnded : EntryBody
{
    public required RunCue Cue { get; init; }
}

/// <summary>What a pass was worth.</summary>
public enum Verdict
{
    Sound,
    SoundWithRemarks,
    RunAgain,
}

/// <summary>One reason of a verdict.</summary>
/// <param name="Rule">Key of the rule that gives it.</param>
/// <param name="Verdict">The best verdict that it allows.</param>
/// <param name="Text">One sentence.</param>
/// <param name="FromSeconds">Place on the tape where it begins; null where it concerns the whole pass.</param>
/// <param name="ToSeconds">Place where it ends.</param>
public sealed record VerdictReason(string Rule, Verdict Verdict, string Text, double? FromSeconds = null, double? ToSeconds = null);

/// <summary>A verdict on a pass. A later one replaces it and needs its countersignature anew.</summary>
public sealed record VerdictGiven : EntryBody
{
    public required Verdict Verdict { get; init; }

    /// <summary>What the rules came to; where the person decides otherwise the note says why.</summary>
    public required Verdict ByRules { get; init; }

    /// <summary>Every reason the rules found, gravest first.</summary>
    public required IReadOnlyList<VerdictReason> Reasons { get; init; }

    /// <summary>SHA-256 (lower-case hex) of the rules.</summary>
    public required string RulesHash { get; init; }
}

/// <summary>A second person stands behind a verdict.</summary>
public sealed record VerdictCountersigned : EntryBody
{
    /// <summary>Id of the entry that gave it.</summary>
    public required Guid VerdictEntry { get; init; }
}
