using System.Reflection;
using System.Text.Json.Serialization;

namespace DriftWatch.Measurement.Transfers;

/// <summary>What an entry says. The names on the wire and in the store are for ever: append only.</summary>
[JsonPolymorphic(TypeDiscriminatorPropertyName = "kind")]
[JsonDerivedType(typeof(TapeDescribed), "tape-described")]
[JsonDerivedType(typeof(TransferOpened), "transfer-opened")]
[JsonDerivedType(typeof(PassOpened), "pass-opened")]
[JsonDerivedType(typeof(PassGivenUp), "pass-given-up")]
[JsonDerivedType(typeof(CheckSigned), "check-signed")]
[JsonDerivedType(typeof(LineUpStepRecorded), "line-up-step")]
[JsonDerivedType(typeof(LineUpEnded), "line-up-ended")]
[JsonDerivedType(typeof(RunBegan), "run-began")]
[JsonDerivedType(typeof(RunEnded), "run-ended")]
[JsonDerivedType(typeof(VerdictGiven), "verdict-given")]
[JsonDerivedType(typeof(VerdictCountersigned), "verdict-countersigned")]
[JsonDerivedType(typeof(NoteWritten), "note")]
[JsonDerivedType(typeof(ShiftHandedOver), "shift-handed-over")]
public abstract record EntryBody
{
    private static readonly Dictionary<Type, string> Names = typeof(EntryBody).GetCustomAttributes<JsonDerivedTypeAttribute>()
        .ToDictionary(a => a.DerivedType, a => (string)a.TypeDiscriminator!);

    /// <summary>The name on the wire, such as <c>check-signed</c>.</summary>
    [JsonIgnore]
    public string Kind => Names[GetType()];

    /// <summary>All names, in the order of a transfer.</summary>
    public static IReadOnlyList<string> Kinds { get; } =
        [.. typeof(EntryBody).GetCustomAttributes<JsonDerivedTypeAttribute>().Select(a => (string)a.TypeDiscriminator!)];
}

/// <summary>A tape, as it is known now; the same <see cref="Tape"/> described again corrects what was said before.</summary>
public sealed record TapeDescribed : EntryBody
{
    /// <summary>UUID version 7 of the tape.</summary>
    public required Guid Tape { get; init; }

    /// <summary>What stands on the box: shelf mark or call number, 1 to 120 characters.</summary>
    public required string Identifier { get; init; }

    public string? Title { get; init; }

    /// <summary>"525/60" or "625/50".</summary>
    public required string Standard { get; init; }

    /// <summary>Where the carrier of the FM lies.</summary>
    public TapeBand Band { get; init; }

    /// <summary>Linear tape speed, inches a second; above 0 to 30.</summary>
    public required double SpeedInchesPerSecond { get; init; }

    /// <summary>Stock, reel, splices, box and labels.</summary>
    public string? Carrier { get; init; }

    /// <summary>What was seen of its condition before it was threaded.</summary>
    public string? Condition { get; init; }

    /// <summary>What is known of passes elsewhere or before this book.</summary>
    public string? PreviousPasses { get; init; }
}

/// <summary>The band in which the tape was recorded.</summary>
public enum TapeBand
{
    Unknown,
    LowBandMonochrome,
    LowBandColour,
    HighBand,
    SuperHighBand,
}

/// <summary>A transfer of a tape begins; passes add up in it until one is sound.</summary>
public sealed record TransferOpened : EntryBody
{
    public required Guid Tape { get; init; }
}

/// <summary>A new try: a pre-flight, a line-up, a run and a verdict of its own.</summary>
public sealed record PassOpened : EntryBody;

/// <summary>A pass that will have no run; the note says why.</summary>
public sealed record PassGivenUp : EntryBody;

/// <summary>A remark, or a mark by one key: its instant gives its place on the tape.</summary>
public sealed record NoteWritten : EntryBody
{
    /// <summary>Made by one key while watching; words are then optional.</summary>
    public bool IsMark { get; init; }
}

/// <summary>A shift ends and the next begins: who signs hands over, and belongs to no transfer. Its note is what he still has to say.</summary>
public sealed record ShiftHandedOver : EntryBody
{
    /// <summary>Who takes over; another than who signs, 1 to 80 characters.</summary>
    public required string To { get; init; }
}
