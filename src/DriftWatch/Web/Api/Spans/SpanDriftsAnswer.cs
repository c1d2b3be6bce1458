using DriftWatch.Analysis;
using DriftWatch.Analysis.Forecast;
using DriftWatch.Analysis.Trend;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Watch.Alarms.Health;
using AheadSide = DriftWatch.Analysis.Forecast.LimitSide;

namespace DriftWatch.Web.Api.Spans;

/// <summary>
/// A straight line through the means of a span for every channel, the one that uses its tolerance fastest first. All that is said rests on means of
/// <c>MeanSeconds</c> each: faster changes are not in it, and a span in which the machine changed its state has no one line.
/// </summary>
internal sealed record SpanDriftsAnswer(
    string Bench, string From, string To, double MeanSeconds, double HorizonSeconds, IReadOnlyList<SpanDriftAnswer> Items)
{
    /// <summary>Means in a line: enough for an hour of a night to be told by itself. Source: our own choice, half a minute each over twelve hours.</summary>
    private const int Means = 1440;

    /// <summary>How far ahead of the span's end a limit is looked for: as far as the span is long, a week at most. Source: our own choice, a line foretells no further than it was seen.</summary>
    private const double LongestHorizonSeconds = 7 * 86_400;

    public static SpanDriftsAnswer Of(SpanRequest request)
    {
        IBenchView view = request.View;
        TimeSpan slowest = request.Channels.Select(c => c.Period).DefaultIfEmpty().Max();
        SpanGrid grid = request.Grid(Means, slowest);
        TakenBaseline? baseline = view.Baselines().LastOrDefault(b => b.UtcNanoseconds < request.ToUtc);
        IReadOnlyList<IReadOnlyList<Bucket>> all = view.Columns(request.Channels, grid);
        List<(MachineState State, UtcStretch Stretch)> states =
            [.. SpanEventsAnswer.StatesOf(view.FindingsBetween(request.From, request.To, SpanEventsAnswer.MostLines), request.FromUtc, request.ToUtc)];
        double horizon = Math.Min(request.Seconds, LongestHorizonSeconds);
        return new SpanDriftsAnswer(
            view.Bench.Id,
            UtcText.FromNanoseconds(request.FromUtc),
            UtcText.FromNanoseconds(request.ToUtc),
            grid.Width / 1e9,
            horizon,
            [
                .. request.Channels.Select((channel, i) => SpanDriftAnswer.Of(view, channel, baseline, all[i], states, horizon))
                    .OrderBy(d => d.UsedSharePerHour is null)
                    .ThenByDescending(d => d.IsDrift)
                    .ThenByDescending(d => d.UsedSharePerHour),
            ]);
    }
}

