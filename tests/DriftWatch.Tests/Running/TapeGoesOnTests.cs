using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using DriftWatch.Tests.Storage;
using DriftWatch.Tests.Watch.Support;
using DriftWatch.Tests.Watch.Transfers;
using DriftWatch.Watch;
using Microsoft.Extensions.Logging.Abstractions;
using Xunit;

namespace DriftWatch.Tests.Running;

/// <summary>
/// The program is replaced in the middle of a long tape and judges only the last stretch of the log anew: what it says from then on
/// is what it would have said, held against the same line-up and placed on the same tape.
/// </summary>
public sealed class TapeGoesOnTests
{
    private const double Again = 240;
    private const double Falls = 260;

    [Fact]
    public void A_run_and_its_line_up_are_known_and_nothing_is_told_twice()
    {
        var acts = new Acts();
        Night night = Running(240).Shows(MachineState.Locked, Again, 300, TestBench.Head1 + 1).Series(TestBench.Head1 + 1, Again, Falls, -10).Series(TestBench.Head1 + 1, Falls, 300, -17);
        Act(night, acts, 41, acts.Described());
        Act(night, acts, 42, new TransferOpened { Tape = acts.Tape });
        Act(night, acts, 43, new PassOpened());
        Act(night, acts, 60, new LineUpEnded());
        Act(night, acts, 70, Acts.Began with { StartSeconds = 600 });

        (List<FindingLine> whole, List<FindingLine> again, List<FindingLine> stored) = Judge(night);
        FindingLine clog = Assert.Single(again, l => l is { Kind: FindingKinds.BelowLimit, Phase: FindingPhase.Raised, Severity: Severity.Alarm, Channel: "rf-2" });
        Assert.Equal(600 + Falls - 70, clog.OnTape!.Value.Seconds, 0.2);
        Assert.Equal(-16, clog.Limit);
        Assert.Equal(Said(whole), Said(again));
        Assert.DoesNotContain(stored, l => l.Kind is FindingKinds.PassBegins or FindingKinds.BaselineTaken);
    }

    /// <summary>What the machine took by itself goes with its tape, and a tape that is gone leaves nothing to go on.</summary>
    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void A_baseline_that_the_machine_took_goes_on_with_its_tape_and_not_beyond(bool isGone)
    {
        Night night = isGone
            ? Running(200).Shows(MachineState.AirUp, 200, 230).Shows(MachineState.Locked, 230, Again)
            : Running(Again);
        night.Shows(MachineState.Locked, Again, 300, TestBench.Head1 + 1).Series(TestBench.Head1 + 1, Again, Falls, -10).Series(TestBench.Head1 + 1, Falls, 300, -17);

        (List<FindingLine> whole, List<FindingLine> again, _) = Judge(night);
        foreach (List<FindingLine> lines in (List<FindingLine>[])[whole, again])
        {
            Assert.Equal(!isGone, lines.Exists(l => l is { Kind: FindingKinds.BelowLimit, Severity: Severity.Alarm, Channel: "rf-2" }));
            Assert.Equal(isGone, lines.Exists(l => l.Kind == FindingKinds.BaselineTaken));
        }
    }

    /// <summary>A person's line-up holds until the next, through the tape after it that is being prepared and has no line-up yet.</summary>
    [Fact]
    public void The_line_up_of_the_tape_before_holds_while_the_next_is_prepared()
    {
        var acts = new Acts();
        Night night = Running(120).Shows(MachineState.AirUp, 120, 150).Shows(MachineState.Locked, 150, Again)
            .Shows(MachineState.Locked, Again, 300, TestBench.Head1 + 1).Series(TestBench.Head1 + 1, Again, Falls, -10).Series(TestBench.Head1 + 1, Falls, 300, -17);
        Act(night, acts, 41, acts.Described());
        Act(night, acts, 42, new TransferOpened { Tape = acts.Tape });
        Act(night, acts, 43, new PassOpened());
        Act(night, acts, 60, new LineUpEnded());
        Act(night, acts, 70, Acts.Began);
        Act(night, acts, 118, new RunEnded { Cue = RunCue.Hand });
        acts.Pass = Guid.CreateVersion7();
        Act(night, acts, 200, new PassOpened());

        (List<FindingLine> whole, List<FindingLine> again, _) = Judge(night);
        FindingLine clog = Assert.Single(again, l => l is { Kind: FindingKinds.BelowLimit, Phase: FindingPhase.Raised, Severity: Severity.Alarm, Channel: "rf-2" });
        Assert.Equal(-16, clog.Limit);
        Assert.Null(clog.OnTape); // no tape runs for keeps yet
        Assert.Equal(Said(whole), Said(again));
    }

    /// <summary>Written down afterwards it is no run of now, whatever the book says of it.</summary>
    [Fact]
    public void A_run_that_was_written_down_afterwards_does_not_go_on()
    {
        var acts = new Acts();
        Night night = Running(300);
        Act(night, acts, 180, acts.Described());
        Act(night, acts, 181, new TransferOpened { Tape = acts.Tape });
        Act(night, acts, 182, new PassOpened(), about: 60);
        Act(night, acts, 183, Acts.Began, about: 70);
        Assert.All(Judge(night).Again, l => Assert.Null(l.OnTape));
    }

    private static Night Running(double until) => new Night(TestBench.Full()).Shows(MachineState.Locked, 0, until);

    private static void Act(Night night, Acts acts, double at, EntryBody body, double? about = null)
    {
        EntryCommand entry = acts.Of(body) with { EnteredUtc = Night.Midnight + (long)(at * 1e9), AboutUtc = Night.Midnight + (long)((about ?? at) * 1e9) };
        Assert.Null(acts.Try(entry));
        night.At(at, entry);
    }

    /// <summary>What the whole log and its last stretch say once the stretch knows the machine's state, and all that the latter stores.</summary>
    private static (List<FindingLine> Whole, List<FindingLine> Again, List<FindingLine> Stored) Judge(Night night)
    {
        List<FindingLine> whole = NightJudging.Judge(night).Lines;
        List<EngineInput> inputs = night.Inputs();
        int before = inputs.FindIndex(i => i.Time.Seconds >= Again);
        using var folder = new StoreFolder();
        using BenchStore store = folder.Open();
        store.Append([.. inputs]);
        var engine = new WatchEngine();
        var told = new List<FindingLine>();
        foreach (EngineInput input in inputs.Take(before))
        {
            engine.Apply(input, told);
        }

        store.CommitJudged(engine.LastNumber, engine.Snapshot(), "another build", told);
        EngineStart.CatchUp(store, NullLogger.Instance, inputs.Count - before);
        using BenchReader reader = store.OpenReader();
        List<FindingLine> stored = [.. reader.Findings(0, 10_000).Select(f => f.Line).Skip(told.Count)];
        return (whole.FindAll(IsLate), stored.FindAll(IsLate), stored);

        static bool IsLate(FindingLine line) => line.RaisedAt.Seconds > Again + 10;
    }

    private static List<string> Said(IEnumerable<FindingLine> lines) =>
        [.. lines.Select(l => $"{l.Phase} {l.Kind} {l.Channel} {l.Severity} {l.StartUtc} {l.Limit} {l.OnTape}")];
}
