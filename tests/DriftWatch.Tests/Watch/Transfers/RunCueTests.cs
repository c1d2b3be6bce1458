using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Watch.Transfers;
using Xunit;

namespace DriftWatch.Tests.Watch.Transfers;

/// <summary>When the machine's state begins and ends a run. Twenty seconds locked begin one, thirty of standing end it.</summary>
public sealed class RunCueTests
{
    private readonly RunCueWatch _watch = new(new RunRule(20, 30, "test"), MachineState.Locked);

    [Fact]
    public void Tape_that_stood_and_runs_locked_begins_a_run_from_where_it_began_to_run()
    {
        BookPass ready = Ready();
        Assert.Null(Feed(ready, 0, 5, MachineState.AirUp));
        (double said, RunCueSeen cue) = Feed(ready, 5, 60, MachineState.Locked)!.Value;
        Assert.Equal(25, said, 1);
        Assert.True(cue.Begins);
        Assert.Equal(Utc(5), cue.AtUtc);
    }

    /// <summary>A book that refuses, or a store that takes nothing, is not asked at every look.</summary>
    [Fact]
    public void A_run_that_was_not_entered_is_said_again_after_ten_seconds_with_its_own_beginning()
    {
        BookPass ready = Ready();
        Assert.Null(Feed(ready, 0, 5, MachineState.AirUp));
        Assert.Equal((25.0, Utc(5)), Round(Feed(ready, 5, 60, MachineState.Locked)));
        Assert.Equal((35.0, Utc(5)), Round(Feed(ready, 25.1, 60, MachineState.Locked)));
        Assert.Equal((45.0, Utc(5)), Round(Feed(ready, 35.1, 60, MachineState.Locked)));

        static (double, long) Round((double Said, RunCueSeen Cue)? said) => (Math.Round(said!.Value.Said, 1), said.Value.Cue.AtUtc);
    }

    [Fact]
    public void Tape_that_still_runs_from_the_line_up_begins_nothing()
    {
        BookPass ready = Ready();
        Assert.Null(Feed(ready, 0, 120, MachineState.Locked));
        Assert.Null(Feed(ready, 120, 125, MachineState.TapeOnGuide));
        Assert.NotNull(Feed(ready, 125, 150, MachineState.Locked));
    }

    [Fact]
    public void Lock_that_is_lost_begins_the_wait_anew_and_pulling_in_is_no_run()
    {
        BookPass ready = Ready();
        Assert.Null(Feed(ready, 0, 5, MachineState.AirUp));
        Assert.Null(Feed(ready, 5, 20, MachineState.Locked));
        Assert.Null(Feed(ready, 20, 60, MachineState.Running));
        Assert.Equal(80, Feed(ready, 60, 90, MachineState.Locked)!.Value.Said, 1);
    }

    [Fact]
    public void Before_the_line_up_has_ended_nothing_begins()
    {
        var acts = new Acts();
        acts.Open();
        Assert.Null(Feed(acts.Book.OpenPass, 0, 5, MachineState.AirUp));
        Assert.Null(Feed(acts.Book.OpenPass, 5, 100, MachineState.Locked));
        Assert.Null(Feed(null, 100, 200, MachineState.Locked));
    }

    [Fact]
    public void Tape_that_stands_ends_the_run_where_it_stopped_and_a_splice_does_not()
    {
        var acts = new Acts();
        acts.Open().Do(Acts.Began);
        BookPass running = acts.Book.RunningPass!;
        Assert.Null(Feed(running, 100, 700, MachineState.Locked));
        Assert.Null(Feed(running, 700, 702, MachineState.TapeOnGuide));
        Assert.Null(Feed(running, 702, 800, MachineState.Locked));
        (double said, RunCueSeen cue) = Feed(running, 800, 900, MachineState.AirUp)!.Value;
        Assert.False(cue.Begins);
        Assert.Equal((830, Utc(800)), (Math.Round(said), cue.AtUtc));
    }

    /// <summary>The service was killed 6 s after the tape began to run and is back 9 s later: the run began where the tape did.</summary>
    [Fact]
    public void A_process_that_begins_in_the_middle_goes_on_from_the_states_of_before()
    {
        BookPass ready = Ready();
        _watch.Recall([(Utc(-50), MachineState.AirUp), (Utc(100), MachineState.Locked), (Utc(106), MachineState.Unknown)], ready);
        Assert.Null(Feed(ready, 115, 116, MachineState.Unknown));
        (double said, RunCueSeen cue) = Feed(ready, 116, 140, MachineState.Locked)!.Value;
        Assert.Equal((120, Utc(100)), (Math.Round(said), cue.AtUtc));
    }

    [Fact]
    public void A_tape_that_stood_before_a_restart_need_not_stand_again()
    {
        BookPass ready = Ready();
        _watch.Recall([(Utc(0), MachineState.AirUp)], ready);
        Assert.Equal(135, Feed(ready, 115, 140, MachineState.Locked)!.Value.Said, 1);
    }

    [Fact]
    public void A_tape_that_stopped_before_a_restart_stopped_then_and_one_that_ran_goes_on()
    {
        var acts = new Acts();
        acts.Open().Do(Acts.Began);
        BookPass running = acts.Book.RunningPass!;
        _watch.Recall([(Utc(100), MachineState.Locked), (Utc(700), MachineState.AirUp), (Utc(710), MachineState.Unknown)], running);
        (double said, RunCueSeen cue) = Feed(running, 720, 760, MachineState.AirUp)!.Value;
        Assert.Equal((730, Utc(700)), (Math.Round(said), cue.AtUtc));

        var other = new RunCueWatch(new RunRule(20, 30, "test"), MachineState.Locked);
        other.Recall([(Utc(100), MachineState.Locked)], running);
        Assert.Null(other.Look(Utc(900), MachineState.Locked, running));
    }

    [Fact]
    public void Tape_that_runs_from_the_line_up_through_a_restart_begins_nothing()
    {
        BookPass ready = Ready();
        _watch.Recall([(Utc(0), MachineState.Locked)], ready);
        Assert.Null(Feed(ready, 100, 200, MachineState.Locked));
    }

    [Fact]
    public void A_state_that_is_not_known_ends_nothing()
    {
        var acts = new Acts();
        acts.Open().Do(Acts.Began);
        Assert.Null(Feed(acts.Book.RunningPass, 100, 900, MachineState.Unknown));
    }

    private static BookPass Ready()
    {
        var acts = new Acts();
        acts.Open().Do(new LineUpEnded());
        return acts.Book.OpenPass!;
    }

    private static long Utc(double seconds) => Acts.Begin + (long)(seconds * Acts.Second);

    private (double Said, RunCueSeen Cue)? Feed(BookPass? pass, double from, double to, MachineState state)
    {
        for (double t = from; t < to; t += 0.1)
        {
            if (_watch.Look(Utc(Math.Round(t, 1)), state, pass) is { } cue)
            {
                return (t, cue);
            }
        }

        return null;
    }
}
