using DriftWatch.Acquisition.Lines;

namespace DriftWatch.Acquisition.Sampling;

/// <summary>
/// What the owner of a line has counted of one instrument since sampling of it began; another instrument or period in the
/// bench file begins anew. What does not apply is null: nobody asks a streaming instrument, and a polled one sends no lines.
/// </summary>
/// <param name="Instrument">Its id.</param>
/// <param name="MissedTicks">Instants of the sampling grids of its channels at which nobody was free to ask it.</param>
/// <param name="Lines">The lines it sent.</param>
public sealed record InstrumentTally(string Instrument, long? MissedTicks, LineTally? Lines);

/// <summary>Lines of a streaming instrument, as <see cref="LineCounts"/> counts them. <c>Rejects</c> has only reasons that came.</summary>
public sealed record LineTally(
    long Valid, long Unchecked, long SequenceGaps, long SequenceRepeats, long SequenceRestarts, IReadOnlyDictionary<LineReject, long> Rejects)
{
    /// <summary>
    /// From any thread while the owner counts on: each number is one that stood, though two of them need not be of one
    /// instant.
    /// </summary>
    public static LineTally Of(LineCounts counts) => new(
        counts.Valid,
        counts.Unchecked,
        counts.SequenceGaps,
        counts.SequenceRepeats,
        counts.SequenceRestarts,
        Enum.GetValues<LineReject>().Select(r => KeyValuePair.Create(r, counts.RejectedFor(r))).Where(r => r.Value > 0).ToDictionary());
}
