using DriftWatch.Calibrating;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Plots;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Reports.Dossiers;

/// <summary>
/// All that is known of one transfer, or of a span that belongs to none: what report, evidence package and API are made of,
/// and nothing else is. UTC in nanoseconds since 1970; values in the channels' units.
/// </summary>
internal sealed record Dossier
{
    public required BenchDefinition Bench { get; init; }

    /// <summary>What was read: the figures show it, the exact log is of it.</summary>
    public required UtcStretch Span { get; init; }

    /// <summary>When tape ran for keeps: all summaries are of it.</summary>
    public required DossierRun Run { get; init; }

    /// <summary>What people entered about the tape and its transfer; null for a span that belongs to none.</summary>
    public DossierTransfer? Transfer { get; init; }

    /// <summary>Channels of numbers in the bench's order, then the derived quantities.</summary>
    public required IReadOnlyList<ChannelSummary> Channels { get; init; }

    /// <summary>The timing error over one turn at the run's begin and end; empty without a frame channel.</summary>
    public required IReadOnlyList<TurnPicture> Turns { get; init; }

    public required IReadOnlyList<StateStretch> States { get; init; }

    /// <summary>Advisories and alarms that touch the span, numbered by their begin.</summary>
    public required IReadOnlyList<DossierFinding> Findings { get; init; }

    /// <summary>What was only noted: restarts, clock steps, marks, baselines, benches that came into force.</summary>
    public required IReadOnlyList<FindingLine> Notes { get; init; }

    public required IReadOnlyList<AlarmStory> Alarms { get; init; }

    /// <summary>What turned the readings of the run as they were judged, in the bench's order; a channel that was calibrated meanwhile has two.</summary>
    public required IReadOnlyList<DossierCalibration> Calibrations { get; init; }

    /// <summary>In force while the run lasted; null where none was.</summary>
    public TakenBaseline? Baseline { get; init; }

    /// <summary>Whether the end of the pass's line-up took one; it takes none where it was written down afterwards.</summary>
    public bool LineUpTookBaseline { get; init; }

    /// <summary>The one before it: what was before the line-up.</summary>
    public TakenBaseline? BaselineBefore { get; init; }

    /// <summary>Finding lines of the span, the oldest, that are in nothing of this: a dossier holds so many and no more.</summary>
    public long LinesLeftOut { get; init; }

    /// <summary>Stretches of the span in which nothing was stored.</summary>
    public required IReadOnlyList<UtcStretch> Unwatched { get; init; }

    public required RecordFacts Record { get; init; }

    /// <summary>Engine time to UTC over the span.</summary>
    public required AnchorTable Anchors { get; init; }

    public required string Software { get; init; }

    /// <summary>Share of the run in which the bench was watched, 0 to 1.</summary>
    public double WatchedShare => Run.Stretch.Nanoseconds == 0
        ? 0
        : 1 - (Unwatched.Sum(u => (double)u.Within(Run.Stretch).Nanoseconds) / Run.Stretch.Nanoseconds);

    /// <summary>Whether anything at least as severe lies within the run.</summary>
    public IEnumerable<DossierFinding> Within(Severity least) =>
        Findings.Where(f => f.Line.Severity >= least && new UtcStretch(f.FromUtc, f.ToUtc ?? Span.ToUtc).Within(Run.Stretch).Nanoseconds > 0);
}

/// <summary>Where the run comes from.</summary>
internal enum RunSource
{
    /// <summary>A person, or the machine on his behalf, entered its begin and end.</summary>
    Entered,

    /// <summary>From the first lock to the last instant with tape running, as judged.</summary>
    State,

    /// <summary>No tape was seen to run: the whole span.</summary>
    Span,
}

/// <param name="Stretch">Begin and end.</param>
/// <param name="Source">Who says so.</param>
/// <param name="StartSeconds">Place on the tape at its begin, where no counter tells it.</param>
/// <param name="Position">What places on the tape rest on, in words.</param>
/// <param name="Places">By the counter of a run that has one; null: time since the begin.</param>
internal sealed record DossierRun(UtcStretch Stretch, RunSource Source, double StartSeconds, string Position, TapePlaces? Places = null)
{
    /// <summary>Place on the tape in seconds; null outside of the run.</summary>
    public double? PlaceOf(long utc) =>
        utc < Stretch.FromUtc || utc > Stretch.ToUtc ? null : Places?.At(utc).Seconds ?? Elapsed(utc);

    /// <summary>What of a stretch lies in the run, cut where the counter was set anew.</summary>
    public IReadOnlyList<PlacePiece> Pieces(UtcStretch stretch)
    {
        (long from, long to) = (Math.Clamp(stretch.FromUtc, Stretch.FromUtc, Stretch.ToUtc), Math.Clamp(stretch.ToUtc, Stretch.FromUtc, Stretch.ToUtc));
        return Places?.Pieces(from, to) ?? [new PlacePiece(from, to, Elapsed(from), Elapsed(to))];
    }

