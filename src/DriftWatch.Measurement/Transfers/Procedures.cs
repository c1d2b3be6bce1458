using DriftWatch.Measurement.Channels;

namespace DriftWatch.Measurement.Transfers;

/// <summary>
/// How this site takes a tape through the bench: check list, line-up steps and verdict rules as they were read. They
/// travel with the bench, so each version that was used is kept with it; entries name the hash of the one they used.
/// </summary>
public sealed record TransferProcedures
{
    public required CheckList Checks { get; init; }

    public required LineUpList LineUp { get; init; }

    public required VerdictRules Rules { get; init; }
}

/// <summary>The pre-flight.</summary>
/// <param name="Hash">SHA-256 (lower-case hex) over the file's text.</param>
/// <param name="Items">In the order in which they are done.</param>
public sealed record CheckList(string Hash, IReadOnlyList<CheckDefinition> Items);

/// <summary>What readings can tell of an item of the check list.</summary>
public enum ProofKind
{
    /// <summary>Nothing: it rests on the signature.</summary>
    None,

    /// <summary>Regulated air was up before the wheel last began to turn.</summary>
    AirBeforeWheel,

    /// <summary>Regulated air stands at its setpoint, within <see cref="CheckDefinition.Limit"/> percent of it.</summary>
    Setpoint,

    /// <summary>The dew point is below <see cref="CheckDefinition.Limit"/> °C.</summary>
    DewPoint,

    /// <summary>No calibration of a channel is past its day.</summary>
    CalibrationInDate,

    /// <summary>The result of a leak-down test was written down within <see cref="CheckDefinition.Limit"/> days, or is now.</summary>
    LeakDown,

    /// <summary>The hours read off are below <see cref="CheckDefinition.Limit"/> and no fewer than tape was seen to run since they were last read off.</summary>
    HeadHours,
}

/// <summary>One item of the pre-flight.</summary>
public sealed record CheckDefinition
{
    /// <summary>A slug.</summary>
    public required string Key { get; init; }

    public required string Text { get; init; }

    /// <summary>What can hurt there.</summary>
    public string? Caution { get; init; }

    public ProofKind Proof { get; init; }

    /// <summary>The number that <see cref="Proof"/> speaks of.</summary>
    public double? Limit { get; init; }

    /// <summary>Unit of the number written down; null where there is none.</summary>
    public string? Unit { get; init; }

    /// <summary>Whether the person writes down a number.</summary>
    public bool AsksValue { get; init; }

    /// <summary>Where the item, or its number, comes from.</summary>
    public required string Source { get; init; }
}

/// <summary>The line-up.</summary>
/// <param name="Hash">SHA-256 (lower-case hex) over the file's text.</param>
/// <param name="Steps">In the order in which they are done.</param>
public sealed record LineUpList(string Hash, IReadOnlyList<LineUpStepDefinition> Steps);

/// <summary>One step of the line-up.</summary>
public sealed record LineUpStepDefinition
{
    /// <summary>A slug.</summary>
    public required string Key { get; init; }

    public required string Text { get; init; }

    public string? Caution { get; init; }

    /// <summary>The measurement that helps, as <c>driftwatch measure</c> names it; null where none does.</summary>
    public string? Aid { get; init; }

    /// <summary>Channels and quantities, by id, that can read it; the first that the bench has is taken, and by hand where it has none.</summary>
    public IReadOnlyList<string> Reads { get; init; } = [];

    public double? Least { get; init; }

    public double? Greatest { get; init; }

    /// <summary>Of the readings and both bounds; null for a step without a number.</summary>
    public string? Unit { get; init; }

    /// <summary>Only for tapes of this standard; null for all.</summary>
    public string? Standard { get; init; }

    /// <summary>Where the bounds, or the step, come from.</summary>
    public required string Source { get; init; }
}

/// <summary>How a verdict comes about, and when the machine's state begins and ends a run.</summary>
/// <param name="Hash">SHA-256 (lower-case hex) over the file's text.</param>
/// <param name="Run">By which state a run begins and ends.</param>
/// <param name="Review">How what is to be run again is cut out.</param>
/// <param name="Rules">In the order in which their reasons are told.</param>
public sealed record VerdictRules(string Hash, RunRule Run, ReviewRule Review, IReadOnlyList<VerdictRule> Rules);

/// <summary>By which state of the machine a run begins and ends.</summary>
/// <param name="BeginsAfterSeconds">Tape has run for so long after the line-up's end.</param>
/// <param name="EndsAfterSeconds">Tape has stood for so long.</param>
/// <param name="Source">Where the numbers come from.</param>
public sealed record RunRule(double BeginsAfterSeconds, double EndsAfterSeconds, string Source);

/// <summary>How sections to run again are cut.</summary>
/// <param name="HandleSeconds">Taken before and after each, so that the sections can be joined.</param>
/// <param name="JoinSeconds">Sections closer than this become one.</param>
/// <param name="Source">Where the numbers come from.</param>
public sealed record ReviewRule(double HandleSeconds, double JoinSeconds, string Source);

/// <summary>What a rule looks at.</summary>
public enum VerdictCondition
{
    /// <summary>Findings within the run, of <see cref="VerdictRule.Kinds"/> and at least <see cref="VerdictRule.Severity"/>: more than so many of them.</summary>
    Findings,

    /// <summary>Percent of the run of which nothing at all is stored: more than so much. A channel that falls silent while others read is a finding.</summary>
    Unwatched,

    /// <summary>Checks that were not signed: more than so many.</summary>
    ChecksUnsigned,

    /// <summary>Checks signed as not done.</summary>
    ChecksNotDone,

    /// <summary>Checks that the readings contradict.</summary>
    ChecksContradicted,

    /// <summary>Steps of the line-up that were not recorded or left out.</summary>
    StepsMissing,

    /// <summary>Steps of the line-up whose last value lies outside its tolerance.</summary>
    StepsOutside,

    /// <summary>Whether a person's baseline is missing from the pass: 1, else 0.</summary>
    BaselineMissing,

    /// <summary>Whether the wheel turned at the rate of another standard: 1, else 0.</summary>
    WrongStandard,

    /// <summary>Marks that a person set during the run.</summary>
    Marks,
}

/// <summary>One rule of the verdict: where what it looks at comes to more than its number, no better verdict than its own is left.</summary>
public sealed record VerdictRule
{
    /// <summary>A slug.</summary>
    public required string Key { get; init; }

    public required VerdictCondition When { get; init; }

    /// <summary>Of <see cref="VerdictCondition.Findings"/>: kinds; empty for all.</summary>
    public IReadOnlyList<string> Kinds { get; init; } = [];

    /// <summary>Of <see cref="VerdictCondition.Findings"/>: the least severity.</summary>
    public Severity Severity { get; init; }

    /// <summary>Of <see cref="VerdictCondition.Findings"/>: shorter ones do not count, seconds.</summary>
    public double LongerThanSeconds { get; init; }

    public double MoreThan { get; init; }

    public required Verdict Verdict { get; init; }

    public required string Text { get; init; }

    public required string Source { get; init; }
}
