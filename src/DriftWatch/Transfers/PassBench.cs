using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Watch.Transfers;
using BenchReader = DriftWatch.Storage.Queries.BenchReader;

namespace DriftWatch.Transfers;

/// <summary>
/// The bench that a pass is read and judged by: the one in force at the end of its run, and until then that of now. Page, command line, report and
/// verdict ask here, so that a list changed since tells none of them anything else than the others.
/// </summary>
/// <param name="Bench">With its channels.</param>
/// <param name="Procedures">Its lists; those that come with the program for a bench that names none.</param>
internal sealed record PassBench(BenchDefinition Bench, TransferProcedures Procedures)
{
    /// <param name="reader">Of the bench's store.</param>
    /// <param name="pass">Any pass of its book.</param>
    /// <param name="now">In force now.</param>
    public static PassBench Of(BenchReader reader, BookPass pass, BenchDefinition now)
    {
        AnchorTable anchors = reader.ReadAnchors();
        BenchDefinition bench = pass.RunEnded is { } ended && anchors.Anchors.Count > 0 && reader.BenchAt(anchors.FromUtcNanoseconds(ended.Entry.AboutUtc)) is { } then
            ? then.Bench
            : now;
        return new PassBench(bench, bench.Procedures ?? TransferReader.Default);
    }
}
