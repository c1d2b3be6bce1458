using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Storage.Records;

namespace DriftWatch.Storage.Queries;

/// <summary>The book of transfers as it was entered.</summary>
public sealed partial class BenchReader
{
    /// <summary>Every entry made here after a number, in the order of the log; those the book refuses among them.</summary>
    /// <param name="after">A number of the log; 0 for all.</param>
    public IReadOnlyList<StoredEntry> Entries(long after = 0) => KeepsEntries
        ? Records(EntryTable.Select, reader => new StoredEntry(
            reader.GetInt64(0), new EngineTime(reader.GetInt64(1)),
            (EntryCommand)PayloadJson.FromUtf8(InputKind.Command, reader.GetFieldValue<byte[]>(2))), after)
        : [];

    private bool KeepsEntries
    {
        get
        {
            lock (_gate)
            {
                return EntryTable.IsIn(_records);
            }
        }
    }
}
