using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Watch.Transfers;
using Xunit;

namespace DriftWatch.Tests.Watch.Transfers;

/// <summary>What happened where on the tape, what is to be run again, and the verdict with its reasons.</summary>
public sealed class RunReviewTests
{
    private static readonly VerdictRules Rules = new(
        "cc", new RunRule(20, 30, "test"), new ReviewRule(10, 30, "test"),
        [
            new VerdictRule { Key = "alarms", When = VerdictCondition.Findings, Severity = Severity.Alarm, LongerThanSeconds = 1, Verdict = Verdict.RunAgain, Text = "Alarm.", Source = "test" },
            new VerdictRule { Key = "remarks", When = VerdictCondition.Findings, Severity = Severity.Advisory, Verdict = Verdict.SoundWithRemarks, Text = "Remark.", Source = "test" },
            new VerdictRule { Key = "gaps", When = VerdictCondition.Unwatched, MoreThan = 5, Verdict = Verdict.RunAgain, Text = "Gaps.", Source = "test" },
            new VerdictRule { Key = "no-baseline", When = VerdictCondition.BaselineMissing, Verdict = Verdict.SoundWithRemarks, Text = "No baseline.", Source = "test" },
            new VerdictRule { Key = "standard", When = VerdictCondition.WrongStandard, Verdict = Verdict.RunAgain, Text = "Standard.", Source = "test" },
            new VerdictRule { Key = "unsigned", When = VerdictCondition.ChecksUnsigned, MoreThan = 1, Verdict = Verdict.SoundWithRemarks, Text = "Unsigned.", Source = "test" },
            new VerdictRule { Key = "marks", When = VerdictCondition.Marks, Verdict = Verdict.SoundWithRemarks, Text = "Mark.", Source = "test" },
        ]);

    private static readonly PassProgress Complete = new([], [], [], [], [], "");

    [Fact]
    public void Places_come_from_the_time_since_the_run_began_and_from_where_it_began()
    {
        TapePlaces places = Places(new RunBegan { Cue = RunCue.Hand, Basis = PositionBasis.ElapsedTime, StartSeconds = 60 });
        Assert.Equal(new TapePlace(67.5, PositionBasis.ElapsedTime), places.At(Utc(107.5)));
        Assert.Equal("0:01:07.5", places.At(Utc(107.5)).ToString());
    }

    [Fact]
    public void A_counter_is_read_between_its_readings_and_its_silence_is_said()
    {
        TapePlaces places = Places(
            new RunBegan { Cue = RunCue.State, Basis = PositionBasis.Counter, Channel = "counter" }, (Utc(100), 1000), (Utc(102), 1002), (Utc(150), 1049));
        Assert.Equal(new TapePlace(1001, PositionBasis.Counter), places.At(Utc(101)));
        Assert.Equal(new TapePlace(1005, PositionBasis.Counter), places.At(Utc(105)));
        Assert.Equal(new TapePlace(1022, PositionBasis.ElapsedTime), places.At(Utc(122)));
        Assert.Equal(new TapePlace(999, PositionBasis.Counter), places.At(Utc(99))); // the run begins between two readings
        Assert.Equal(new TapePlace(990, PositionBasis.ElapsedTime), places.At(Utc(90)));
        Assert.Equal(48, places.Silent(Utc(99), Utc(151)));
        Assert.Empty(places.Breaks(Utc(0), Utc(200)));
    }

    [Fact]
    public void A_counter_without_a_reading_leaves_the_time_since_the_begin()
    {
        TapePlaces places = Places(new RunBegan { Cue = RunCue.State, Basis = PositionBasis.Counter, Channel = "counter", StartSeconds = 750 });
        Assert.Equal(new TapePlace(760, PositionBasis.ElapsedTime), places.At(Utc(110)));
        Assert.Equal(100, places.Silent(Utc(100), Utc(200)));
    }

    [Fact]
    public void A_counter_that_is_set_anew_cuts_the_tape_and_one_that_is_wound_does_not()
    {
        var began = new RunBegan { Cue = RunCue.State, Basis = PositionBasis.Counter, Channel = "counter" };
        TapePlaces places = Places(began, (Utc(100), 1000), (Utc(102), 1002), (Utc(104), 0), (Utc(106), 2));
        Assert.Equal(new PlaceBreak(Utc(102), Utc(104), 1002, 0), Assert.Single(places.Breaks(Utc(100), Utc(106))));
        Assert.Equal(1003, places.At(Utc(103)).Seconds); // on the one side or the other, never 501
        Assert.Equal([(1001.0, 1004.0), (0.0, 1.0)], places.Pieces(Utc(101), Utc(105)).Select(p => (p.FromSeconds, Math.Round(p.ToSeconds, 6))));
        ReviewItem mark = new("m", "mark", Severity.Note, null, Utc(103), Utc(103), places.At(Utc(103)), places.At(Utc(103)), "Mark.");
        Assert.Equal(
            [(0.0, 4.0), (4.0, 6.0)],
            RunReview.Sections([mark], Rules, places, Utc(100), Utc(106)).Select(s => (s.RunFromSeconds, Math.Round(s.RunToSeconds, 6))));

        TapePlaces wound = Places(began, (Utc(100), 1000), (Utc(102), 960), (Utc(104), 920), (Utc(106), 918)); // 20 times play, back
        Assert.Empty(wound.Breaks(Utc(100), Utc(106)));
        Assert.Equal(980, wound.At(Utc(101)).Seconds);
    }

