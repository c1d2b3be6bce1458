using CsCheck;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Watch.Transfers;
using Xunit;

namespace DriftWatch.Tests.Watch.Transfers;

/// <summary>Whatever is entered in whatever order, no accepted sequence reaches what can't be, and folding is repeatable.</summary>
public sealed class BookSequenceTests
{
    private static readonly Gen<EntryCommand[]> Sequences = Gen.Select(
        Gen.Int[0, 13], Gen.Int[1, 2], Gen.Int[1, 4], Gen.Int[0, 60], Gen.Int[0, 2]).Array[0, 60].Select(Make);

    [Fact]
    public void No_accepted_sequence_reaches_an_impossible_state() => Sequences.Sample(
        entries =>
        {
            TransferBook book = TransferBook.Empty;
            var accepted = new List<EntryCommand>();
            foreach (EntryCommand entry in entries)
            {
                TransferBook before = book;
                if (book.Add(entry, out book) is { } refusal)
                {
                    Assert.Same(before, book);
                    Assert.NotEmpty(refusal.Remedy);
                }
                else
                {
                    accepted.Add(entry);
                }

                CheckSound(book);
            }

            // What was refused leaves no trace: the accepted alone, and all of them twice, give the same book.
            Assert.Equal(Picture(book), Picture(TransferBook.Of(accepted)));
            Assert.Equal(Picture(book), Picture(TransferBook.Of(entries.Concat(accepted))));
        },
        iter: 4000);

    private static void CheckSound(TransferBook book)
    {
        BookPass[] passes = [.. book.Transfers.SelectMany(t => t.Passes)];
        Assert.True(passes.Count(p => p.Stage <= PassStage.Running) <= 1);
        foreach (BookPass pass in passes)
        {
            bool ran = pass.Stage is > PassStage.Running and < PassStage.GivenUp;
            Assert.Equal(ran, pass.RunEnded is not null);
            Assert.Equal(ran || pass.Stage == PassStage.Running, pass.RunBegan is not null);
            Assert.True(pass.Entries.Count(e => e.Body is RunBegan) <= 1 && pass.Entries.Count(e => e.Body is RunEnded) <= 1);
            Assert.True(pass.RunEnded is null || pass.RunEnded.Entry.AboutUtc > pass.RunBegan!.Entry.AboutUtc);
            Assert.Equal(pass.Stage is PassStage.Judged or PassStage.Countersigned, pass.Verdict is not null);
            Assert.True(pass.Countersigned is null || pass.Countersigned.Entry.By != pass.Verdict!.Entry.By);
            Assert.Equal(pass.Stage == PassStage.GivenUp, pass.GivenUp is not null);
            Assert.Contains(book.Tapes, t => t.Id == book.TransferOf(pass).Tape);
            Assert.DoesNotContain(passes, p => p != pass && Overlap(p, pass));
        }
    }

    private static bool Overlap(BookPass one, BookPass other) =>
        one.RunEnded is { } e1 && other.RunEnded is { } e2
        && one.RunBegan!.Entry.AboutUtc < e2.Entry.AboutUtc && other.RunBegan!.Entry.AboutUtc < e1.Entry.AboutUtc;

    private static string Picture(TransferBook book) => string.Join(
        "\n",
        book.Transfers.Select(t => $"{t.Id} {t.Tape} {t.Notes.Count} "
            + string.Join(" ", t.Passes.Select(p => $"{p.Number}:{p.Stage}:{string.Join(",", p.Entries.Select(e => e.Id))}"))));

    private static EntryCommand[] Make((int Kind, int Transfer, int Pass, int About, int By)[] acts)
    {
        var made = new List<EntryCommand>();
        for (int i = 0; i < acts.Length; i++)
        {
            (int kind, int transfer, int pass, int about, int by) = acts[i];
            var maker = new Acts { Transfer = Acts.Id(0x7f, transfer), Pass = Acts.Id(0x9a, pass), Tape = Acts.Id(0x7a, transfer) };
            EntryBody body = kind switch
            {
                0 => maker.Described(),
                1 => new TransferOpened { Tape = maker.Tape },
                2 or 3 => new PassOpened(),
                4 => Acts.Check("reel-hubs"),
                5 => new LineUpStepRecorded { Step = "tracking", ListHash = "bb" },
                6 => new LineUpEnded(),
                7 or 8 => Acts.Began,
                9 or 10 => Acts.Ended,
                11 => Acts.Sound(),
                12 => new VerdictCountersigned { VerdictEntry = made.LastOrDefault(e => e.Body is VerdictGiven && e.Pass == maker.Pass)?.Id ?? Guid.Empty },
                _ => about % 5 == 0 ? new PassGivenUp() : new NoteWritten { IsMark = about % 2 == 0 },
            };
            made.Add(maker.Of(body, by: new[] { "Ida", "Ben", "Cleo" }[by], note: kind == 13 ? "because" : null) with
            {
                Id = Acts.Id(1, i),
                EnteredUtc = Acts.Begin + (100 * Acts.Second),
                AboutUtc = Acts.Begin + (about * Acts.Second),
            });
        }

        return [.. made];
    }
}
