using DriftWatch.Configuration;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;

namespace DriftWatch.Web.Api;

/// <summary>The benches this service watches.</summary>
internal sealed record BenchesAnswer(IReadOnlyList<BenchSummary> Items);

/// <summary>One bench: <c>State</c> is the machine's state as a slug, <c>Now</c> its time in UTC.</summary>
internal sealed record BenchSummary(
    string Id, string Label, string Machine, string Standard, string State, string BenchHash, string Now, double WatchedSeconds);

/// <summary>A bench as its file declares it, with the states of its lines; <c>Quantities</c> are worked out from the channels and judged like them.</summary>
internal sealed record BenchAnswer(
    BenchSummary Bench, IReadOnlyList<ChannelAnswer> Channels, IReadOnlyList<QuantityAnswer> Quantities, IReadOnlyList<InstrumentAnswer> Instruments);

/// <summary>
/// A channel's declaration. Periods and ages in seconds, setpoint and limits in <c>Unit</c>. <c>Input</c> is the input's name in the
/// instrument's profile, null for a ratio of two other channels, which <c>Ratio</c> names.
/// </summary>
internal sealed record ChannelAnswer(
    string Id,
    string Label,
    string Kind,
    string Role,
    int? Head,
    string Unit,
    string? Instrument,
    string? Input,
    RatioAnswer? Ratio,
    double PeriodSeconds,
    double StaleAdvisorySeconds,
    double StaleAlarmSeconds,
    double? Setpoint,
    IReadOnlyList<LimitAnswer> Limits,
    AxisAnswer? Axis,
    CalibrationAnswer Calibration,
    RangeAnswer Range)
{
    public static ChannelAnswer Of(ChannelDefinition channel) => new(
        channel.Id,
        channel.Label,
        Slugs.Of(channel.Kind),
        Slugs.Of(channel.Role),
        channel.Head,
        channel.Unit,
        channel.Instrument,
        channel.Input,
        channel.Ratio is { } ratio ? new RatioAnswer(ratio.Of, ratio.Over) : null,
        channel.Period.TotalSeconds,
        channel.StaleAdvisory.TotalSeconds,
        channel.StaleAlarm.TotalSeconds,
        channel.Setpoint,
        [.. channel.Limits.Select(l => LimitAnswer.Of(l, Slugs.Of(channel.Role)))],
        channel.Axis is { } axis ? new AxisAnswer(axis.Heads, axis.AnglesDegrees) : null,
        CalibrationAnswer.Of(channel),
        RangeAnswer.Of(channel));
}

/// <summary>A limit: <c>Reference</c> says whether <c>Value</c> is absolute, added to the baseline or a fraction of it; <c>DelaySource</c> where deadband and delays come from.</summary>
internal sealed record LimitAnswer(
    string Side,
    string Severity,
    string Reference,
    double Value,
    double Deadband,
    double OnDelaySeconds,
    double OffDelaySeconds,
    IReadOnlyList<string> JudgedIn,
    string Source,
    string DelaySource)
{
    /// <param name="limit">The limit.</param>
    /// <param name="subject">Slug of the role or quantity whose limit it is.</param>
    public static LimitAnswer Of(LimitDefinition limit, string subject) => new(
        Slugs.Of(limit.Side),
        Slugs.Of(limit.Severity),
        Slugs.Of(limit.Reference),
        limit.Value,
        limit.Deadband,
        limit.OnDelay.TotalSeconds,
        limit.OffDelay.TotalSeconds,
        [.. limit.JudgedIn.Select(Slugs.Of)],
        limit.Source,
        DefaultDelays.Of(subject, limit)?.Said ?? DefaultDelays.BenchFile);
}

/// <summary>Head (1–4) and angle from mid-pass of each point of a frame.</summary>
internal sealed record AxisAnswer(IReadOnlyList<int> Heads, IReadOnlyList<double> AnglesDegrees);

/// <summary>An instrument and the state of its line; <c>State</c> is null before anything was heard of it.</summary>
internal sealed record InstrumentAnswer(string Id, string Label, string? State, string? Reason, double? RetryInSeconds);

/// <summary>The newest of every channel, in bench order.</summary>
internal sealed record ChannelsAnswer(string Bench, string State, string Now, IReadOnlyList<ChannelNowAnswer> Items);

/// <summary>The newest of one channel: a value, or a fault by its slug, or neither before the first reading.</summary>
internal sealed record ChannelNowAnswer(
    string Id,
    string Label,
    string Unit,
    double? Value,
    double? Minimum,
    double? Maximum,
    double? Raw,
    string RawUnit,
    string? Fault,
    string? At,
    double? AgeSeconds);

/// <summary>
/// Buckets in columns. Row i runs from <c>Start[i]</c> for <c>BucketSeconds[i]</c>; where <c>Count[i]</c> is 0 there is a gap and the
/// three numbers are null. Values in <c>Unit</c>.
/// </summary>
internal sealed record HistoryAnswer(
    string Bench,
    string Channel,
    string Unit,
    string From,
    string To,
    IReadOnlyList<string> Start,
    IReadOnlyList<double> BucketSeconds,
    IReadOnlyList<int> Count,
    IReadOnlyList<double?> Minimum,
    IReadOnlyList<double?> Maximum,
    IReadOnlyList<double?> Mean,
    IReadOnlyList<int> Faults)
{
    public static HistoryAnswer Of(IBenchView bench, ChannelDefinition channel, long fromUtc, long toUtc, IReadOnlyList<Bucket> buckets) => new(
        bench.Bench.Id,
        channel.Id,
        channel.Unit,
        UtcText.FromNanoseconds(fromUtc),
        UtcText.FromNanoseconds(toUtc),
        [.. buckets.Select(b => UtcText.FromNanoseconds(bench.ToUtcNanoseconds(b.From)))],
        [.. buckets.Select(b => (b.To - b.From).TotalSeconds)],
        [.. buckets.Select(b => b.Count)],
        [.. buckets.Select(b => Known(b, b.Minimum))],
        [.. buckets.Select(b => Known(b, b.Maximum))],
        [.. buckets.Select(b => Known(b, b.Mean))],
        [.. buckets.Select(b => b.Faults)]);

    private static double? Known(in Bucket bucket, double value) => bucket.Count > 0 && double.IsFinite(value) ? value : null;
}

/// <summary>The newest frame of a channel; <c>Values[i]</c> belongs to <c>Heads[i]</c> at <c>AnglesDegrees[i]</c>.</summary>
internal sealed record FrameAnswer(
    string Bench,
    string Channel,
    string Unit,
    string At,
    double AgeSeconds,
    uint Sequence,
    double TachAngleDegrees,
    IReadOnlyList<int> Heads,
    IReadOnlyList<double> AnglesDegrees,
    IReadOnlyList<double> Values);