    [Fact]
    public void Items_lie_within_the_run_and_each_finding_has_its_last_word()
    {
        BookPass pass = Pass(marks: [150]);
        ReviewItem[] items = [.. RunReview.Items(
            pass,
            [
                Line("before", Severity.Alarm, 10, 90), Line("into", Severity.Alarm, 90, 103), Line("twice", Severity.Advisory, 120, null),
                Line("twice", Severity.Advisory, 120, 130), Line("open", Severity.Alarm, 190, null), Line("after", Severity.Alarm, 200, 210),
                Line("state", Severity.Note, 110, null, FindingKinds.State), Line("word", Severity.Note, 115, null, FindingKinds.ClockStep),
            ],
            Places(Acts.Began), Utc(500))];
        Assert.Equal(["into", "word", "twice", "mark", "open"], items.Select(i => i.Kind == "mark" ? "mark" : i.Id));
        Assert.Equal((0, 3), (items[0].From.Seconds, items[0].To.Seconds));
        Assert.Equal((20, 30), (items[2].From.Seconds, items[2].To.Seconds));
        Assert.Equal((90, 100), (items[4].From.Seconds, items[4].To.Seconds));
    }

    [Fact]
    public void Sections_have_handles_and_are_joined_where_they_nearly_touch()
    {
        BookPass pass = Pass(marks: []);
        TapePlaces places = Places(Acts.Began);
        IReadOnlyList<ReviewItem> items = RunReview.Items(
            pass, [Line("one", Severity.Alarm, 102, 104), Line("two", Severity.Alarm, 130, 132), Line("short", Severity.Alarm, 145, 145.5), Line("three", Severity.Alarm, 195, 198), Line("mild", Severity.Advisory, 170, 180)], places, 0);
        IReadOnlyList<TapeSection> sections = RunReview.Sections(items, Rules, places, Utc(100), Utc(200));
        Assert.Equal([(0.0, 42.0), (85.0, 100.0)], sections.Select(s => (s.FromSeconds, s.ToSeconds)));
        Assert.Equal(["one happened.", "two happened."], sections[0].Reasons);
    }

    /// <summary>Two dropouts are no reason to run a tape again where the site's rule asks for more than two: then none of them is cut out either.</summary>
    [Fact]
    public void A_rule_that_is_not_met_cuts_nothing_out()
    {
        TapePlaces places = Places(Acts.Began);
        VerdictRules rules = Rules with { Rules = [Rules.Rules[0] with { MoreThan = 2 }, .. Rules.Rules.Skip(1)] };
        FindingLine[] three = [Line("one", Severity.Alarm, 110, 112), Line("two", Severity.Alarm, 160, 162), Line("three", Severity.Alarm, 190, 192)];
        IReadOnlyList<ReviewItem> two = RunReview.Items(Pass(marks: []), three[..2], places, 0), all = RunReview.Items(Pass(marks: []), three, places, 0);
        Assert.NotEqual(Verdict.RunAgain, VerdictJudgement.Of(rules, Facts(two)).Verdict);
        Assert.Empty(RunReview.Sections(two, rules, places, Utc(100), Utc(200)));
        Assert.Equal(Verdict.RunAgain, VerdictJudgement.Of(rules, Facts(all)).Verdict);
        Assert.Equal(2, RunReview.Sections(all, rules, places, Utc(100), Utc(200)).Count);
    }

    [Fact]
    public void A_verdict_is_the_worst_of_its_reasons_and_has_them_all()
    {
        IReadOnlyList<ReviewItem> items = RunReview.Items(
            Pass(marks: [150]), [Line("a", Severity.Alarm, 110, 115), Line("b", Severity.Advisory, 120, 121)], Places(Acts.Began), 0);
        VerdictJudgement judged = VerdictJudgement.Of(Rules, Facts(items) with { HasBaseline = false });
        Assert.Equal(Verdict.RunAgain, judged.Verdict);
        Assert.Equal(["alarms", "remarks", "no-baseline", "marks"], judged.Reasons.Select(r => r.Rule));
        Assert.Equal("Alarm. a happened.", judged.Reasons[0].Text);
        Assert.Equal((10, 15), (judged.Reasons[0].FromSeconds, judged.Reasons[0].ToSeconds));
    }

