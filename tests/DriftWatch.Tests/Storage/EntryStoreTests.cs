using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using Xunit;

namespace DriftWatch.Tests.Storage;

/// <summary>Entries in the store: once for each id, in the order of the log, and entered from the journal where the records lag.</summary>
public sealed class EntryStoreTests
{
    private static readonly EngineTime Start = EngineTime.FromSeconds(10);

    [Fact]
    public void An_entry_is_there_once_however_often_it_is_sent()
    {
        using var folder = new StoreFolder();
        using BenchStore store = Begun(folder);
        EntryCommand first = Note(1);
        store.Append([Input(3, Start, first), Input(4, Start, first), Input(5, Start, Note(2))]);
        using BenchReader reader = store.OpenReader();
        Assert.Equal([(3L, first.Id), (5L, Note(2).Id)], reader.Entries().Select(e => (e.Number, e.Entry.Id)));
        Assert.Equal(3, reader.Commands(0, 10).Count);
    }

    [Fact]
    public void Records_that_are_gone_are_filled_again_from_the_journal()
    {
        using var folder = new StoreFolder();
        using (BenchStore store = Begun(folder))
        {
            File.Copy(Path.Combine(folder.Path, "records.db"), Path.Combine(folder.Path, "before"));
            store.Append([Input(3, Start, Note(1))]);
        }

        foreach (string gone in Directory.GetFiles(folder.Path, "records.*"))
        {
            File.Delete(gone);
        }

        File.Move(Path.Combine(folder.Path, "before"), Path.Combine(folder.Path, "records.db"));
        using BenchStore again = folder.Open();
        using BenchReader reader = again.OpenReader();
        Assert.Equal(Note(1).Id, Assert.Single(reader.Entries()).Entry.Id);
    }

    /// <summary>The store, an exported log and a running service all carry entries in this one form.</summary>
    [Fact]
    public void Every_kind_of_entry_comes_back_as_it_was_written()
    {
        Guid id = Guid.Parse("0190a6f0-0000-7000-8000-000000000009");
        var proof = new TelemetryProof(ProofStanding.Contradicted, "Nobody drained it.");
        EntryBody[] bodies =
        [
            new TapeDescribed { Tape = id, Identifier = "VT 7", Standard = "625/50", Band = TapeBand.HighBand, SpeedInchesPerSecond = 15.625, Carrier = "a reel" },
            new TransferOpened { Tape = id },
            new PassOpened(),
            new PassGivenUp(),
            new CheckSigned { Check = "dew-point", Answer = CheckAnswer.NotDone, Value = -3.5, Telemetry = proof, ListHash = "aa" },
            new LineUpStepRecorded { Step = "tracking", Before = new(-3.1, "rf-head-1"), After = new(-1, null), Tolerance = new(-1.5, null, "dB", "practice"), Turned = "tracking, 2 div", ListHash = "bb" },
            new LineUpEnded(),
            new RunBegan { Cue = RunCue.State, Basis = PositionBasis.Counter, Channel = "counter", StartSeconds = 12.5, Standard = proof },
            new RunEnded { Cue = RunCue.Hand },
            new VerdictGiven { Verdict = Verdict.RunAgain, ByRules = Verdict.Sound, Reasons = [new("air", Verdict.RunAgain, "The air was gone.", 3, 4)], RulesHash = "cc" },
            new VerdictCountersigned { VerdictEntry = id },
            new NoteWritten { IsMark = true },
            new ShiftHandedOver { To = "Ben" },
        ];
        Assert.Equal(EntryBody.Kinds, bodies.Select(b => b.Kind));
        foreach (EntryBody body in bodies)
        {
            EntryCommand entry = Note(1) with { Transfer = id, Pass = id, Body = body };
            byte[] written = PayloadJson.ToUtf8(EngineInput.OfCommand(Start, entry));
            var read = (EntryCommand)PayloadJson.FromUtf8(InputKind.Command, written);
            Assert.Equal(written, PayloadJson.ToUtf8(EngineInput.OfCommand(Start, read)));
            Assert.Equal(body.GetType(), read.Body.GetType());
            Assert.Equivalent(entry, read, strict: true);
        }
    }

    internal static EngineInput Input(long number, EngineTime at, EntryCommand entry) => EngineInput.OfCommand(at, entry) with { Number = number };

    internal static EntryCommand Note(int number) => new()
    {
        Id = Guid.Parse($"0190a6f0-0000-7000-8000-{number:d12}"),
        By = "Ida",
        Note = "the label says otherwise",
        EnteredUtc = 1_773_489_600_000_000_000,
        AboutUtc = 1_773_489_600_000_000_000,
        Body = new NoteWritten(),
    };

    private static BenchStore Begun(StoreFolder folder)
    {
        var log = new LogMaker();
        log.Start(Start, new DateTimeOffset(2026, 3, 14, 12, 0, 0, TimeSpan.Zero), LogMaker.Bench(1));
        BenchStore store = folder.Open();
        store.KeyFor("channel-0");
        store.Append(log.Inputs.ToArray());
        return store;
    }
}
