using Microsoft.Extensions.Logging;

namespace DriftWatch.Storage;

/// <summary>The store's log messages; ids 3000–3099 are stable.</summary>
internal static partial class StoreLog
{
    [LoggerMessage(3000, LogLevel.Information, "Bench folder {Folder} opened: last input {LastNumber}, {Months} month files")]
    public static partial void Opened(ILogger logger, string folder, long lastNumber, int months);

    [LoggerMessage(3001, LogLevel.Error, "Month file {Path} is damaged ({Why}); set aside as {Aside}, the service goes on with a new one")]
    public static partial void MonthSetAside(ILogger logger, string path, string why, string aside);

    [LoggerMessage(3002, LogLevel.Error, "Records file {Path} is damaged or missing ({Why}); restored from the copy of {CopyTime:o}, the damaged one kept as {Aside}")]
    public static partial void RecordsRestored(ILogger logger, string path, string why, DateTimeOffset copyTime, string aside);

    [LoggerMessage(3003, LogLevel.Error, "The disk is full in {Folder}: {Why}")]
    public static partial void DiskFull(ILogger logger, string folder, string why);

    [LoggerMessage(3004, LogLevel.Information, "There is room again in {Folder}")]
    public static partial void RoomAgain(ILogger logger, string folder);

    [LoggerMessage(3005, LogLevel.Warning, "Inputs {First} to {Last} do not follow the order of judging; kept in the order given")]
    public static partial void KeptOpaque(ILogger logger, long first, long last);

    [LoggerMessage(3006, LogLevel.Information, "Merged {Count} blocks of inputs {First} to {Last} in {Path}")]
    public static partial void Merged(ILogger logger, int count, long first, long last, string path);

    [LoggerMessage(3007, LogLevel.Information, "Retention: {What} {Path}")]
    public static partial void Retained(ILogger logger, string what, string path);

    [LoggerMessage(3008, LogLevel.Error, "Nightly check of {Path}: {Why}")]
    public static partial void CheckFailed(ILogger logger, string path, string why);

    [LoggerMessage(3009, LogLevel.Warning, "The copy of the records file failed: {Why}")]
    public static partial void RecordsCopyFailed(ILogger logger, string why);

    [LoggerMessage(3010, LogLevel.Warning, "The records file lags behind the journal: {Why}")]
    public static partial void RecordsBehind(ILogger logger, string why);
}
