using System.Globalization;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Notices;
using DriftWatch.Running;
using DriftWatch.Web.Access;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api;

/// <summary>Who is told of alarms, how each route stands, and a test of it.</summary>
internal static class NoticeEndpoints
{
    public static void Map(IEndpointRouteBuilder api, HostedBenches benches, ILogger audit)
    {
        api.MapGet("/benches/{bench}/notices", Results<Ok<NoticesAnswer>, ProblemHttpResult> (string bench) =>
                benches.TryGet(bench, out HostedBench? hosted) ? TypedResults.Ok(Of(hosted.View)) : Problems.NoBench(bench))
            .WithSummary("The routes of notices, how each stands, and how the page calls")
            .ProducesProblem(404);

        api.MapPost("/benches/{bench}/notices/test", async Task<Results<Ok<NoticeTestAnswer>, ProblemHttpResult>> (
                string bench, HttpRequest request, CancellationToken cancel) =>
            {
                if (!benches.TryGet(bench, out HostedBench? hosted))
                {
                    return Problems.NoBench(bench);
                }

                (NoticeTestRequest? body, ProblemHttpResult? wrong) = await RequestBody.ReadAsync<NoticeTestRequest>(
                    request, "Send a JSON object such as {\"by\":\"your name\"}; openapi.json lists the fields.", cancel);
                if (body is null)
                {
                    return wrong!;
                }

                Caller caller = Caller.Of(request.HttpContext);
                if (CommandRequestReader.Signature(caller, body.By, out string by) is { } unsigned)
                {
                    return unsigned;
                }

                IReadOnlyList<RouteTest>? tests = await hosted.View.TestNoticesAsync(body.Route, by, cancel);
                if (tests is null)
                {
                    return Problems.BadParameter("route", $"There is no route '{body.Route}'.", $"GET /api/v1/benches/{bench}/notices lists them; leave it out to test all.");
                }

                AccessLog.Acted(audit, bench, by, caller.Identity, "notice-test");
                return TypedResults.Ok(new NoticeTestAnswer(bench, [.. tests.Select(t => new NoticeTestItem(t.Route, Slugs.Of(t.Kind), t.Done, t.Said, t.Remedy, t.Took.TotalSeconds))]));
            })
            .ForOperators()
            .Accepts<NoticeTestRequest>("application/json")
            .WithSummary("Sends a test by one route or by all, and says what happened")
            .ProducesProblem(400)
            .ProducesProblem(403)
            .ProducesProblem(404)
            .ProducesProblem(415);
    }

    private static NoticesAnswer Of(IBenchView view)
    {
        NoticeSettings settings = view.NoticeSettings;
        return new NoticesAnswer(
            view.Bench.Id,
            AlarmNotice.Caution,
            new PageNoticeAnswer(Slugs.Of(settings.Page.LeastPriority), settings.Page.Sound, settings.Page.Speech),
            [
                .. view.NoticeRoutes.Select(r => new NoticeRouteAnswer(
                    r.Settings.Id,
                    Slugs.Of(r.Settings.Kind),
                    Slugs.Of(r.Settings.LeastPriority),
                    r.Settings.After.TotalSeconds,
                    r.Settings.QuietFrom?.ToString("HH:mm", CultureInfo.InvariantCulture),
                    r.Settings.QuietTo?.ToString("HH:mm", CultureInfo.InvariantCulture),
                    r.Settings.Trouble is not null ? "trouble" : r.FailingSinceUtc is not null ? "failing" : "working",
                    r.Settings.Trouble ?? (r.FailingSinceUtc is not null ? r.LastError : null),
                    r.Waiting,
                    r.Held,
                    Utc(r.LastSentUtc),
                    r.LastSaid,
                    Utc(r.FailingSinceUtc),
                    r.LampIsLit,
                    r.GivenUp)),
            ]);
    }

    private static string? Utc(long? nanoseconds) => nanoseconds is { } utc ? UtcText.FromNanoseconds(utc) : null;
}

internal sealed record NoticesAnswer(string Bench, string Caution, PageNoticeAnswer Page, IReadOnlyList<NoticeRouteAnswer> Routes);

/// <summary>How the page calls: from which priority, by sound, by spoken text.</summary>
internal sealed record PageNoticeAnswer(string LeastPriority, bool Sound, bool Speech);

/// <summary>One route. <c>State</c>: working, failing (tried again until it works) or trouble (it can't work as it is written). <c>GivenUp</c>: notices of the last 90 days that its far end never took.</summary>
internal sealed record NoticeRouteAnswer(
    string Id,
    string Kind,
    string LeastPriority,
    double AfterSeconds,
    string? QuietFrom,
    string? QuietTo,
    string State,
    string? Error,
    int Waiting,
    int Held,
    string? LastSent,
    string? LastSaid,
    string? FailingSince,
    bool? LampIsLit,
    int GivenUp);

/// <summary>Who asks, and the route; all of them where it is left out.</summary>
internal sealed record NoticeTestRequest
{
    public string? By { get; init; }

    public string? Route { get; init; }
}

internal sealed record NoticeTestAnswer(string Bench, IReadOnlyList<NoticeTestItem> Tests);

internal sealed record NoticeTestItem(string Route, string Kind, bool Done, string Said, string? Remedy, double TookSeconds);