    [Fact]
    public void A_run_without_a_reason_is_sound_and_each_rule_counts_beyond_its_number()
    {
        Assert.Equal(Verdict.Sound, VerdictJudgement.Of(Rules, Facts([]) with { UnwatchedPercent = 5 }).Verdict);
        Assert.Equal("Gaps. (5.01 % of the run)", Assert.Single(VerdictJudgement.Of(Rules, Facts([]) with { UnwatchedPercent = 5.01 }).Reasons).Text);
        CheckDefinition check = new() { Key = "k", Text = "K", Source = "test" };
        Assert.Equal(Verdict.Sound, VerdictJudgement.Of(Rules, Facts([]) with { Progress = Complete with { ChecksUnsigned = [check] } }).Verdict);
        Assert.Equal("Unsigned. (k; k)", Assert.Single(VerdictJudgement.Of(Rules, Facts([]) with { Progress = Complete with { ChecksUnsigned = [check, check] } }).Reasons).Text);
    }

    [Theory]
    [InlineData(239.76, "525/60", ProofStanding.Proved)]
    [InlineData(250.0, "525/60", ProofStanding.Contradicted)]
    [InlineData(250.1, "625/50", ProofStanding.Proved)]
    [InlineData(239.76, "625/50", ProofStanding.Contradicted)]
    [InlineData(200.0, "625/50", ProofStanding.CannotTell)] // it runs up, or is off its speed: that is no other standard
    public void A_wrong_standard_shows_in_the_wheels_rate(double rate, string standard, ProofStanding standing)
    {
        TelemetryProof proof = WheelRate.Check(rate, standard);
        Assert.Equal(standing, proof.Standing);
        VerdictJudgement judged = VerdictJudgement.Of(Rules, Facts([]) with { Standard = proof });
        Assert.Equal(standing == ProofStanding.Contradicted ? Verdict.RunAgain : Verdict.Sound, judged.Verdict);
    }

    [Theory]
    [InlineData(null, "No reading of the head wheel's speed: the standard was not checked.")]
    [InlineData(3.0, "The wheel was not up to speed (3.0 turns a second): the standard was not checked.")]
    public void A_wheel_at_rest_or_unmeasured_can_t_tell_and_says_so(double? rate, string says)
    {
        TelemetryProof proof = WheelRate.Check(rate, "525/60");
        Assert.Equal((ProofStanding.CannotTell, says), (proof.Standing, proof.Text));
        Assert.Equal(Verdict.Sound, VerdictJudgement.Of(Rules, Facts([]) with { Standard = proof }).Verdict);
    }

    private static RunFacts Facts(IReadOnlyList<ReviewItem> items) => new() { Items = items, Progress = Complete, UnwatchedPercent = 0, HasBaseline = true };

    private static long Utc(double seconds) => Acts.Begin + (long)(seconds * Acts.Second);

    /// <summary>A run from second 100 to second 200.</summary>
    private static BookPass Pass(double[] marks)
    {
        var acts = new Acts();
        acts.Open();
        EntryCommand Late(EntryBody body, double about) => acts.Of(body, about: about) with { EnteredUtc = Utc(1000) };
        Assert.Null(acts.Try(Late(Acts.Began, 100)));
        Assert.All(marks, at => Assert.Null(acts.Try(Late(new NoteWritten { IsMark = true }, at))));
        Assert.Null(acts.Try(Late(Acts.Ended, 200)));
        return acts.Book.Transfers[0].Passes[0];
    }

    private static TapePlaces Places(RunBegan began, params (long, double)[] readings) => new(
        new Said<RunBegan>(new Acts().Of(began, about: 100) with { Note = null }), readings);

    private static FindingLine Line(string id, Severity severity, double from, double? to, string kind = FindingKinds.BelowLimit) => new()
    {
        Id = id, Phase = to is null ? FindingPhase.Raised : FindingPhase.Ended, Input = 1, Bench = "b", BenchHash = "h", Kind = kind, Severity = severity,
        Start = EngineTime.FromSeconds(from), RaisedAt = EngineTime.FromSeconds(from), StartUtc = Utc(from), RaisedUtc = Utc(from),
        EndUtc = to is { } end ? Utc(end) : null, Cause = "unknown", State = MachineState.Locked, Text = $"{id} happened.",
    };
}
