namespace DriftWatch.Mirror;

/// <summary>What the mirror says in the log. Ids are stable.</summary>
internal static partial class MirrorLog
{
    [LoggerMessage(1300, LogLevel.Information, "The mirror to {Mirror} begins: {Inputs} inputs of before are still to be sent")]
    public static partial void Begins(ILogger logger, string mirror, long inputs);

    [LoggerMessage(1301, LogLevel.Warning, "The mirror to {Mirror} waits: {Why} ({Remedy})")]
    public static partial void Waiting(ILogger logger, string mirror, string why, string remedy);

    [LoggerMessage(1302, LogLevel.Information, "The mirror to {Mirror} sends again")]
    public static partial void Recovered(ILogger logger, string mirror);

    [LoggerMessage(1303, LogLevel.Information, "The server of {Mirror} may have lost what it took last: {Inputs} inputs are sent again")]
    public static partial void Rewound(ILogger logger, string mirror, long inputs);

    [LoggerMessage(1304, LogLevel.Warning, "The server of {Mirror} refuses a line, which is kept here and not sent again: {Line}")]
    public static partial void Refused(ILogger logger, string mirror, string line);

    [LoggerMessage(1305, LogLevel.Information, "{Lines} lines at once are too much for the server of {Mirror}: {Fewer} from now on")]
    public static partial void Smaller(ILogger logger, string mirror, int lines, int fewer);

    [LoggerMessage(1306, LogLevel.Warning, "The server of {Mirror} holds {Found} of {Sent} readings that it took, from {Since} on: they are sent again")]
    public static partial void Short(ILogger logger, string mirror, long found, long sent, string since);

    [LoggerMessage(1307, LogLevel.Error, "The server of {Mirror} said yes twice to {Readings} readings that it does not hold. Look at its own log; they are kept here")]
    public static partial void StillShort(ILogger logger, string mirror, long readings);

    [LoggerMessage(1308, LogLevel.Warning, "The server of {Mirror} holds {Readings} readings more than once: it must be told to keep one of each")]
    public static partial void Doubles(ILogger logger, string mirror, long readings);

    [LoggerMessage(1309, LogLevel.Warning, "How far the mirror to {Mirror} came could not be written down: {Why} What is not known is sent again")]
    public static partial void NotSaved(ILogger logger, string mirror, string why);

    [LoggerMessage(1310, LogLevel.Error, "The mirror to {Mirror} failed; it is tried again")]
    public static partial void Failed(ILogger logger, Exception exception, string mirror);
}
