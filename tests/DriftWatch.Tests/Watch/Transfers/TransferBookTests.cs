using DriftWatch.Measurement.Transfers;
using DriftWatch.Watch.Transfers;
using Xunit;

namespace DriftWatch.Tests.Watch.Transfers;

/// <summary>The fold of entries: a pass goes its way, what can't be is refused with a remedy, and nothing is overwritten.</summary>
public sealed class TransferBookTests
{
    [Fact]
    public void A_pass_goes_from_its_opening_to_two_signatures()
    {
        var acts = new Acts();
        acts.Open().Do(Acts.Check("reel-hubs")).Do(new LineUpStepRecorded { Step = "tracking", ListHash = "bb" });
        Assert.Equal(PassStage.Preparing, acts.Book.OpenPass!.Stage);
        acts.Do(new LineUpEnded());
        Assert.Equal(PassStage.Ready, acts.Book.OpenPass!.Stage);
        acts.Do(Acts.Began);
        Assert.Equal(acts.Pass, acts.Book.RunningPass!.Id);
        acts.Do(Acts.Ended).Do(Acts.Sound());
        BookPass pass = acts.Book.Transfer(acts.Transfer)!.Passes[0];
        acts.Do(new VerdictCountersigned { VerdictEntry = pass.Verdict!.Entry.Id }, by: "Ben");
        pass = acts.Book.Transfer(acts.Transfer)!.Passes[0];
        Assert.Equal((PassStage.Countersigned, "Ben"), (pass.Stage, pass.Countersigned!.Entry.By));
        Assert.Equal(8, pass.Entries.Count);
        Assert.Null(acts.Book.OpenPass);
    }

    [Fact]
    public void Two_runs_at_once_on_one_machine_are_refused()
    {
        var acts = new Acts();
        acts.Open().Do(Acts.Began);
        EntryCommand other = acts.Of(new PassOpened()) with { Pass = Acts.Id(0x9a, 2) };
        EntryRefusal refusal = acts.Try(other)!;
        Assert.Equal("Pass 1 of tape VT 1047 is running on this machine, and one machine takes one pass at a time.", refusal.What);
        Assert.Equal("End its run first.", refusal.Remedy);

        // Written down afterwards, a run may not lie over another either.
        acts.Do(Acts.Ended, about: 4.5).Do(new NoteWritten(), note: "x");
        Assert.Null(acts.Try(acts.Of(new PassOpened()) with { Pass = Acts.Id(0x9a, 2) }));
        EntryCommand over = acts.Of(Acts.Began, about: 4.2) with { Pass = Acts.Id(0x9a, 2) };
        Assert.Contains("ran on this machine at that instant", acts.Try(over)!.What, StringComparison.Ordinal);
        Assert.Null(acts.Try(acts.Of(Acts.Began, about: 2) with { Pass = Acts.Id(0x9a, 2) }));
        EntryCommand into = acts.Of(Acts.Ended, about: 4.2) with { Pass = Acts.Id(0x9a, 2) };
        Assert.Contains("meanwhile", acts.Try(into)!.What, StringComparison.Ordinal);
    }

    [Fact]
    public void What_is_out_of_order_is_refused()
    {
        var acts = new Acts();
        Assert.Contains("described", acts.Try(new TransferOpened { Tape = acts.Tape })!.What, StringComparison.Ordinal);
        Assert.Contains("no such transfer", acts.Try(new PassOpened())!.What, StringComparison.Ordinal);
        Assert.Contains("no such transfer", acts.Try(Acts.Began)!.What, StringComparison.Ordinal);
        acts.Open();
        Assert.Contains("no run to end", acts.Try(Acts.Ended)!.What, StringComparison.Ordinal);
        Assert.Contains("nothing to judge yet", acts.Try(Acts.Sound())!.What, StringComparison.Ordinal);
        acts.Do(Acts.Began);
        Assert.Contains("proves nothing", acts.Try(Acts.Check("reel-hubs"))!.What, StringComparison.Ordinal);
        Assert.Contains("nothing to judge yet", acts.Try(Acts.Sound())!.What, StringComparison.Ordinal);
        acts.Do(Acts.Ended);
        Assert.Contains("one run", acts.Try(Acts.Began)!.What, StringComparison.Ordinal);
        Assert.Contains("can't be given up", acts.Try(new PassGivenUp(), note: "x")!.What, StringComparison.Ordinal);
    }

    [Fact]
    public void The_second_signature_is_another_persons_and_on_the_verdict_that_stands()
    {
        var acts = new Acts();
        acts.Open().Run().Do(Acts.Sound(), by: "Ida");
        Guid first = acts.Book.Transfers[0].Passes[0].Verdict!.Entry.Id;
        Assert.Contains("somebody else", acts.Try(new VerdictCountersigned { VerdictEntry = first }, by: " ida ")!.What, StringComparison.Ordinal);
        Assert.Contains("needs a reason", acts.Try(Acts.Sound(Verdict.RunAgain))!.What, StringComparison.Ordinal);
        acts.Do(Acts.Sound(Verdict.RunAgain), note: "the end is missing");
        Assert.Contains("replaced", acts.Try(new VerdictCountersigned { VerdictEntry = first }, by: "Ben")!.What, StringComparison.Ordinal);
        Guid second = acts.Book.Transfers[0].Passes[0].Verdict!.Entry.Id;
        acts.Do(new VerdictCountersigned { VerdictEntry = second }, by: "Ben").Do(Acts.Sound(), by: "Cleo");
        Assert.Equal(PassStage.Judged, acts.Book.Transfers[0].Passes[0].Stage);
        Assert.Null(acts.Book.Transfers[0].Passes[0].Countersigned);
    }

