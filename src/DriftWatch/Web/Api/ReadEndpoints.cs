using System.ComponentModel;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Web.Access;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api;

/// <summary>Benches, channels, history and frames: everything that is only read.</summary>
internal static class ReadEndpoints
{
    private const int DefaultBuckets = 300;
    private const int MostBuckets = 5000;
    private static readonly TimeSpan DefaultSpan = TimeSpan.FromMinutes(10);

    public static void Map(IEndpointRouteBuilder api, HostedBenches benches)
    {
        api.MapGet("/benches", () => TypedResults.Ok(new BenchesAnswer([.. benches.All.Select(b => Summary(b.View, benches))])))
            .WithSummary("The benches this service watches");

        api.MapGet("/benches/{bench}", Results<Ok<BenchAnswer>, ProblemHttpResult> (string bench) =>
                benches.TryGet(bench, out HostedBench? hosted) ? TypedResults.Ok(Describe(hosted.View, benches)) : Problems.NoBench(bench))
            .WithSummary("One bench: channels, derived quantities, limits, instruments")
            .ProducesProblem(404);

        api.MapGet("/benches/{bench}/channels", Results<Ok<ChannelsAnswer>, ProblemHttpResult> (string bench) =>
                benches.TryGet(bench, out HostedBench? hosted) ? TypedResults.Ok(Channels(hosted.View)) : Problems.NoBench(bench))
            .WithSummary("The newest value of every channel")
            .ProducesProblem(404);

        api.MapGet("/benches/{bench}/drifts", Results<Ok<DriftsAnswer>, ProblemHttpResult> (string bench) =>
                benches.TryGet(bench, out HostedBench? hosted) ? TypedResults.Ok(DriftsAnswer.Of(hosted.View)) : Problems.NoBench(bench))
            .WithSummary("How fast each channel uses its tolerance, the fastest first")
            .ProducesProblem(404);

        api.MapGet("/benches/{bench}/baselines", Results<Ok<BaselinesAnswer>, ProblemHttpResult> (
                string bench,
                [Description("Greatest number of baselines, the newest, 1 to 1000; default 100.")] string? limit) =>
                !benches.TryGet(bench, out HostedBench? hosted) ? Problems.NoBench(bench)
                : Parameters.TryCount(limit, "limit", 100, 1000, out int count, out ProblemHttpResult? problem) ? TypedResults.Ok(BaselinesAnswer.Of(hosted.View, count)) : problem)
            .WithSummary("The baselines taken on this bench, the newest last")
            .ProducesProblem(400)
            .ProducesProblem(404);

        api.MapGet("/benches/{bench}/channels/{channel}/history", Results<Ok<HistoryAnswer>, ProblemHttpResult> (
                string bench,
                string channel,
                [Description("Beginning, RFC 3339; default ten minutes before 'to'.")] string? from,
                [Description("End, RFC 3339; default now.")] string? to,
                [Description("Greatest number of buckets, 1 to 5000; default 300.")] string? buckets) =>
                History(benches, bench, channel, from, to, buckets))
            .TakesTime()
            .WithSummary("Minimum, maximum and mean in buckets; gaps stay gaps")
            .ProducesProblem(400)
            .ProducesProblem(404);

        api.MapGet("/benches/{bench}/channels/{channel}/frames/latest", Results<Ok<FrameAnswer>, ProblemHttpResult> (string bench, string channel) =>
                Frame(benches, bench, channel))
            .WithSummary("The newest frame of a frame channel")
            .ProducesProblem(404);
    }

    private static BenchSummary Summary(IBenchView view, HostedBenches benches)
    {
        BenchDefinition bench = view.Bench;
        return new BenchSummary(
            bench.Id,
            bench.Label,
            bench.Machine.Label,
            bench.Machine.Standard,
            Slugs.Of(view.State),
            bench.SourceHash,
            Utc(view, view.Now),
            benches.Watched.TotalSeconds);
    }

    private static BenchAnswer Describe(IBenchView view, HostedBenches benches)
    {
        Dictionary<string, InstrumentNotice> notices = [];
        foreach (InstrumentNotice notice in view.Instruments)
        {
            notices[notice.Instrument] = notice;
        }

        return new BenchAnswer(
            Summary(view, benches),
            [.. view.Bench.Channels.Select(c => ChannelAnswer.Of(c with { Calibration = view.InForce(c) }))],
            [.. view.Bench.Quantities.Select(QuantityAnswer.Of)],
            [
                .. view.Bench.Instruments.Select(instrument =>
                {
                    InstrumentNotice? notice = notices.GetValueOrDefault(instrument.Id);
                    return new InstrumentAnswer(
                        instrument.Id,
                        instrument.Label,
                        notice is null ? null : Slugs.Of(notice.State),
                        notice?.Reason,
                        notice?.RetryIn?.TotalSeconds);
                }),
            ]);
    }

