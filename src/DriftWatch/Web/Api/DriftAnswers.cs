using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Watch.Drifts;

namespace DriftWatch.Web.Api;

/// <summary>Channels and quantities by how fast they use their tolerance; <c>At</c> is when judgement looked, once a minute, null before the first time.</summary>
internal sealed record DriftsAnswer(string Bench, string? At, IReadOnlyList<DriftAnswer> Items)
{
    public static DriftsAnswer Of(IBenchView view)
    {
        DriftTable table = view.Drifts;
        return new DriftsAnswer(
            view.Bench.Id,
            table.At is { } at ? UtcText.FromNanoseconds(view.ToUtcNanoseconds(at)) : null,
            [.. table.Items.Select(DriftAnswer.Of)]);
    }
}

/// <summary>
/// One channel. Values in <c>Unit</c>, slopes in it an hour, shares of the tolerance from <c>Baseline</c> to <c>Limit</c>, intervals of
/// 95 %. <c>Significance</c>: how often noise alone shows such a slope. A null can't be told or is not within eight hours;
/// <c>Untold</c> says <c>no-baseline</c>, <c>too-little-seen</c> or <c>no-limit-that-way</c>.
/// </summary>
internal sealed record DriftAnswer(
    string Id,
    string Label,
    string Unit,
    double? Baseline,
    double? Value,
    double? Limit,
    double? UsedShare,
    double? UsedSharePerHour,
    double? SlopePerHour,
    double? SlopePerHourLow,
    double? SlopePerHourHigh,
    double? Significance,
    double? MinutesLeft,
    double? MinutesLeftLow,
    double? MinutesLeftHigh,
    double? WindowMinutes,
    string? Untold)
{
    public static DriftAnswer Of(ChannelDrift drift) => new(
        drift.Id,
        drift.Label,
        drift.Unit,
        drift.Baseline,
        drift.Value,
        drift.Limit,
        drift.UsedShare,
        drift.UsedSharePerHour,
        drift.SlopePerHour,
        drift.SlopePerHourLow,
        drift.SlopePerHourHigh,
        drift.Significance,
        drift.MinutesLeft,
        drift.MinutesLeftLow,
        drift.MinutesLeftHigh,
        drift.WindowMinutes,
        drift.Untold);
}