    [Fact]
    public void A_correction_is_a_later_entry_and_the_earlier_stays()
    {
        var acts = new Acts();
        acts.Open().Do(Acts.Check("dew-point", CheckAnswer.NotDone), note: "the meter is away").Do(Acts.Check("dew-point"));
        BookPass pass = acts.Book.OpenPass!;
        Assert.Equal(CheckAnswer.Done, Assert.Single(pass.Checks).Body.Answer);
        Assert.Equal(3, pass.Entries.Count);
        acts.Do(acts.Described("625/50"));
        Assert.Equal(("625/50", 2), (acts.Book.Tapes[0].Now.Standard, acts.Book.Tapes[0].Entries.Count));
    }

    [Fact]
    public void A_step_after_the_line_up_opens_it_again()
    {
        var acts = new Acts();
        acts.Open().Do(new LineUpEnded()).Do(new LineUpStepRecorded { Step = "tracking", ListHash = "bb" });
        Assert.Equal(PassStage.Preparing, acts.Book.OpenPass!.Stage);
        Assert.Null(acts.Book.OpenPass.LineUpEnded);
    }

    [Fact]
    public void The_same_entry_twice_is_one_and_an_id_used_twice_is_refused()
    {
        var acts = new Acts();
        EntryCommand tape = acts.Of(acts.Described());
        Assert.Null(acts.Try(tape));
        TransferBook before = acts.Book;
        Assert.Null(acts.Try(tape with { EnteredUtc = tape.EnteredUtc + 5 }));
        Assert.Same(before, acts.Book);
        Assert.Contains("another entry", acts.Try(tape with { Note = "other" })!.What, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("525", 15, "VT 1", "no standard")]
    [InlineData("525/60", 0, "VT 1", "speed")]
    [InlineData("525/60", double.NaN, "VT 1", "speed")]
    [InlineData("525/60", 15, " ", "identifier")]
    [InlineData("525/60", 15, "VT\u0007", "control characters")]
    public void A_tape_is_described_with_what_is_possible(string standard, double speed, string identifier, string what)
    {
        var acts = new Acts();
        TapeDescribed tape = acts.Described() with { Standard = standard, SpeedInchesPerSecond = speed, Identifier = identifier };
        Assert.Contains(what, acts.Try(tape)!.What, StringComparison.Ordinal);
    }

    [Fact]
    public void Nothing_is_about_what_is_still_to_come() =>
        Assert.Contains("still to come", new Acts().Try(new Acts().Described(), about: 99)!.What, StringComparison.Ordinal);

    [Fact]
    public void A_note_needs_words_and_a_mark_does_not()
    {
        var acts = new Acts();
        acts.Open();
        Assert.NotNull(acts.Try(new NoteWritten()));
        acts.Do(new NoteWritten { IsMark = true }).Do(new NoteWritten(), note: "splice");
        Assert.Equal([true, false], acts.Book.OpenPass!.Notes.Select(n => n.Body.IsMark));
        Assert.Null(acts.Try(acts.Of(new NoteWritten(), note: "shift") with { Transfer = null, Pass = null }));
        Assert.Single(acts.Book.Notes);
    }

    [Fact]
    public void A_shift_is_handed_over_to_another_and_belongs_to_no_transfer()
    {
        var acts = new Acts();
        acts.Open();
        EntryCommand Handed(string to, string by = "Ida Wren") => acts.Of(new ShiftHandedOver { To = to }, by) with { Transfer = null, Pass = null };
        Assert.Null(acts.Try(Handed("Tom Ashby")));
        Assert.Equal(("Ida Wren", "Tom Ashby"), (acts.Book.HandOvers[0].Entry.By, acts.Book.HandOvers[0].Body.To));
        Assert.Contains("can't hand over to", acts.Try(Handed(" ida wren "))!.What, StringComparison.Ordinal);
        Assert.Contains("Nobody takes the shift over", acts.Try(Handed(" "))!.What, StringComparison.Ordinal);
        Assert.Contains("Nobody takes the shift over", acts.Try(Handed(new string('x', 81)))!.What, StringComparison.Ordinal);
        Assert.Contains("control characters", acts.Try(Handed("Tom\u0007"))!.What, StringComparison.Ordinal);
        Assert.Contains("belongs to no transfer", acts.Try(acts.Of(new ShiftHandedOver { To = "Tom Ashby" }, "Ida Wren"))!.What, StringComparison.Ordinal);
        Assert.Single(acts.Book.HandOvers);
        Assert.NotNull(acts.Book.OpenPass);
    }
}
