namespace DriftWatch.Notices;

/// <summary>Log messages of notices; the event ids are stable.</summary>
internal static partial class NoticeLog
{
    [LoggerMessage(1201, LogLevel.Information, "Notice {Id} by {Route}: {Said}")]
    public static partial void Sent(ILogger logger, string id, string route, string said);

    [LoggerMessage(1202, LogLevel.Warning, "Notices by {Route} don't go out and are kept and tried again: {Said}; {Remedy}")]
    public static partial void Failing(ILogger logger, string route, string said, string remedy);

    [LoggerMessage(1203, LogLevel.Information, "Notices by {Route} go out again")]
    public static partial void Recovered(ILogger logger, string route);

    [LoggerMessage(1204, LogLevel.Warning, "{Place}: {What}; {Remedy}")]
    public static partial void Check(ILogger logger, string place, string what, string remedy);

    [LoggerMessage(1205, LogLevel.Error, "Notice {Key} by {Route} is given up: {Said}")]
    public static partial void GivenUp(ILogger logger, string key, string route, string said);

    [LoggerMessage(1206, LogLevel.Warning, "Lamp {Route} can't be set and is tried again each second: {Said}")]
    public static partial void LampFailing(ILogger logger, string route, string said);

    [LoggerMessage(1207, LogLevel.Warning, "The heartbeat does not get through and is tried again: {Said}; {Remedy}")]
    public static partial void HeartbeatFailing(ILogger logger, string said, string remedy);

    [LoggerMessage(1208, LogLevel.Information, "The heartbeat gets through again")]
    public static partial void HeartbeatRecovered(ILogger logger);

    [LoggerMessage(1209, LogLevel.Error, "The outbox of notices can't be read or written and is tried again each second: {Why}")]
    public static partial void OutboxFailing(ILogger logger, string why);

    [LoggerMessage(1210, LogLevel.Information, "The outbox of notices is written again")]
    public static partial void OutboxRecovered(ILogger logger);

    [LoggerMessage(1211, LogLevel.Information, "Test of route {Route}, asked for by {By}: {Said}")]
    public static partial void Tested(ILogger logger, string route, string by, string said);

    [LoggerMessage(1212, LogLevel.Critical, "Noticing of bench {Bench} failed and begins anew")]
    public static partial void DeskFailed(ILogger logger, Exception exception, string bench);

    [LoggerMessage(1213, LogLevel.Warning, "The heartbeat and the watchdog's sign of life are held back: {Why}")]
    public static partial void SignHeldBack(ILogger logger, string why);
}
