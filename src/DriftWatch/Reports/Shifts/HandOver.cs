using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Reports.Documents;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Reports.Shifts;

/// <summary>
/// What who takes over a bench has to know, as it stood at the end of a span: what page, API and command line tell of a hand-over, and
/// nothing else. UTC in nanoseconds since 1970; values in the channels' units.
/// </summary>
internal sealed record HandOver
{
    public required BenchDefinition Bench { get; init; }

    /// <summary>The shift. All is told as of its end.</summary>
    public required UtcStretch Span { get; init; }

    /// <summary>The last instant of which something is stored, where that is well before the span's end: then all is as of then. Null while the bench is watched.</summary>
    public long? SilentSinceUtc { get; init; }

    /// <summary>Finding lines of the span, the oldest, of which nothing is told.</summary>
    public long LinesLeftOut { get; init; }

    /// <summary>The same in words; null where all is told.</summary>
    public string? LeftOutWords => LeftOut.Words(LinesLeftOut, "A shift of fewer hours tells more.");

    public required MachineState State { get; init; }

    /// <summary>Since when the machine is in that state; null where the store does not tell.</summary>
    public long? StateSinceUtc { get; init; }

    /// <summary>Passes that are in hand or wait for their verdict, in the order in which they were opened.</summary>
    public required IReadOnlyList<HandOverPass> Passes { get; init; }

    /// <summary>What drifts, the soonest at its limit first.</summary>
    public required IReadOnlyList<HandOverDrift> Drifts { get; init; }

    /// <summary>Every alarm that is not back to normal, those that wait for an answer first, then by priority.</summary>
    public required IReadOnlyList<HandOverAlarm> Alarms { get; init; }

    /// <summary>How many alarms were raised in the span, and how many of those are over and answered for.</summary>
    public required int Raised { get; init; }

    public required int Settled { get; init; }

    /// <summary>What is past its day or its hours, and what can't be told of it.</summary>
    public required IReadOnlyList<HandOverDue> Due { get; init; }

    /// <summary>What to do next, the most urgent first.</summary>
    public required IReadOnlyList<HandOverStep> Next { get; init; }

    /// <summary>Notes, marks and hand-overs of the span, oldest first.</summary>
    public required IReadOnlyList<HandOverNote> Notes { get; init; }

    /// <summary>What else was entered in the span, oldest first; signatures of one list in a row are one.</summary>
    public required IReadOnlyList<HandOverEntry> Entries { get; init; }

    public IEnumerable<HandOverAlarm> Waiting => Alarms.Where(a => a.Waits);

    public IEnumerable<HandOverAlarm> Taken => Alarms.Where(a => a.Line.To == AlarmState.Acknowledged);

    /// <summary>What calls nobody for now: shelved, out of service, or not judged in this state.</summary>
    public IEnumerable<HandOverAlarm> Quiet => Alarms.Where(a => a.Line.To is AlarmState.Shelved or AlarmState.OutOfService or AlarmState.SuppressedByDesign);
}

/// <summary>A pass that is not done with.</summary>
/// <param name="Transfer">Id of its transfer.</param>
/// <param name="Id">Its own.</param>
/// <param name="Number">From 1 within the transfer.</param>
/// <param name="Tape">What stands on the box, and the title where it has one.</param>
/// <param name="Stage">How far it has come.</param>
/// <param name="SinceUtc">Since when it is at that stage.</param>
/// <param name="Place">On the tape; null unless it runs.</param>
/// <param name="PlaceBasis">In words, how the place is known; null unless it runs.</param>
/// <param name="Next">What comes next, in one sentence.</param>
internal sealed record HandOverPass(Guid Transfer, Guid Id, int Number, string Tape, PassStage Stage, long SinceUtc, TapePlace? Place, string? PlaceBasis, string Next);

/// <summary>A channel or quantity that goes towards its limit. Intervals of 95 %.</summary>
internal sealed record HandOverDrift
{
    public required string Id { get; init; }

    public required string Label { get; init; }

    public required string Unit { get; init; }

    /// <summary>When it was looked at.</summary>
    public required long AtUtc { get; init; }

    public double? Value { get; init; }

    public double? Baseline { get; init; }

    public double? Limit { get; init; }

    /// <summary>Of the way from the baseline to the limit: 1 is at the limit.</summary>
    public double? UsedShare { get; init; }

    public double? SlopePerHour { get; init; }

    public double? SlopePerHourLow { get; init; }

    public double? SlopePerHourHigh { get; init; }

    /// <summary>From <see cref="AtUtc"/> on; null where it is not to get there within the horizon.</summary>
    public double? MinutesLeft { get; init; }

    public double? MinutesLeftLow { get; init; }

    /// <summary>Null where no end can be told.</summary>
    public double? MinutesLeftHigh { get; init; }

    /// <summary>When it leaves its tolerance at this rate; null where that can't be told.</summary>
    public long? LeavesUtc => After(MinutesLeft);

    public long? LeavesEarliestUtc => After(MinutesLeftLow);

    public long? LeavesLatestUtc => After(MinutesLeftHigh);

    private long? After(double? minutes) => minutes is { } known ? AtUtc + (long)(known * 60e9) : null;
}

/// <summary>An alarm that is not back to normal.</summary>
/// <param name="Line">The newest line of it.</param>
/// <param name="Text">What it is about, in one sentence.</param>
/// <param name="Priority">The highest it had.</param>
/// <param name="RaisedUtc">When it came.</param>
/// <param name="OverUtc">When what it tells of was over; null while it lasts.</param>
/// <param name="Act">What a person, or the machine's state, last did to it so that it stands so; null where nobody did.</param>
/// <param name="FirstAction">What to do first about its cause; null while none is named.</param>
internal sealed record HandOverAlarm(
    AlarmTransition Line, string Text, AlarmPriority Priority, long RaisedUtc, long? OverUtc, AlarmTransition? Act, string? FirstAction)
{
    public bool Waits => Line.To is AlarmState.Unacknowledged or AlarmState.ReturnedUnacknowledged;
}

/// <param name="What">A calibration, a reading or a test: in a few words.</param>
/// <param name="Text">How far past, or why it can't be told; one sentence.</param>
/// <param name="IsOverdue">False where it can't be told.</param>
internal sealed record HandOverDue(string What, string Text, bool IsOverdue);

/// <param name="About">Alarm, tape or instrument.</param>
/// <param name="Text">What to do; the sentences of cause, list or calendar.</param>
internal sealed record HandOverStep(string About, string Text);

/// <param name="AtUtc">What it is about.</param>
/// <param name="By">Who wrote it.</param>
/// <param name="Kind">note, mark or hand-over.</param>
/// <param name="About">Tape and pass; null for one on the shift alone.</param>
/// <param name="Place">On the tape; null where no tape ran.</param>
/// <param name="Text">In the person's words.</param>
internal sealed record HandOverNote(long AtUtc, string By, string Kind, string? About, TapePlace? Place, string Text);

/// <param name="FromUtc">Of the first that it puts together.</param>
/// <param name="ToUtc">Of the last.</param>
/// <param name="By">Who entered it.</param>
/// <param name="Kind">Of the entry.</param>
/// <param name="About">Tape and pass; null where it is of neither.</param>
/// <param name="Text">In a sentence.</param>
internal sealed record HandOverEntry(long FromUtc, long ToUtc, string By, string Kind, string? About, string Text);
