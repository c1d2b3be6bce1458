using DriftWatch.Measurement.Inputs;

namespace DriftWatch.Measurement.Transfers;

/// <summary>
/// One entry of the book of transfers: something a person did, or the machine on his behalf, about a tape. Entries are
/// added and never changed; a correction is a later entry. <see cref="Command.Note"/> is what the person wrote.
/// </summary>
public sealed record EntryCommand : Command
{
    /// <summary>Who is named where the machine's state made the entry.</summary>
    public const string Automatic = "automatic";

    /// <summary>When it was entered, nanoseconds since 1970, UTC.</summary>
    public required long EnteredUtc { get; init; }

    /// <summary>The instant it is about, nanoseconds since 1970, UTC; never after <see cref="EnteredUtc"/>.</summary>
    public required long AboutUtc { get; init; }

    /// <summary>The transfer it belongs to; null for a tape, for a note that belongs to none and for a shift.</summary>
    public Guid? Transfer { get; init; }

    /// <summary>The pass it belongs to; null where it is about the whole transfer or about none.</summary>
    public Guid? Pass { get; init; }

    public required EntryBody Body { get; init; }
}
