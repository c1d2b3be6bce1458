using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Measurement.Units;
using DriftWatch.Running;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Transfers;

/// <summary>
/// Whether the head wheel turns at the standard of the tape that is being prepared: told before and during its line-up, for a machine
/// that is lined up to another standard has to be lined up again.
/// </summary>
internal static class PresentStandard
{
    /// <returns>Null where no pass is being prepared.</returns>
    public static TelemetryProof? Of(IBenchView view, TransferBook book) => book.OpenPass is { Stage: <= PassStage.Ready } pass
        ? WheelRate.Check(RevolutionsPerSecond(view), book.Tape(book.TransferOf(pass).Tape)!.Now.Standard)
        : null;

    /// <summary>The newest reading; null where nothing measures the wheel, or it is silent or at fault.</summary>
    private static double? RevolutionsPerSecond(IBenchView view)
    {
        ChannelNow? wheel = view.Channels.FirstOrDefault(c => c.Channel.Role == ChannelRole.WheelSpeed);
        return wheel is { Fault: null, Value: { } value } && wheel.Age <= wheel.Channel.StaleAdvisory
            ? Unit.Parse(wheel.Channel.Unit).Convert(value, Unit.Parse("rev/s"))
            : null;
    }
}
