using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Storage.Records;

namespace DriftWatch.Storage.Queries;

/// <summary>The book of transfers as it was entered.</summary>
public sealed partial class BenchReader
{
    /// <summary>Every entry ever made here, in the order of the log; those the book refuses among them.</summary>
    public IReadOnlyList<StoredEntry> Entries() => KeepsEntries
        ? Records(EntryTable.Select, reader => new StoredEntry(
            reader.GetInt64(0), new EngineTime(reader.GetInt64(1)),
            (EntryCommand)PayloadJson.FromUtf8(InputKind.Command, reader.GetFieldValue<byte[]>(2))))
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
