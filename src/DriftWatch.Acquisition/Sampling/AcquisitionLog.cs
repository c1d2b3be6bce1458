using Microsoft.Extensions.Logging;

namespace DriftWatch.Acquisition.Sampling;

/// <summary>Log messages of acquisition; ids 1100–1199 are this room's and never change their meaning.</summary>
internal static partial class AcquisitionLog
{
    [LoggerMessage(1100, LogLevel.Information, "{Instrument} talks: {Identity}")]
    public static partial void Talking(ILogger logger, string instrument, string identity);

    [LoggerMessage(1101, LogLevel.Warning, "{Instrument} is down: {Reason}")]
    public static partial void Down(ILogger logger, string instrument, string reason);

    [LoggerMessage(1102, LogLevel.Warning, "Line {Line} took longer than {Limit} to close and was left behind")]
    public static partial void CloseHangs(ILogger logger, string line, TimeSpan limit);

    [LoggerMessage(1103, LogLevel.Critical, "The owner of line {Line} failed on a mistake in the program and is started again")]
    public static partial void OwnerFailed(ILogger logger, Exception error, string line);

    [LoggerMessage(1104, LogLevel.Error, "The owner of line {Line} did not stop within {Limit}")]
    public static partial void OwnerHangs(ILogger logger, string line, TimeSpan limit);

    [LoggerMessage(1105, LogLevel.Information, "{Instrument}: {Counts}")]
    public static partial void LineCounts(ILogger logger, string instrument, string counts);

    [LoggerMessage(1106, LogLevel.Warning, "{Instrument} missed {Missed} sampling instants: its line was busy")]
    public static partial void Missed(ILogger logger, string instrument, long missed);
}
