using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Storage;

namespace DriftWatch.Tests.Reports.Dossiers;

/// <summary>The recording of a sound transfer, taken through the book afterwards: one pass that ran, and a second that waits.</summary>
internal static class TransferredStore
{
    public static readonly Guid Tape = Guid.Parse("0190a6f0-0001-7000-8000-000000000001");
    public static readonly Guid Transfer = Guid.Parse("0190a6f0-0002-7000-8000-000000000001");
    public static readonly Guid Pass = Guid.Parse("0190a6f0-0003-7000-8000-000000000001");

    /// <param name="recorded">A store of the recording.</param>
    /// <param name="folder">Where the store with the book goes.</param>
    public static void Make(string recorded, string folder)
    {
        Directory.CreateDirectory(folder);
        foreach (string file in Directory.EnumerateFiles(recorded))
        {
            File.Copy(file, Path.Combine(folder, Path.GetFileName(file)));
        }

        int made = 0;
        var proof = new TelemetryProof(ProofStanding.Contradicted, "The wheel turned before the air was up.");
        EntryCommand verdict = Entry(
            "09:40:00", "Ida", new VerdictGiven { Verdict = Verdict.SoundWithRemarks, ByRules = Verdict.Sound, Reasons = [new VerdictReason("marks", Verdict.SoundWithRemarks, "One mark.", 600, 602)], RulesHash = "cc" }, "Look at the splice.");
        Append(
            folder,
            Entry("07:50:00", "Ida", new TapeDescribed { Tape = Tape, Identifier = "MC-0117", Title = "Harbour Fête", Standard = "525/60", Band = TapeBand.HighBand, SpeedInchesPerSecond = 15, Condition = "two splices", Carrier = "14-inch reel", PreviousPasses = "once in 1998, elsewhere" }),
            Entry("07:52:00", "Ida", new TransferOpened { Tape = Tape }),
            Entry("07:55:00", "Ida", new PassOpened()),
            Entry("07:56:00", "Ida", new CheckSigned { Check = "air-before-wheel", Answer = CheckAnswer.Done, Telemetry = proof, ListHash = "aa" }),
            Entry("07:57:00", "Ida", new CheckSigned { Check = "filter-drained", Answer = CheckAnswer.NotDone, ListHash = "aa" }, "The drain is stuck."),
            Entry("08:01:30", "Ben", new LineUpStepRecorded
            {
                Step = "tracking", Before = new LineUpReading(-3, null), After = new LineUpReading(-0.4, null), Tolerance = new LineUpTolerance(-0.5, null, "dB", "site"), Turned = "tracking, half a turn", ListHash = "bb",
            }),
            Entry("08:01:50", "Ben", new LineUpEnded()),
            Entry("08:02:10", "Ben", new RunBegan { Cue = RunCue.Hand, Basis = PositionBasis.ElapsedTime, StartSeconds = 30 }),
            Entry("08:11:40", "Ben", new NoteWritten { IsMark = true }, "splice"),
            Entry("09:26:50", "Ben", new RunEnded { Cue = RunCue.Hand }),
            verdict,
            Entry("09:45:00", "Ben", new VerdictCountersigned { VerdictEntry = verdict.Id }));

        EntryCommand Entry(string about, string by, EntryBody body, string? note = null) => new()
        {
            Id = Guid.Parse($"0190a6f0-0009-7000-8000-{++made:d12}"),
            By = by,
            Note = note,
            EnteredUtc = Utc("10:00:00"),
            AboutUtc = Utc(about),
            Transfer = body is TapeDescribed ? null : Transfer,
            Pass = body is TapeDescribed or TransferOpened ? null : Pass,
            Body = body,
        };
    }

    /// <summary>The tape turns out to be of another standard than it was described with first.</summary>
    public static void DescribeAgain(string folder, string standard) => Append(folder, new EntryCommand
    {
        Id = Guid.Parse("0190a6f0-0009-7000-8000-000000000098"),
        By = "Ida",
        EnteredUtc = Utc("09:50:00"),
        AboutUtc = Utc("09:50:00"),
        Body = new TapeDescribed { Tape = Tape, Identifier = "MC-0117", Title = "Harbour Fête", Standard = standard, Band = TapeBand.HighBand, SpeedInchesPerSecond = 15 },
    });

    /// <summary>Another pass of the transfer, without a run.</summary>
    public static void OpenAnotherPass(string folder) => Append(folder, new EntryCommand
    {
        Id = Guid.Parse("0190a6f0-0009-7000-8000-000000000099"),
        By = "Ida",
        EnteredUtc = Utc("10:00:00"),
        AboutUtc = Utc("10:00:00"),
        Transfer = Transfer,
        Pass = Guid.Parse("0190a6f0-0003-7000-8000-000000000002"),
        Body = new PassOpened(),
    });

    /// <summary>Tape begins to run in that pass at 10:00:05, and nobody ends it.</summary>
    public static void BeginAnotherRun(string folder) => Append(folder, new EntryCommand
    {
        Id = Guid.Parse("0190a6f0-0009-7000-8000-000000000100"),
        By = "Ida",
        EnteredUtc = Utc("10:00:05"),
        AboutUtc = Utc("10:00:05"),
        Transfer = Transfer,
        Pass = Guid.Parse("0190a6f0-0003-7000-8000-000000000002"),
        Body = new RunBegan { Cue = RunCue.Hand, Basis = PositionBasis.ElapsedTime },
    });

    public static long Utc(string time) => UtcText.TryParse($"2026-01-15T{time}Z", out long utc) ? utc : throw new FormatException(time);

    private static void Append(string folder, params EntryCommand[] entries)
    {
        using BenchStore store = BenchStore.Open(folder, new BenchStoreOptions());
        long number = store.LastNumber;
        EngineTime at = store.LastTime;
        store.Append([.. entries.Select(e => EngineInput.OfCommand(at, e) with { Number = ++number })]);
    }
}
