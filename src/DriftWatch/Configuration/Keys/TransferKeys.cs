using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Transfers;

namespace DriftWatch.Configuration.Keys;

/// <summary>Every key of the files that say how a site takes a tape through the bench.</summary>
internal static class TransferKeys
{
    private const string SourceText = "Where it, or its number, comes from: published (named), derived, 'common practice, no source', or 'from memory'.";

    public static readonly TableDefinition Transfers = new(
        "[transfers]",
        "How this site takes a tape through the bench: files beside this one. Each version that was used is kept with the bench, and what is signed names its hash.",
        [
            new("check-list", KeyKind.Text, "The pre-flight.", "\"check-list.toml\"") { Default = "the one that comes with the program", Maximum = 200 },
            new("line-up", KeyKind.Text, "The steps of the line-up.", "\"line-up.toml\"") { Default = "the one that comes with the program", Maximum = 200 },
            new("verdict-rules", KeyKind.Text, "When a run begins and ends, and how a verdict comes about.", "\"verdict.toml\"") { Default = "the one that comes with the program", Maximum = 200 },
        ]);

    public static readonly TableDefinition Check = new(
        "[[check]]",
        "One item of the pre-flight, signed with name and time.",
        [
            new("key", KeyKind.Slug, "Stays for ever.", "\"dew-point\"") { Required = true },
            new("text", KeyKind.Text, "What is to be done.", "\"The air is dry.\"") { Required = true },
            new("caution", KeyKind.Text, "What can hurt there.", "\"Eye protection on.\""),
            new("proof", KeyKind.Choice, "What readings can prove of it; where they say otherwise than was signed, that is shown.", "\"dew-point\"") { Choices = Slugs.All<ProofKind>(), Default = "\"none\"" },
            new("limit", KeyKind.Number, "The number that the proof speaks of: % of the setpoint, °C of dew point, days since a leak-down, hours of a wheel.", "-20") { Minimum = -1e6, Maximum = 1e6 },
            new("unit", KeyKind.Text, "Unit of the value that is written down; °C and % of 'limit'.", "\"degC\"") { Maximum = 12 },
            new("asks-value", KeyKind.Flag, "Whether the person writes down a number.", "true") { Default = "false" },
            new("source", KeyKind.Text, SourceText, "\"common practice, no source\"") { Required = true },
        ]);

    public static readonly TableDefinition CheckListRoot = new(
        "the check list",
        "The pre-flight, in the order in which it is done.",
        [new("check", KeyKind.Tables, Check.Text, "[[check]]") { Child = Check, Required = true }]);

    public static readonly TableDefinition Step = new(
        "[[step]]",
        "One step of the line-up: what was read before and after, the tolerance, what was turned.",
        [
            new("key", KeyKind.Slug, "Stays for ever.", "\"tracking\"") { Required = true },
            new("text", KeyKind.Text, "What is to be done.", "\"Tracking to the greatest RF.\"") { Required = true },
            new("caution", KeyKind.Text, "What can hurt there.", "\"Covers on.\""),
            new("aid", KeyKind.Choice, "The measurement that helps, as `driftwatch measure` has it.", "\"tracking\"") { Choices = ["timing", "half-error", "leak-down", "air", "filter", "tracking", "equaliser", "matching", "levels"] },
            new("reads", KeyKind.Slugs, "Channels or quantities, by id, that read its value; the first that the bench has is taken. Without one a person reads it off, and it is marked so.", "[\"rf-spread\"]") { Minimum = 0, Maximum = 8, Default = "[]" },
            new("least", KeyKind.Number, "Lowest value in tolerance, in 'unit'.", "-25"),
            new("greatest", KeyKind.Number, "Highest value in tolerance, in 'unit'.", "25"),
            new("unit", KeyKind.Text, "Unit of the value and of both bounds.", "\"ns\"") { Maximum = 12 },
            new("standard", KeyKind.Choice, "Only for tapes of this standard.", "\"525/60\"") { Choices = ["525/60", "625/50"], Default = "both" },
            new("source", KeyKind.Text, SourceText, "\"common practice, no source\"") { Required = true },
        ]);

    public static readonly TableDefinition LineUpRoot = new(
        "the line-up",
        "Its steps, in the order in which they are done.",
        [new("step", KeyKind.Tables, Step.Text, "[[step]]") { Child = Step, Required = true }]);

    public static readonly TableDefinition Run = new(
        "[run]",
        "By which state of the machine a run begins and ends; a person can always do both by hand.",
        [
            new("begins-after", KeyKind.Duration, "Tape runs for so long, after having stood since the line-up's end. The run counts from where it began to run.", "\"20 s\"") { Required = true, Minimum = 1, Maximum = 3600 },
            new("ends-after", KeyKind.Duration, "Tape stands for so long. The run counts to where it stopped.", "\"30 s\"") { Required = true, Minimum = 1, Maximum = 3600 },
            new("source", KeyKind.Text, SourceText, "\"common practice, no source\"") { Required = true },
        ]);

    public static readonly TableDefinition Review = new(
        "[review]",
        "How sections that are to be run again are cut out.",
        [
            new("handle", KeyKind.Duration, "Taken before and after each.", "\"10 s\"") { Required = true, Minimum = 0, Maximum = 600 },
            new("join", KeyKind.Duration, "Sections closer than this become one.", "\"30 s\"") { Required = true, Minimum = 0, Maximum = 3600 },
            new("source", KeyKind.Text, SourceText, "\"common practice, no source\"") { Required = true },
        ]);

    public static readonly TableDefinition Rule = new(
        "[[rule]]",
        "Where what it looks at comes to more than 'more-than', no better verdict than its own is left, and its text is a reason.",
        [
            new("key", KeyKind.Slug, "Stays for ever.", "\"air-was-lost\"") { Required = true },
            new("when", KeyKind.Choice, "findings: those within the run, counted; unwatched: percent of the run; checks and steps: how many; baseline-missing, wrong-standard: 1 or 0; marks: how many.", "\"findings\"") { Required = true, Choices = Slugs.All<VerdictCondition>() },
            new("kinds", KeyKind.Slugs, "findings: only of these kinds.", "[\"vacuum-loss\"]") { Minimum = 0, Maximum = 30, Default = "all" },
            new("severity", KeyKind.Choice, "findings: of at least this severity.", "\"alarm\"") { Choices = Slugs.All<Severity>(), Default = "\"advisory\"" },
            new("longer-than", KeyKind.Duration, "findings: shorter ones do not count.", "\"1 s\"") { Default = "\"0 s\"", Minimum = 0, Maximum = 3600 },
            new("more-than", KeyKind.Number, "What it takes.", "0") { Default = "0", Minimum = 0, Maximum = 1e6 },
            new("verdict", KeyKind.Choice, "The best verdict that is left.", "\"run-again\"") { Required = true, Choices = [Slugs.Of(Verdict.SoundWithRemarks), Slugs.Of(Verdict.RunAgain)] },
            new("text", KeyKind.Text, "The reason, one sentence.", "\"The air failed.\"") { Required = true },
            new("source", KeyKind.Text, SourceText, "\"common practice, no source\"") { Required = true },
        ]);

    public static readonly TableDefinition VerdictRoot = new(
        "the verdict rules",
        "When a run begins and ends, how sections are cut, and how a verdict comes about.",
        [
            new("run", KeyKind.Table, Run.Text, "[run]") { Child = Run, Required = true },
            new("review", KeyKind.Table, Review.Text, "[review]") { Child = Review, Required = true },
            new("rule", KeyKind.Tables, Rule.Text, "[[rule]]") { Child = Rule, Required = true },
        ]);
}
