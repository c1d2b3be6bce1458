using System.ComponentModel;
using System.Text.Json;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Running;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Web.Access;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api;

/// <summary>
/// The book of alarms by cursor, its newest lines, how each alarm stands that is not back to normal, and the measures of it all.
/// A line is written exactly as <c>driftwatch alarms --json</c> writes it (format <see cref="AlarmJson.Format"/>), with its cursor beside it.
/// </summary>
internal static class AlarmEndpoints
{
    private const int DefaultLimit = 100;
    private const int MostRows = 1000;
    private const long Week = 7L * 24 * 3600 * 1_000_000_000;

    public static void Map(IEndpointRouteBuilder api, HostedBenches benches)
    {
        api.MapGet("/benches/{bench}/alarms", Results<AlarmsResult, ProblemHttpResult> (
                string bench,
                [Description("Cursor after which to go on; 0 or absent begins.")] string? after,
                [Description("Greatest number of lines, 1 to 1000; default 100.")] string? limit) =>
            {
                if (!benches.TryGet(bench, out HostedBench? hosted))
                {
                    return Problems.NoBench(bench);
                }

                return Parameters.TryCursor(after, "after", out long cursor, out ProblemHttpResult? problem)
                    && Parameters.TryCount(limit, "limit", DefaultLimit, MostRows, out int count, out problem)
                    ? new AlarmsResult(hosted.View.Alarms(cursor, count))
                    : problem;
            })
            .WithSummary("Lines of the alarm book after a cursor, oldest first")
            .Produces<AlarmsAnswer>()
            .ProducesProblem(400)
            .ProducesProblem(404);

        api.MapGet("/benches/{bench}/alarms/latest", Results<AlarmsResult, ProblemHttpResult> (
                string bench,
                [Description("Greatest number of lines, 1 to 1000; default 100.")] string? limit) =>
            {
                if (!benches.TryGet(bench, out HostedBench? hosted))
                {
                    return Problems.NoBench(bench);
                }

                return Parameters.TryCount(limit, "limit", DefaultLimit, MostRows, out int count, out ProblemHttpResult? problem)
                    ? new AlarmsResult(hosted.View.LatestAlarms(count))
                    : problem;
            })
            .WithSummary("The newest lines of the alarm book, oldest of them first")
            .Produces<AlarmsAnswer>()
            .ProducesProblem(400)
            .ProducesProblem(404);

        api.MapGet("/benches/{bench}/alarms/open", Results<AlarmsResult, ProblemHttpResult> (string bench) =>
                benches.TryGet(bench, out HostedBench? hosted)
                    ? new AlarmsResult(new AlarmPage([.. hosted.View.OpenAlarms.Select(line => new AlarmRow(0, line))], 0))
                    : Problems.NoBench(bench))
            .WithSummary("The latest line of each alarm that is not back to normal; their cursor is 0")
            .Produces<AlarmsAnswer>()
            .ProducesProblem(404);

        api.MapGet("/benches/{bench}/alarms/health", Results<Ok<AlarmHealthAnswer>, ProblemHttpResult> (
                string bench,
                [Description("Begin of the span, RFC 3339; absent: a week before its end.")] string? from,
                [Description("End of the span, not in it, RFC 3339; absent: now.")] string? to) =>
            {
                if (!benches.TryGet(bench, out HostedBench? hosted))
                {
                    return Problems.NoBench(bench);
                }

                IBenchView view = hosted.View;
                if (!Parameters.TryInstant(to, "to", view.ToUtcNanoseconds(view.Now), out long end, out ProblemHttpResult? problem)
                    || !Parameters.TryInstant(from, "from", end - Week, out long begin, out problem))
                {
                    return problem;
                }

                return begin < end
                    ? TypedResults.Ok(AlarmHealthAnswer.Of(AlarmHealth.Of(view.AlarmsOver(begin, end), new AlarmSpan(new UtcStretch(begin, end), view.Watched()))))
                    : Problems.BadParameter("from", "'from' is not before 'to'.", "Leave both out for the last week, or write the earlier time in 'from'.");
            })
            .TakesTime()
            .WithSummary("Rate, floods, chattering, stale alarms, priorities and answers over a span, against targets with their sources")
            .ProducesProblem(400)
            .ProducesProblem(404);
    }

    /// <summary>Only described, for the OpenAPI document: <see cref="AlarmsResult"/> writes it.</summary>
    internal sealed record AlarmsAnswer(IReadOnlyList<AlarmItem> Items, long NextCursor);

    /// <summary>A line with its cursor; <c>Alarm</c> follows the published schema of the book.</summary>
    internal sealed record AlarmItem(long Cursor, JsonElement Alarm);

    internal sealed class AlarmsResult(AlarmPage page)
        : LinesResult<AlarmTransition>("alarm", page.Rows.Select(r => (r.Cursor, r.Line)), page.NextCursor, AlarmJson.Write);
}
