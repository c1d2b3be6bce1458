using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;

namespace DriftWatch.Web.Api;

/// <summary>The newest baselines, oldest of them first; <c>First</c> is the place of the first one among all that were ever taken, from 1.</summary>
internal sealed record BaselinesAnswer(string Bench, int First, IReadOnlyList<BaselineAnswer> Items)
{
    public static BaselinesAnswer Of(IBenchView view, int limit)
    {
        IReadOnlyList<TakenBaseline> all = view.Baselines();
        int skip = Math.Max(0, all.Count - limit);
        return new BaselinesAnswer(view.Bench.Id, skip + 1, [.. all.Skip(skip).Select(BaselineAnswer.Of)]);
    }
}

/// <summary>
/// One baseline. <c>Standing</c> is <c>provisional</c>, <c>stable</c> (the machine took it after settled minutes) or <c>confirmed</c> (a person took
/// it); <c>Unwell</c> names what was wrong meanwhile: <c>limit</c>, <c>fault</c>, <c>alarm</c>, <c>drifting</c>, <c>off-setpoint</c>.
/// </summary>
internal sealed record BaselineAnswer(
    long Number,
    string At,
    string BenchHash,
    string State,
    string By,
    string Standing,
    string? Transfer,
    IReadOnlyList<string> Unwell,
    IReadOnlyList<BaselineValueAnswer> Values)
{
    public static BaselineAnswer Of(TakenBaseline baseline) => new(
        baseline.Number,
        UtcText.FromNanoseconds(baseline.UtcNanoseconds),
        baseline.BenchHash,
        Slugs.Of(baseline.State),
        baseline.By,
        Slugs.Of(baseline.Standing),
        baseline.Transfer,
        baseline.Unwell,
        [.. baseline.Values.Select(v => new BaselineValueAnswer(
            v.Channel, v.Unit, v.Value, v.Deviation, v.StandardError, v.Correlation, v.EffectiveSize, v.Count, v.CalibrationVersion))]);
}

/// <summary>A channel's mean over the last 30 s in <c>Unit</c>, with the deviation and correlation of its one-second means; <c>StandardError</c> allows for the correlation.</summary>
internal sealed record BaselineValueAnswer(
    string Channel,
    string Unit,
    double Value,
    double? Deviation,
    double? StandardError,
    double? Correlation,
    double? EffectiveSize,
    int Count,
    int? CalibrationVersion);