    /// <summary>Where the counter was set anew within the run.</summary>
    public IReadOnlyList<PlaceBreak> Breaks => Places?.Breaks(Stretch.FromUtc, Stretch.ToUtc) ?? [];

    private double Elapsed(long utc) => StartSeconds + ((utc - Stretch.FromUtc) / 1e9);
}

/// <summary>The machine was in one state.</summary>
internal readonly record struct StateStretch(MachineState State, UtcStretch Stretch);

/// <summary>One finding with the last word said of it and the severity it once had.</summary>
/// <param name="Number">In figures and tables, from 1.</param>
/// <param name="Line">Newest line, in the words of the gravest.</param>
/// <param name="FromUtc">When it began.</param>
/// <param name="ToUtc">When it was over; null while it lasts.</param>
/// <param name="Place">On the tape at its begin, seconds; null outside of the run.</param>
/// <param name="PlaceTo">On the tape at its end.</param>
/// <param name="Members">Numbers of the findings that a cause puts together; empty for any other.</param>
/// <param name="Episode">Number of the cause it belongs to; null for none.</param>
/// <param name="Alarm">Id of the alarm that it is part of; null for none.</param>
internal sealed record DossierFinding(
    int Number, FindingLine Line, long FromUtc, long? ToUtc, double? Place, double? PlaceTo, IReadOnlyList<int> Members, int? Episode, string? Alarm = null)
{
    public bool IsCause => Line.Kind == FindingKinds.Cause;

    /// <summary>What to do first, where a cause says it.</summary>
    public string? FirstAction => Line.Details.FirstOrDefault(d => d.Name == "firstAction").Word;
}

/// <summary>What turned a channel's readings.</summary>
/// <param name="Channel">As the bench describes it.</param>
/// <param name="Calibration">Its conversion, version and due date.</param>
/// <param name="Document">What it was worked out from, with its uncertainty; null for the bench file's own.</param>
internal sealed record DossierCalibration(ChannelDefinition Channel, Calibration Calibration, CalibrationDocument? Document);

/// <summary>One channel or quantity over the run.</summary>
/// <param name="Channel">As the bench describes it; a quantity is dressed as one.</param>
/// <param name="IsDerived">Worked out again from the readings, which is what the store keeps.</param>
/// <param name="Count">Readings in the run.</param>
/// <param name="Faults">Faults in the run.</param>
/// <param name="Coverage">Readings over those due, 0 to 1; null for a quantity.</param>
/// <param name="Least">With the extremes inside the periods; null without readings.</param>
/// <param name="Mean">Of all readings.</param>
/// <param name="Greatest">With the extremes inside the periods.</param>
/// <param name="Baseline">Of the tape; null where it has none.</param>
/// <param name="Use">Of the tolerance; null without a limit.</param>
/// <param name="Drift">Null where it can't be told.</param>
/// <param name="Trace">Over the whole span.</param>
internal sealed record ChannelSummary(
    ChannelDefinition Channel, bool IsDerived, long Count, long Faults, double? Coverage, double? Least, double? Mean, double? Greatest,
    BaselineValue? Baseline, ToleranceUse? Use, ChannelTrend? Drift, Trace Trace);

/// <summary>How much of the way to a limit was used at most, by means of ten seconds.</summary>
/// <param name="Share">1 is at the limit.</param>
/// <param name="Limit">In the channel's unit.</param>
/// <param name="Side">Which limit.</param>
/// <param name="Severity">Of the limit.</param>
/// <param name="From">What it is counted from: baseline, setpoint or mean.</param>
internal sealed record ToleranceUse(double Share, double Limit, LimitSide Side, Severity Severity, string From);

/// <summary>A straight line through the run's means of ten seconds, in the unit an hour; the interval holds 95 %.</summary>
internal sealed record ChannelTrend(double PerHour, double Low, double High, bool IsDrift);

/// <summary>The mean of some frames: what the wheel drew over one turn.</summary>
/// <param name="Channel">The frame channel.</param>
/// <param name="When">In words: at the run's begin, at its end.</param>
/// <param name="Frames">How many are in the mean.</param>
/// <param name="Values">In the channel's unit, in the order of its axis.</param>
internal sealed record TurnPicture(ChannelDefinition Channel, string When, int Frames, IReadOnlyList<double> Values);

/// <summary>The raw record of the span.</summary>
/// <param name="Sha256">Lower-case hex, over the text of the exact log of the span, not compressed.</param>
/// <param name="Bytes">Of that text.</param>
/// <param name="Inputs">Lines of it.</param>
/// <param name="FirstNumber">Number of the first input that was recorded in the span; what stands before it was lent.</param>
/// <param name="LastNumber">Number of the last.</param>
/// <param name="Readings">Samples and frames.</param>
/// <param name="Faults">Faults.</param>
/// <param name="Late">Of both, those that came too late to be judged.</param>
internal sealed record RecordFacts(string Sha256, long Bytes, long Inputs, long FirstNumber, long LastNumber, long Readings, long Faults, long Late);
