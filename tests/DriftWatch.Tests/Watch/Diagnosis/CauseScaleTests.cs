using DriftWatch.Configuration;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Diagnosis;
using Xunit;

namespace DriftWatch.Tests.Watch.Diagnosis;

public class CauseScaleTests
{
    private static Observation Down(double at = 0, Pace pace = Pace.Sudden) => new(true, Direction.Down, pace, EngineTime.FromSeconds(at));

    private static Observation Up(double at = 0, Pace pace = Pace.Sudden) => new(true, Direction.Up, pace, EngineTime.FromSeconds(at));

    private static Observation Still { get; } = new(true, Direction.Still);

    private static List<Candidate> Weigh(double strength, params (string Subject, Observation Seen)[] seen) =>
        CauseScale.Weigh(SignatureTable.All, s => Array.Find(seen, p => p.Subject == s) is { Subject: not null } found ? found.Seen : Still, strength);

    /// <summary>Bayes' rule by hand: likelihood 0.8 of a fall against 0.15, one row, 'unknown' with its weight of 3.</summary>
    [Fact]
    public void One_clue_of_one_cause_is_weighed_by_Bayes_rule()
    {
        Signature one = Row("a", new Clue("x", Expected.Down, 0.8));
        Candidate best = CauseScale.Weigh([one], _ => Down(), 1)[0];
        double weight = 0.8 / 0.15;
        Assert.Equal(("a", weight / (weight + 3)), (best.Cause, best.Probability));
    }

    /// <summary>A clue that is still: (1 − 0.8) against 0.7 when the fault is in full, (1 − 0.2) against 0.7 at its first sign.</summary>
    [Fact]
    public void What_does_not_show_yet_counts_for_little_while_the_fault_is_weak()
    {
        Signature one = Row("a", new Clue("x", Expected.Down, 0.9), new Clue("y", Expected.Down, 0.8));
        double Of(double strength) => CauseScale.Weigh([one], s => s == "x" ? Down() : Still, strength)[0] is { Cause: "a" } a ? a.Probability : CauseScale.Weigh([one], s => s == "x" ? Down() : Still, strength)[1].Probability;
        double full = 0.9 / 0.15 * (1 - 0.8) / 0.7;
        double first = 0.9 * 0.25 / 0.15 * (1 - (0.8 * 0.25)) / 0.7;
        Assert.Equal(full / (full + 3), Of(1), 1e-12);
        Assert.Equal(first / (first + 3), Of(0), 1e-12);
    }

    [Fact]
    public void Probabilities_sum_to_one_and_what_is_not_seen_at_all_is_no_cause()
    {
        List<Candidate> candidates = Weigh(1, ("control-track", Down()));
        Assert.Equal(1, candidates.Sum(c => c.Probability), 1e-12);
        Assert.Equal(0, candidates.Find(c => c.Cause == "head-clogged").Probability);
        Assert.Equal(SignatureTable.All.Count + 1, candidates.Count);
    }

