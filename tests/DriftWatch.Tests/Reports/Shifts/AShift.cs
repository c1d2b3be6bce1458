using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Storage;

namespace DriftWatch.Tests.Reports.Shifts;

/// <summary>The night of the failing compressor with what people entered in it: a tape that runs, two notes, and the shift handed over.</summary>
internal static class AShift
{
    private static readonly Guid Tape = Guid.Parse("0190a6f0-0001-7000-8000-000000000001");
    private static readonly Guid Transfer = Guid.Parse("0190a6f0-0002-7000-8000-000000000001");
    private static readonly Guid Pass = Guid.Parse("0190a6f0-0003-7000-8000-000000000001");

    /// <summary>Copies the store of the recording and enters what people did.</summary>
    public static void Copy(string recorded, string folder)
    {
        Directory.CreateDirectory(folder);
        foreach (string file in Directory.EnumerateFiles(recorded))
        {
            File.Copy(file, Path.Combine(folder, Path.GetFileName(file)));
        }

        Enter(folder);
    }

    public static void Enter(string folder)
    {
        int made = 0;
        using BenchStore store = BenchStore.Open(folder, new BenchStoreOptions());
        long number = store.LastNumber;
        EngineTime at = store.LastTime;
        store.Append(
        [
            .. new[]
            {
                Entry("07:50:00", "Ida Wren", new TapeDescribed { Tape = Tape, Identifier = "MC-0094", Title = "Lifeboat Sunday", Standard = "525/60", SpeedInchesPerSecond = 15 }),
                Entry("07:52:00", "Ida Wren", new TransferOpened { Tape = Tape }),
                Entry("07:55:00", "Ida Wren", new PassOpened()),
                Entry("07:56:00", "Ida Wren", new CheckSigned { Check = "tape-inspected", Answer = CheckAnswer.Done, ListHash = "aa" }),
                Entry("07:57:00", "Ida Wren", new CheckSigned { Check = "head-hours", Answer = CheckAnswer.Done, Value = 499.5, ListHash = "aa" }),
                Entry("08:02:00", "Ida Wren", new RunBegan { Cue = RunCue.Hand, Basis = PositionBasis.ElapsedTime }),
                Entry("08:20:30", "Tom Ashby", new NoteWritten { IsMark = true }, "flash at the cut"),
                Entry("08:30:00", "Tom Ashby", new NoteWritten(), "Compressor sounds rough."),
                Entry("08:39:00", "Ida Wren", new ShiftHandedOver { To = "Tom Ashby" }, "Look at the compressor."),
            }.Select(e => EngineInput.OfCommand(at, e) with { Number = ++number }),
        ]);

        EntryCommand Entry(string about, string by, EntryBody body, string? note = null) => new()
        {
            Id = Guid.Parse($"0190a6f0-0009-7000-8000-{++made:d12}"),
            By = by,
            Note = note,
            EnteredUtc = Utc("10:00:00"),
            AboutUtc = Utc(about),
            Transfer = body is TapeDescribed or ShiftHandedOver ? null : Transfer,
            Pass = body is TapeDescribed or TransferOpened or ShiftHandedOver ? null : Pass,
            Body = body,
        };
    }

    public static long Utc(string time) => UtcText.TryParse($"2026-01-15T{time}Z", out long utc) ? utc : throw new FormatException(time);
}
