using DriftWatch.Storage.Records;

namespace DriftWatch.Storage;

/// <summary>What a store takes of its disk, what it keeps, and what became of its files.</summary>
/// <param name="Bytes">All files of the folder.</param>
/// <param name="FreeBytes">What is free where it lies; null when the disk can't be asked.</param>
/// <param name="FloorBytes">Below so much free nothing more is stored.</param>
/// <param name="IsFull">Whether it stores nothing for want of room.</param>
/// <param name="RawMonths">Months of raw readings that are kept; null keeps all.</param>
/// <param name="RollupMonths">Months of rollups that are kept; null keeps all.</param>
/// <param name="Months">Its months as <c>2026-03</c>, the oldest first.</param>
/// <param name="RecordsCopied">When the records file was last copied and the copy proved, UTC; null when there is no copy.</param>
/// <param name="RecordsRestored">Why the records file had to be restored when the store was opened; null when it had not.</param>
/// <param name="SetAside">Names of files that were found damaged and set aside since it was opened.</param>
public sealed record StoreFacts(
    long Bytes,
    long? FreeBytes,
    long FloorBytes,
    bool IsFull,
    int? RawMonths,
    int? RollupMonths,
    IReadOnlyList<string> Months,
    DateTimeOffset? RecordsCopied,
    string? RecordsRestored,
    IReadOnlyList<string> SetAside);

public sealed partial class BenchStore
{
    /// <summary>Asks the disk; from any thread, and without waiting for the writer. Null when the folder can't be looked at.</summary>
    public StoreFacts? Facts()
    {
        try
        {
            var copy = new FileInfo(Path.Combine(Folder, RecordsFile.CopyName));
            return new StoreFacts(
                new DirectoryInfo(Folder).EnumerateFiles().Sum(f => f.Exists ? f.Length : 0),
                FreeSpace(),
                _retention.FreeSpaceFloorBytes,
                IsFull,
                _retention.RawMonths,
                _retention.RollupMonths,
                [.. MonthPaths().Select(p => Path.GetFileNameWithoutExtension(p)!)],
                copy.Exists ? new DateTimeOffset(copy.LastWriteTimeUtc, TimeSpan.Zero) : null,
                RecordsRestored,
                [.. _setAside.ToArray().Select(p => Path.GetFileName(p)!)]);
        }
        catch (Exception exception) when (exception is IOException or UnauthorizedAccessException)
        {
            return null;
        }
    }
}
