using System.Collections.Immutable;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Watch.Transfers;
using BenchReader = DriftWatch.Storage.Queries.BenchReader;

namespace DriftWatch.Transfers;

/// <summary>The book of a bench and the entries that it is made of, in the order of the log. Immutable: one look at both.</summary>
/// <param name="Entries">Those the book refused among them.</param>
/// <param name="Book">What they come to.</param>
internal sealed record KeptBook(ImmutableList<EntryCommand> Entries, TransferBook Book)
{
    public static KeptBook Of(BenchReader reader) => Of(reader.Entries().Select(e => e.Entry));

    public KeptBook With(EntryCommand entry, TransferBook after) => new(Entries.Add(entry), after);

    /// <summary>Without what is about an instant or later; itself where there is none of it.</summary>
    public KeptBook Before(long utc) => Entries.TrueForAll(e => e.AboutUtc < utc) ? this : Of(Entries.Where(e => e.AboutUtc < utc));

    private static KeptBook Of(IEnumerable<EntryCommand> entries)
    {
        ImmutableList<EntryCommand> all = [.. entries];
        return new KeptBook(all, TransferBook.Of(all));
    }
}
