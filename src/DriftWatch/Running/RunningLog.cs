namespace DriftWatch.Running;

/// <summary>Log messages of a running bench; the event ids are stable.</summary>
internal static partial class RunningLog
{
    [LoggerMessage(1001, LogLevel.Information, "Watching bench {Bench} ({Channels} channels, {Instruments} instruments); store in {Folder}")]
    public static partial void Watching(ILogger logger, string bench, int channels, int instruments, string folder);

    [LoggerMessage(1002, LogLevel.Information, "Stopped watching bench {Bench}; {Inputs} inputs in the log")]
    public static partial void Stopped(ILogger logger, string bench, long inputs);

    [LoggerMessage(1003, LogLevel.Error, "The store does not take readings, they are held in memory and tried again each second: {Why}")]
    public static partial void StoreTrouble(ILogger logger, string why);

    [LoggerMessage(1004, LogLevel.Information, "The store takes readings again; what was held is stored")]
    public static partial void StoreRecovered(ILogger logger);

    [LoggerMessage(1005, LogLevel.Warning, "The stored state of judgement is dropped and the journal judged anew: {Why}")]
    public static partial void SnapshotDropped(ILogger logger, string why);

    [LoggerMessage(1006, LogLevel.Information, "Judged {Inputs} journaled inputs again after the last stop; {Lines} finding lines")]
    public static partial void CaughtUp(ILogger logger, long inputs, int lines);

    [LoggerMessage(1007, LogLevel.Warning, "The bench file was read again and refused, the old one stays in force: {Mistakes}")]
    public static partial void ReloadRefused(ILogger logger, string mistakes);

    [LoggerMessage(1008, LogLevel.Information, "The bench file was read again and is in force: {Hash}")]
    public static partial void Reloaded(ILogger logger, string hash);

    [LoggerMessage(1009, LogLevel.Warning, "{Severity}: {Text}")]
    public static partial void Found(ILogger logger, string severity, string text);

    [LoggerMessage(1010, LogLevel.Critical, "The pipeline of bench {Bench} failed; the service stops so that its supervisor restarts it")]
    public static partial void PipelineFailed(ILogger logger, Exception exception, string bench);

    [LoggerMessage(1011, LogLevel.Error, "Upkeep of the store failed and is tried again in a minute: {Why}")]
    public static partial void UpkeepFailed(ILogger logger, string why);

    [LoggerMessage(1014, LogLevel.Warning, "A run that the machine's state began or ended was not entered: {What} {Remedy}")]
    public static partial void RunNotEntered(ILogger logger, string what, string remedy);

    [LoggerMessage(1013, LogLevel.Error, "Stopped while the store does not take readings: {Inputs} inputs held in memory are lost: {Why}")]
    public static partial void StoppedUnstored(ILogger logger, int inputs, string why);

    [LoggerMessage(1012, LogLevel.Error, "{Path} is damaged: {Why} Restore it from a backup; readings go on into the live month.")]
    public static partial void FileProblem(ILogger logger, string path, string why);

    [LoggerMessage(1015, LogLevel.Warning, "{Warning}")]
    public static partial void FileWarning(ILogger logger, string warning);
}