    private static ChannelsAnswer Channels(IBenchView view) => new(
        view.Bench.Id,
        Slugs.Of(view.State),
        Utc(view, view.Now),
        [
            .. view.Channels.Select(now => new ChannelNowAnswer(
                now.Channel.Id,
                now.Channel.Label,
                now.Channel.Unit,
                Finite(now.Value),
                Finite(now.Minimum),
                Finite(now.Maximum),
                Finite(now.Raw),
                now.Channel.RawUnit,
                now.Fault?.ToSlug(),
                now.At is { } at ? Utc(view, at) : null,
                now.Age?.TotalSeconds)),
        ]);

    private static Results<Ok<HistoryAnswer>, ProblemHttpResult> History(
        HostedBenches benches, string benchId, string channelId, string? from, string? to, string? buckets)
    {
        if (!benches.TryGet(benchId, out HostedBench? hosted))
        {
            return Problems.NoBench(benchId);
        }

        IBenchView view = hosted.View;
        if (FindChannel(view, channelId) is not { } channel)
        {
            return Problems.NoChannel(benchId, channelId);
        }

        if (channel.Kind == ChannelKind.Frame)
        {
            return Problems.NotFound(
                $"Channel '{channel.Id}' is a frame channel and has no series.", "Use its frames/latest instead.");
        }

        if (!Parameters.TryCount(buckets, "buckets", DefaultBuckets, MostBuckets, out int count, out ProblemHttpResult? problem)
            || !Parameters.TryInstant(to, "to", view.ToUtcNanoseconds(view.Now), out long toUtc, out problem)
            || !Parameters.TryInstant(from, "from", toUtc - (DefaultSpan.Ticks * TimeSpan.NanosecondsPerTick), out long fromUtc, out problem))
        {
            return problem;
        }

        if (fromUtc >= toUtc)
        {
            return Problems.BadParameter(
                "from",
                $"The span begins at {UtcText.FromNanoseconds(fromUtc)} but ends at {UtcText.FromNanoseconds(toUtc)}.",
                "Give a 'from' that lies before 'to'.");
        }

        IReadOnlyList<Bucket> found = view.History(
            channel.Id, view.FromUtcNanoseconds(fromUtc), view.FromUtcNanoseconds(toUtc), count);
        return TypedResults.Ok(HistoryAnswer.Of(view, channel, fromUtc, toUtc, found));
    }

    private static Results<Ok<FrameAnswer>, ProblemHttpResult> Frame(HostedBenches benches, string benchId, string channelId)
    {
        if (!benches.TryGet(benchId, out HostedBench? hosted))
        {
            return Problems.NoBench(benchId);
        }

        IBenchView view = hosted.View;
        if (FindChannel(view, channelId) is not { } channel)
        {
            return Problems.NoChannel(benchId, channelId);
        }

        if (channel.Kind != ChannelKind.Frame || channel.Axis is not { } axis)
        {
            return Problems.NotFound($"Channel '{channel.Id}' is a series and has no frames.", "Use its history instead.");
        }

        if (view.LatestFrame(channel.Id) is not { } frame)
        {
            return Problems.NotFound($"No frame of '{channel.Id}' has arrived yet.", "Ask again once its instrument talks.");
        }

        return TypedResults.Ok(new FrameAnswer(
            view.Bench.Id,
            channel.Id,
            channel.Unit,
            Utc(view, frame.At),
            (view.Now - frame.At).TotalSeconds,
            frame.Sequence,
            frame.TachAngleDegrees,
            axis.Heads,
            axis.AnglesDegrees,
            frame.Values));
    }

    private static ChannelDefinition? FindChannel(IBenchView view, string id) =>
        view.Bench.Channels.FirstOrDefault(c => c.Id == id)
        ?? view.Bench.Channels.FirstOrDefault(c => c.Aliases.Contains(id, StringComparer.Ordinal));

    private static string Utc(IBenchView view, EngineTime time) => UtcText.FromNanoseconds(view.ToUtcNanoseconds(time));

    private static double? Finite(double? value) => value is { } number && double.IsFinite(number) ? number : null;
}
