using DriftWatch.Measurement.Transfers;
using DriftWatch.Watch.Transfers;
using Xunit;

namespace DriftWatch.Tests.Watch.Transfers;

/// <summary>Makes entries as people do, a second apart, with ids that are the same in every run.</summary>
internal sealed class Acts
{
    public const long Second = 1_000_000_000;
    public const long Begin = 1_773_489_600L * Second;

    private int _count;

    public Guid Tape { get; init; } = Id(0x7a, 1);

    public Guid Transfer { get; init; } = Id(0x7f, 1);

    public Guid Pass { get; set; } = Id(0x9a, 1);

    public TransferBook Book { get; private set; } = TransferBook.Empty;

    public static Guid Id(int kind, int number) => Guid.Parse($"0190a6f0-{kind:x4}-7000-8000-{number:d12}");

    public EntryCommand Of(EntryBody body, string by = "Ida", string? note = null, double? about = null)
    {
        long entered = Begin + (++_count * Second);
        return new EntryCommand
        {
            Id = Id(1, _count),
            By = by,
            Note = note,
            EnteredUtc = entered,
            AboutUtc = about is { } at ? Begin + (long)(at * Second) : entered,
            Transfer = body is TapeDescribed ? null : Transfer,
            Pass = body is TapeDescribed or TransferOpened ? null : Pass,
            Body = body,
        };
    }

    public EntryRefusal? Try(EntryCommand entry)
    {
        EntryRefusal? refusal = Book.Add(entry, out TransferBook after);
        Book = after;
        return refusal;
    }

    public EntryRefusal? Try(EntryBody body, string by = "Ida", string? note = null, double? about = null) => Try(Of(body, by, note, about));

    public Acts Do(EntryBody body, string by = "Ida", string? note = null, double? about = null)
    {
        Assert.Null(Try(body, by, note, about));
        return this;
    }

    /// <summary>A tape, its transfer and a pass that is open.</summary>
    public Acts Open() => Do(Described()).Do(new TransferOpened { Tape = Tape }).Do(new PassOpened());

    public Acts Run() => Do(Began).Do(Ended);

    public TapeDescribed Described(string standard = "525/60") =>
        new() { Tape = Tape, Identifier = "VT 1047", Standard = standard, SpeedInchesPerSecond = 15 };

    public static RunBegan Began => new() { Cue = RunCue.Hand, Basis = PositionBasis.ElapsedTime };

    public static RunEnded Ended => new() { Cue = RunCue.Hand };

    public static CheckSigned Check(string key, CheckAnswer answer = CheckAnswer.Done, TelemetryProof? telemetry = null) =>
        new() { Check = key, Answer = answer, Telemetry = telemetry, ListHash = "aa" };

    public static VerdictGiven Sound(Verdict verdict = Verdict.Sound) =>
        new() { Verdict = verdict, ByRules = Verdict.Sound, Reasons = [], RulesHash = "cc" };
}