    private static List<(string Cause, (string, Observation)[] Seen)> Patterns { get; } =
    [
        ("head-clogged", [(Subjects.OneHead, Down()), ("rf-spread", Up())]),
        ("head-worn", [(Subjects.OneHead, Down(pace: Pace.Slow)), ("rf-difference", Down(pace: Pace.Slow))]),
        ("oxide-shed", [("rf-common", Down(pace: Pace.Slow)), (Subjects.AllHeads, Down(pace: Pace.Slow))]),
        ("tracking-off", [("rf-common", Down(pace: Pace.Quick)), (Subjects.AllHeads, Down(pace: Pace.Quick)), ("control-track-phase", Up(pace: Pace.Quick))]),
        ("tape-lifted", [("normalised-vacuum", Down()), ("guide-vacuum", Down()), ("rf-common", Down(0.5)), (Subjects.AllHeads, Down(0.5))]),
        ("tape-run-out", [("normalised-vacuum", Down()), ("guide-vacuum", Down()), ("rf-common", Down()), (Subjects.AllHeads, Down()), ("control-track", Down())]),
        ("control-track-lost", [("control-track", Down(pace: Pace.Quick))]),
        ("edge-damage", [("rf-tilt", Down()), ("control-track", Down()), ("rf-common", Down())]),
        ("guide-contact", [("rf-tilt", Down(pace: Pace.Slow))]),
        ("guide-height-moved", [("scallop", Up(pace: Pace.Slow))]),
        ("guide-penetration-moved", [("skew", Down(pace: Pace.Slow)), ("corrector-use", Up(pace: Pace.Slow))]),
        ("slots-dirty", [("normalised-vacuum", Up(pace: Pace.Slow)), ("scallop", Down(pace: Pace.Slow))]),
        ("venturi-clogged", [("normalised-vacuum", Down(pace: Pace.Slow)), ("guide-vacuum", Down(pace: Pace.Slow))]),
        ("compressor-worn", [("compressor-duty", Up(pace: Pace.Slow)), ("supply-rise-rate", Down(pace: Pace.Slow))]),
        ("supply-leak", [("compressor-duty", Up(pace: Pace.Slow)), ("supply-fall-rate", Up(pace: Pace.Slow))]),
        ("leak-downstream", [("compressor-duty", Up(pace: Pace.Slow)), ("supply-fall-rate", Up(pace: Pace.Slow)), ("regulated-air", Down(pace: Pace.Slow))]),
        ("filter-clogged", [("regulated-air", Down(pace: Pace.Slow)), ("guide-vacuum", Down(pace: Pace.Slow))]),
        ("regulator-sag", [("regulated-air", Down()), ("guide-vacuum", Down()), (Subjects.AirSag, Down())]),
        ("regulator-creep", [("regulated-air", Up(pace: Pace.Slow)), ("guide-vacuum", Up(pace: Pace.Slow))]),
        ("regulator-follows-supply", [("regulator-effect", Up(pace: Pace.Slow)), ("regulated-unrest", Up(pace: Pace.Slow))]),
        ("moisture-in-air", [("regulated-unrest", Up()), ("vacuum-unrest", Up()), ("async-residual", Up())]),
        ("dryer-exhausted", [("dew-point", Up(pace: Pace.Slow))]),
        ("bearing-distress", [("async-residual", Up(pace: Pace.Slow)), ("compressor-duty", Up(pace: Pace.Slow)), ("supply-fall-rate", Up(pace: Pace.Slow))]),
        ("servo-unlocked", [("servo-lock", Down())]),
        ("sensor-fault", [(Subjects.Readings, Down())]),
    ];

    /// <summary>Each row of the table is the first answer to its own pattern in full, the rest of the machine standing still.</summary>
    [Theory]
    [MemberData(nameof(Causes))]
    public void A_pattern_in_full_is_read_as_its_cause(string cause) => Assert.Equal(cause, Weigh(1, Patterns.Find(p => p.Cause == cause).Seen)[0].Cause);

    public static TheoryData<string> Causes => new(Patterns.Select(p => p.Cause));

    [Fact]
    public void Every_cause_has_a_pattern_among_these() =>
        Assert.Equal(SignatureTable.All.Select(s => s.Cause).Order(), Patterns.Select(p => p.Cause).Order());

    [Fact]
    public void A_machine_without_those_channels_leaves_it_open()
    {
        (string, Observation)[] seen = [("rf-common", Down(pace: Pace.Slow))];
        List<Candidate> blind = CauseScale.Weigh(SignatureTable.All, s => s == "rf-common" ? seen[0].Item2 : Observation.Unseen, 1);
        Assert.True(blind[0].Probability < Weigh(1, seen)[0].Probability);
    }

    [Fact]
    public void What_should_move_first_and_does_is_believed_more()
    {
        Signature one = Row("a", new Clue("x", Expected.Down, 0.8), new Clue("y", Expected.Down, 0.8)) with { First = "x" };
        double Of(double x, double y) => CauseScale.Weigh([one], s => Down(s == "x" ? x : y), 1).Find(c => c.Cause == "a").Probability;
        Assert.True(Of(0, 10) > Of(10, 0));
        Assert.Equal(Of(0, 1), Of(1, 0)); // within two seconds they came together
    }

    /// <summary>A row can't ask for what no bench can ever show.</summary>
    [Fact]
    public void Every_subject_is_a_role_a_quantity_or_one_of_the_few_of_several()
    {
        string[] known = [.. Slugs.All<ChannelRole>(), .. Slugs.All<QuantityKind>(), .. Subjects.All];
        string[] asked = [.. SignatureTable.All.SelectMany(s => s.Clues).Select(c => c.Subject).Distinct()];
        Assert.Empty(asked.Except(known));
    }

    [Fact]
    public void Every_row_says_what_to_do_and_where_it_comes_from()
    {
        Assert.Equal(SignatureTable.All.Count, SignatureTable.All.Select(s => s.Cause).Distinct().Count());
        Assert.All(SignatureTable.All, s =>
        {
            Assert.Matches("^(published|derived|common practice, no source|from memory)", s.Source);
            Assert.EndsWith(".", s.FirstAction);
            Assert.Contains(s.Clues, c => c.Expected != Expected.Still);
            Assert.All(s.Clues, c => Assert.InRange(c.Likelihood, 0.01, 0.99));
        });
    }

    private static Signature Row(string cause, params Clue[] clues) => new() { Cause = cause, Words = cause, FirstAction = "Look.", Source = "derived", Clues = clues };
}
