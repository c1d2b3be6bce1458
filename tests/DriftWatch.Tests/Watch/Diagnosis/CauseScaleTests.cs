using DriftWatch.Configuration;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Diagnosis;
using Xunit;

namespace DriftWatch.Tests.Watch.Diagnosis;

public class CauseScaleTests
{
    private static Observation At(double value, Pace pace = Pace.Slow, double onset = 0) =>
        new(true, value, 0, value > 0.2 ? Direction.Up : value < -0.2 ? Direction.Down : Direction.Still, pace, EngineTime.FromSeconds(onset));

    private static readonly EngineTime Later = EngineTime.FromSeconds(20);

    private static List<Candidate> Weigh(params (string Subject, Observation Seen)[] seen) => CauseScale.Weigh(SignatureTable.All, s => Of(seen, s), Later, []);

    private static Observation Of((string Subject, Observation Seen)[] seen, string subject) =>
        Array.Find(seen, p => p.Subject == subject) is { Subject: not null } found ? found.Seen : At(0);

    /// <summary>
    /// By hand: one row and one subject, at its share. The density of Student's t with five degrees of freedom and of the
    /// tails' t with two are written out, the strength is summed over the same grid, and 'unknown' stands beside it.
    /// </summary>
    [Fact]
    public void One_clue_of_one_cause_is_weighed_by_Bayes_rule()
    {
        Signature one = Row("a", new Clue("skew", 1, 0.2));
        const double Value = 0.9;
        double unrest = Subjects.UnrestOf("skew");
        double anywhere = 1 / (2 * Math.Sqrt(2)) * Math.Pow(1 + (Value * Value / 2), -1.5);
        double sum = 0;
        for (int i = 0; i < 28; i++)
        {
            double strength = 0.08 * Math.Pow(62.5, i / 27.0);
            sum += (0.95 * Student5(Value - strength, Math.Sqrt((unrest * unrest) + (0.04 * strength * strength)))) + (0.05 * anywhere);
        }

        double cause = sum / 28 * 1.3; // what moves first has moved first
        double unknown = (0.85 * Student5(Value, unrest)) + (0.15 * anywhere);
        Candidate best = CauseScale.Weigh([one], s => s == "skew" ? At(Value) : Observation.Unseen, Later, [])[0];
        Assert.Equal("a", best.Cause);
        Assert.Equal(cause / (cause + unknown), best.Probability, 1e-9);
    }

    private static double Student5(double x, double deviation)
    {
        double z = x / deviation;
        return 8 / (3 * Math.PI * Math.Sqrt(5)) * Math.Pow(1 + (z * z / 5), -3) / deviation;
    }

    [Fact]
    public void Probabilities_sum_to_one_and_what_is_not_seen_at_all_is_no_cause()
    {
        List<Candidate> candidates = CauseScale.Weigh(SignatureTable.All, s => s == "control-track" ? At(-1.5) : Observation.Unseen, Later, []);
        Assert.Equal(1, candidates.Sum(c => c.Probability), 1e-12);
        Assert.Equal(0, candidates.Find(c => c.Cause == "head-clogged").Probability);
        Assert.Equal(SignatureTable.All.Count + 1, candidates.Count);
    }