/// <summary>
/// One channel. Values in <c>Unit</c>, slopes in it an hour, intervals of 95 %. <c>Baseline</c> and <c>Limits</c> are those in force at the span's end.
/// Tolerance: from <c>Tolerates</c> (<c>baseline</c>, else <c>setpoint</c>, else the line's <c>begin</c>) to <c>Limit</c>, the nearest that the slope heads for.
/// <c>Within</c>: the machine states whose means alone are in the line, because the limits are judged in no other; null for all.
/// <c>SecondsLeft</c> counts from the last mean; a null is beyond the horizon or can't be told. <c>Untold</c>: why there is no slope.
/// </summary>
internal sealed record SpanDriftAnswer(
    string Id,
    string Label,
    string Unit,
    double? Baseline,
    string? BaselineAt,
    IReadOnlyList<SpanLimitAnswer> Limits,
    IReadOnlyList<string>? Within,
    int Means,
    int LeftOut,
    double? EffectiveSize,
    double? Value,
    double? SlopePerHour,
    double? SlopePerHourLow,
    double? SlopePerHourHigh,
    double? Significance,
    bool IsDrift,
    string? Tolerates,
    double? Limit,
    double? UsedSharePerHour,
    bool IsBeyond,
    double? SecondsLeft,
    double? SecondsLeftLow,
    double? SecondsLeftHigh,
    string? Untold)
{
    private const double Hour = 3600;

    public static SpanDriftAnswer Of(
        IBenchView view, ChannelDefinition channel, TakenBaseline? taken, IReadOnlyList<Bucket> buckets,
        IReadOnlyList<(MachineState State, UtcStretch Stretch)> states, double horizonSeconds)
    {
        BaselineValue? baseline = taken?.Values.FirstOrDefault(v => v.Channel == channel.Id && v.Unit == channel.Unit);
        IReadOnlyList<MachineState>? judgedIn = JudgedIn(channel);
        List<UtcStretch> judged = [.. states.Where(s => judgedIn?.Contains(s.State) == true).Select(s => s.Stretch)];
        List<Bucket> means = [.. buckets.Where(b => b.Count > 0 && double.IsFinite(b.Mean) && (judgedIn is null || IsWithin(view, b, judged)))];
        double origin = means.Count == 0 ? 0 : means[0].From.Seconds;
        double[] times = [.. means.Select(b => ((b.From.Seconds + b.To.Seconds) / 2) - origin)];
        double[] values = [.. means.Select(b => b.Mean)];
        SpanDriftAnswer nothing = new(
            channel.Id, channel.Label, channel.Unit, baseline?.Value,
            baseline is null ? null : UtcText.FromNanoseconds(taken!.UtcNanoseconds),
            [.. LimitsOf(channel, baseline?.Value)],
            judgedIn is null ? null : [.. judgedIn.Select(Slugs.Of)],
            means.Count, 0, null, null, null, null, null, null, false, null, null, null, false, null, null, null, null);
        if (values.Length > 0 && !values.AsSpan().ContainsAnyExcept(values[0]))
        {
            return nothing with { Value = values[0], Untold = "every mean is the same" };
        }

        Answer<DriftEstimate> answer = Drift.Estimate(times, values);
        return answer.IsKnown ? nothing.With(answer.Value, channel, baseline?.Value, times, horizonSeconds) : nothing with { Untold = answer.Missing!.ToString() };
    }

    private SpanDriftAnswer With(DriftEstimate drift, ChannelDefinition channel, double? baseline, double[] times, double horizonSeconds)
    {
        double now = times[^1];
        (string tolerates, double from) = baseline is { } b ? ("baseline", b) : channel.Setpoint is { } s ? ("setpoint", s) : ("begin", drift.At(times[0]));
        int sign = drift.Slope < 0 ? -1 : 1;
        double? limit = Limits
            .Where(l => l.Side == (sign > 0 ? "high" : "low") && sign * (l.Value - from) > 0)
            .OrderBy(l => sign * l.Value)
            .Select(l => (double?)l.Value)
            .FirstOrDefault();
        SpanDriftAnswer told = this with
        {
            Means = drift.Points,
            LeftOut = drift.LeftOut,
            EffectiveSize = drift.EffectiveSize,
            Value = drift.At(now),
            SlopePerHour = drift.Slope * Hour,
            SlopePerHourLow = drift.Lower * Hour,
            SlopePerHourHigh = drift.Upper * Hour,
            Significance = drift.Significance,
            IsDrift = drift.IsClaimed,
            Tolerates = limit is null ? null : tolerates,
            Limit = limit,
            UsedSharePerHour = limit is { } at ? drift.Slope * Hour / (at - from) : null,
        };
        if (limit is not { } ahead)
        {
            return told;
        }

        LimitForecast forecast = TimeToLimit.Of(drift, ahead, sign > 0 ? AheadSide.Above : AheadSide.Below, now, horizonSeconds);
        return told with
        {
            IsBeyond = forecast.Outlook == LimitOutlook.AlreadyBeyond,
            SecondsLeft = Within(forecast.Best),
            SecondsLeftLow = Within(forecast.Earliest),
            SecondsLeftHigh = Within(forecast.Latest),
        };

        double? Within(double time) => double.IsFinite(time) && time - now <= horizonSeconds ? Math.Max(0, time - now) : null;
    }

    /// <summary>States in which any limit of the channel is judged; null where one is judged in all, or where there is none.</summary>
    private static IReadOnlyList<MachineState>? JudgedIn(ChannelDefinition channel) =>
        channel.Limits.Count == 0 || channel.Limits.Any(l => l.JudgedIn.Count == 0) ? null : [.. channel.Limits.SelectMany(l => l.JudgedIn).Distinct().Order()];

    /// <summary>A mean over a change of state is of neither.</summary>
    private static bool IsWithin(IBenchView view, in Bucket bucket, List<UtcStretch> stretches)
    {
        (long from, long to) = (view.ToUtcNanoseconds(bucket.From), view.ToUtcNanoseconds(bucket.To));
        return stretches.Exists(s => s.FromUtc <= from && s.ToUtc >= to);
    }

    private static IEnumerable<SpanLimitAnswer> LimitsOf(ChannelDefinition channel, double? baseline) => channel.Limits
        .Select(l => l.At(baseline) is { } at ? new SpanLimitAnswer(Slugs.Of(l.Side), Slugs.Of(l.Severity), at) : null)
        .OfType<SpanLimitAnswer>()
        .Distinct();
}

/// <summary>Where a limit lies, in the channel's unit; those that refer to a baseline only where there is one.</summary>
internal sealed record SpanLimitAnswer(string Side, string Severity, double Value);
