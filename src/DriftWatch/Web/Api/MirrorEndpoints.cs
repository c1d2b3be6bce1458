using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Mirror;
using DriftWatch.Notices.Routes;
using DriftWatch.Site;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api;

/// <summary>How the servers that a bench is mirrored to stand.</summary>
internal static class MirrorEndpoints
{
    public static void Map(IEndpointRouteBuilder api, HostedBenches benches, SiteDesk site)
    {
        api.MapGet("/benches/{bench}/mirrors", Results<Ok<MirrorsAnswer>, ProblemHttpResult> (string bench) =>
                benches.TryGet(bench, out HostedBench? hosted)
                    ? TypedResults.Ok(new MirrorsAnswer(bench, [.. hosted.View.Mirrors.Select(Of)]))
                    : Problems.NoBench(bench))
            .WithSummary("The servers that the bench is mirrored to, how far each has come and what is wrong with it")
            .ProducesProblem(404);
        api.MapGet("/benches/{bench}/mirrors/{mirror}/site", async Task<Results<Ok<SiteAnswer>, ProblemHttpResult>> (string bench, string mirror) =>
                !benches.TryGet(bench, out HostedBench? hosted) ? Problems.NoBench(bench)
                : hosted.View.Mirrors.FirstOrDefault(m => m.Settings.Id == mirror)?.Settings is not { } settings
                    ? Problems.NotFound($"Bench '{bench}' has no mirror '{mirror}'.", $"GET /api/v1/benches/{bench}/mirrors lists the ids.")
                : settings.Counts == CountWay.None
                    ? Problems.NotFound($"Mirror '{mirror}' is not asked: the bench file does not say in which language.", "Write counts = \"promql\", \"influxql\" or \"flux\" in its [[mirror]].")
                : await SiteAsync(site, settings))
            .WithSummary("All benches that are mirrored to one of the bench's servers, as that server has them: who waits for a person first")
            .ProducesProblem(404)
            .ProducesProblem(502);
    }

    private static async Task<Results<Ok<SiteAnswer>, ProblemHttpResult>> SiteAsync(SiteDesk site, MirrorSettings settings)
    {
        try
        {
            return TypedResults.Ok(await site.ReadAsync(settings));
        }
        catch (SecretException exception)
        {
            return Problems.FarEnd($"Mirror '{settings.Id}': {exception.Message}.", exception.Remedy);
        }
        catch (Exception exception) when (exception is HttpRequestException or FormatException or TaskCanceledException)
        {
            return Problems.FarEnd(
                $"The server of mirror '{settings.Id}' can't be asked: {(exception is TaskCanceledException ? "it does not answer" : RouteWords.Line(exception))}.",
                "Look at url, counts, bucket and the key of its [[mirror]], and whether the server runs.");
        }
    }

    private static MirrorAnswer Of(MirrorReport report) => new(
        report.Settings.Id,
        Slugs.Of(report.Settings.Way),
        Slugs.Of(report.Settings.Counts),
        Slugs.Of(report.Settings.Detail),
        Slugs.Of(report.State),
        report.Trouble,
        report.Remedy,
        Utc(report.WaitingSinceUtc),
        report.Behind.TotalSeconds,
        report.OlderInputs,
        report.IsBinOpen,
        report.Taken,
        Utc(report.LastTakenUtc),
        report.Expired,
        report.Refused,
        report.Compared,
        report.Missing,
        report.Doubled,
        report.CountTrouble,
        report.ClockAhead?.TotalSeconds);

    private static string? Utc(long? nanoseconds) => nanoseconds is { } utc ? UtcText.FromNanoseconds(utc) : null;
}

internal sealed record MirrorsAnswer(string Bench, IReadOnlyList<MirrorAnswer> Mirrors);

/// <summary>
/// One server. <c>Detail</c>: reading (every one), second or minute (means). <c>State</c>: level (all that is stored was sent, but for the second or minute that is open), catching-up (it sends, and there is more) or waiting (it can't now, and tries again).
/// <c>BehindSeconds</c> is about what is new; <c>OlderInputs</c> counts what was stored before or while the server was away and is still to be sent; <c>IsBinOpen</c>: the last seconds or minutes of a mirror of means may still get readings, and go when later ones come.
/// <c>Compared</c> readings were held against the server's own count: <c>Missing</c> it does not hold though it took them twice, <c>Doubled</c> it holds more than once.
/// </summary>
internal sealed record MirrorAnswer(
    string Id,
    string Way,
    string Counts,
    string Detail,
    string State,
    string? Trouble,
    string? Remedy,
    string? WaitingSince,
    double BehindSeconds,
    long OlderInputs,
    bool IsBinOpen,
    long Taken,
    string? LastTaken,
    long Expired,
    long Refused,
    long Compared,
    long Missing,
    long Doubled,
    string? CountTrouble,
    double? ClockAheadSeconds);
