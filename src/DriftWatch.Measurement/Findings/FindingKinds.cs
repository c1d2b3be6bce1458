namespace DriftWatch.Measurement.Findings;

/// <summary>Every kind of finding, with what it means in one line; documentation and schema are held against this list.</summary>
public static class FindingKinds
{
    public const string AirBelowSetpoint = "air-below-setpoint";
    public const string BelowLimit = "below-limit";
    public const string AboveLimit = "above-limit";
    public const string PressureSag = "pressure-sag";
    public const string VacuumLoss = "vacuum-loss";
    public const string SupplyChanged = "supply-changed";
    public const string Stale = "stale";
    public const string SensorFault = "sensor-fault";
    public const string InstrumentSilent = "instrument-silent";
    public const string Drift = "drift";
    public const string Cause = "cause";
    public const string State = "state";
    public const string NobodyWatching = "nobody-watching";
    public const string Asleep = "asleep";
    public const string ClockStep = "clock-step";
    public const string BenchInForce = "bench-in-force";
    public const string CannotTell = "cannot-tell";
    public const string Calibration = "calibration";
    public const string BaselineTaken = "baseline-taken";
    public const string BaselineDoubtful = "baseline-doubtful";
    public const string Mark = "mark";
    public const string PassBegins = "pass-begins";
    public const string PassEnds = "pass-ends";
    public const string CommandNotApplied = "command-not-applied";
    public const string Shed = "shed";
    public const string Wear = "wear";
    public const string MarkSlipped = "mark-slipped";
    public const string StoreFailing = "store-failing";
    public const string MirrorFailing = "mirror-failing";

    /// <summary>Kind and meaning, in the order in which documentation lists them.</summary>
    public static IReadOnlyList<(string Kind, string Meaning)> All { get; } =
    [
        (AirBelowSetpoint, "Regulated air at the bearing inlet is below a limit of its setpoint."),
        (BelowLimit, "A channel is below one of its low limits."),
        (AboveLimit, "A channel is above one of its high limits."),
        (PressureSag, "Regulated air dipped below its own recent level and came back: an event with depth, duration, area and recovery time."),
        (VacuumLoss, "Guide vacuum fell while tape is on the guide; the cause says what the air did at that moment."),
        (SupplyChanged, "The compressor's cycle is no longer what it was: a leak or more use, or a compressor that delivers less."),
        (Stale, "A channel has given no valid reading for too long."),
        (SensorFault, "A channel delivers faults instead of readings; one finding a run of faults."),
        (InstrumentSilent, "Every channel of an instrument is without readings: the instrument or its line is down."),
        (Drift, "A channel or quantity goes away from its baseline steadily and is to reach a limit: with its rate, how much of the tolerance is used and the time that is left."),
        (Cause, "Findings that belong together and what their cause probably is; 'unknown' is an answer."),
        (State, "The machine went from one state to another."),
        (NobodyWatching, "No process was watching for a while; what happened then is not known."),
        (Asleep, "The computer slept; readings of that time are missing."),
        (ClockStep, "The wall clock was set; engine time and all durations went on undisturbed."),
        (BenchInForce, "A bench definition came into force."),
        (CannotTell, "What can't be judged because the bench has no channel for it."),
        (Calibration, "A calibration came into force."),
        (BaselineTaken, "The present means were taken as this tape's baseline."),
        (BaselineDoubtful, "A person's baseline was taken while something was wrong: what."),
        (Mark, "A person's remark."),
        (PassBegins, "A pass of a transfer began."),
        (PassEnds, "A pass of a transfer ended."),
        (CommandNotApplied, "What a person asked for could not be done, and why."),
        (Shed, "RF of all heads falls over minutes, as when the tape sheds: rate in dB in 10 min, time left, and whether to stop and clean."),
        (Wear, "One head falls against the others from line-up to line-up over weeks, as a worn tip does: rate in dB a month and when it will be too far below them."),
        (MarkSlipped, "The timing record stands a line beside where it stood: its head-switch mark has slipped, and skew, scallop and steps are not judged."),
        (StoreFailing, "The store took nothing for a while: readings were held in memory, where a crash would have lost them."),
        (MirrorFailing, "A server that is to be kept level with the store was behind for longer than it may, or did not keep what it took: whoever looked there saw this bench as it was. Nothing was lost here unless its cause is lines-expired."),
    ];
}