    private static List<(string Cause, (string, Observation)[] Seen)> Patterns { get; } =
    [
        ("head-clogged", [(Subjects.OneHead, At(-3, Pace.Sudden))]),
        ("head-worn", [(Subjects.Wear, At(-1))]),
        ("oxide-shed", [("rf-common", At(-1))]),
        ("tracking-off", [("rf-common", At(-1, Pace.Quick)), ("control-track-phase", At(1, Pace.Quick))]),
        ("tape-lifted", [("normalised-vacuum", At(-4, Pace.Sudden)), ("rf-common", At(-6, Pace.Sudden)), ("vacuum-unrest", At(5, Pace.Sudden))]),
        ("tape-run-out", [("normalised-vacuum", At(-4, Pace.Sudden)), ("rf-common", At(-6, Pace.Sudden)), ("control-track", At(-6, Pace.Sudden)), ("vacuum-unrest", At(5, Pace.Sudden))]),
        ("control-track-lost", [("control-track", At(-1.5, Pace.Quick))]),
        ("edge-damage", [("control-track-dips", At(1, Pace.Quick)), ("rf-tilt-dips", At(2, Pace.Quick))]),
        ("guide-contact", [("rf-tilt", At(-1)), ("rf-common", At(-0.5))]),
        ("guide-height-moved", [("scallop", At(1))]),
        ("guide-penetration-moved", [("skew", At(-1))]),
        ("slots-dirty", [("rf-common", At(-1)), ("normalised-vacuum", At(0.12))]),
        ("venturi-clogged", [("normalised-vacuum", At(-1)), ("rf-common", At(-0.4)), ("supply-fall-rate", At(-0.1))]),
        ("compressor-worn", [("supply-rise-rate", At(-3)), ("compressor-duty", At(1))]),
        ("supply-leak", [("supply-fall-rate", At(2)), ("supply-rise-rate", At(-2)), ("compressor-duty", At(1)), ("supply-fall-bend", At(1.1))]),
        ("leak-downstream", [("supply-fall-rate", At(2)), ("supply-rise-rate", At(-2)), ("compressor-duty", At(1)), ("regulated-air", At(-0.35))]),
        ("filter-clogged", [("regulated-air", At(-1))]),
        ("regulator-sag", [("regulated-air", At(-1.5, Pace.Sudden))]),
        ("regulator-creep", [("regulated-air", At(1))]),
        ("regulator-follows-supply", [("regulator-effect", At(1))]),
        ("moisture-in-air", [("regulated-unrest", At(1, Pace.Quick)), ("vacuum-unrest", At(6, Pace.Quick)), ("async-residual", At(0.9))]),
        ("dryer-exhausted", [("dew-point", At(1))]),
        ("bearing-distress", [("async-residual", At(1)), ("supply-fall-rate", At(0.25)), ("supply-rise-rate", At(-0.2)), ("compressor-duty", At(0.12))]),
        ("servo-unlocked", [("servo-lock", At(-1, Pace.Sudden))]),
        ("sensor-fault", [(Subjects.Readings, At(-1, Pace.Sudden))]),
    ];

    /// <summary>Each row of the table is the first answer to its own pattern, the rest of the machine standing still.</summary>
    [Theory]
    [MemberData(nameof(Causes))]
    public void A_pattern_in_full_is_read_as_its_cause(string cause) => Assert.Equal(cause, Weigh(Patterns.Find(p => p.Cause == cause).Seen)[0].Cause);

    public static TheoryData<string> Causes => new(Patterns.Select(p => p.Cause));

    [Fact]
    public void Every_cause_has_a_pattern_among_these() =>
        Assert.Equal(SignatureTable.All.Select(s => s.Cause).Order(), Patterns.Select(p => p.Cause).Order());

    /// <summary>Vacuum that rises by a fortieth of its tolerance tells dirty slots from a shed long before either is at a limit.</summary>
    [Fact]
    public void What_follows_in_proportion_tells_two_causes_apart_at_their_first_sign()
    {
        (string, Observation) common = ("rf-common", At(-0.3));
        Assert.Equal("oxide-shed", Weigh(common, ("normalised-vacuum", At(0)))[0].Cause);
        Assert.Equal("slots-dirty", Weigh(common, ("normalised-vacuum", At(0.04)))[0].Cause);
    }

    [Fact]
    public void A_machine_without_those_channels_leaves_it_open()
    {
        (string, Observation)[] seen = [("normalised-vacuum", At(-4, Pace.Sudden)), ("rf-common", At(-6, Pace.Sudden)), ("control-track", At(-6, Pace.Sudden))];
        List<Candidate> blind = CauseScale.Weigh(SignatureTable.All, s => s == "normalised-vacuum" ? seen[0].Item2 : Observation.Unseen, Later, []);
        Assert.True(blind[0].Probability < Weigh(seen)[0].Probability);
        Assert.True(blind[1].Probability > 0.05, "another cause must stay in question");
    }

    [Fact]
    public void Nothing_that_has_moved_is_no_known_cause() => Assert.Equal(Candidate.Unknown, Weigh()[0].Cause);

    [Fact]
    public void What_explains_nothing_of_what_was_said_is_hardly_the_cause()
    {
        double Of(params string[] said) => CauseScale.Weigh(SignatureTable.All, s => s == "rf-common" ? At(-0.6) : At(0), Later, said).Find(c => c.Cause == "oxide-shed").Probability;
        Assert.True(Of("rf-level") > Of("dew-point"));
        Assert.Equal(Of(), Of("rf-level"), 0.05);
    }

    [Fact]
    public void What_should_move_first_and_does_is_believed_more()
    {
        Signature one = Row("a", new Clue("skew", 1), new Clue("scallop", 1));
        double Of(double skew, double scallop) => CauseScale.Weigh([one], s => s == "skew" ? At(1, onset: skew) : s == "scallop" ? At(1, onset: scallop) : Observation.Unseen, Later, []).Find(c => c.Cause == "a").Probability;
        Assert.True(Of(0, 10) > Of(10, 0));
        Assert.Equal(Of(0, 1), Of(1, 0)); // within two seconds they came together
    }

    /// <summary>A fall of 0.8 psi in half a second may become anything; when it stays there, it is no regulator that let go.</summary>
    [Fact]
    public void What_comes_at_once_is_there_in_full_soon_after()
    {
        double Of(string cause, double now) => CauseScale.Weigh(SignatureTable.All, s => s == "regulated-air" ? At(-0.4, Pace.Sudden) : Subjects.CyclesToTell(s) > 0 ? Observation.Unseen : At(0), EngineTime.FromSeconds(now), ["regulated-air"])
            .Find(c => c.Cause == cause).Probability;
        Assert.True(Of("regulator-sag", 0.5) > Of("leak-downstream", 0.5));
        Assert.True(Of("regulator-sag", 5) < Of("leak-downstream", 5));
    }

    /// <summary>A row can't ask for what no bench can ever show, nor be weighed by what the scale does not look at.</summary>
    [Fact]
    public void Every_subject_is_a_role_a_quantity_or_one_of_the_few_of_several()
    {
        string[] known = [.. Slugs.All<ChannelRole>(), .. Slugs.All<QuantityKind>(), Subjects.OneHead, Subjects.Readings, Subjects.Wear];
        Assert.Empty(Subjects.All.Except(known));
        Assert.Empty(SignatureTable.All.SelectMany(s => s.Clues.Select(c => c.Subject).Concat(s.LeftToChance)).Except(Subjects.All));
        Assert.Empty(known.SelectMany(Subjects.Behind).Except(Subjects.All));
    }

    [Fact]
    public void Every_row_says_what_to_do_and_where_it_comes_from()
    {
        Assert.Equal(SignatureTable.All.Count, SignatureTable.All.Select(s => s.Cause).Distinct().Count());
        Assert.All(SignatureTable.All, s =>
        {
            Assert.Matches("^(published|derived|common practice, no source|from memory)", s.Source);
            Assert.EndsWith(".", s.FirstAction);
            Assert.All(s.Clues, c => Assert.NotEqual(0, c.Share));
            Assert.Empty(s.Clues.Select(c => c.Subject).Intersect(s.LeftToChance));
        });
    }

    private static Signature Row(string cause, params Clue[] clues) => new() { Cause = cause, Words = cause, FirstAction = "Look.", Source = "derived", Clues = clues };
}
