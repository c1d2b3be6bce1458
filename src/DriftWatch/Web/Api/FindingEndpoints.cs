using System.ComponentModel;
using System.Text.Json;
using DriftWatch.Measurement.Findings;
using DriftWatch.Running;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api;

/// <summary>
/// Findings by cursor, the latest ones, and those that last. A finding is written exactly as <c>driftwatch judge</c>
/// writes it (format <see cref="FindingJson.Format"/>), with the cursor of its line beside it.
/// </summary>
internal static class FindingEndpoints
{
    private const int DefaultLimit = 100;
    private const int MostRows = 1000;

    public static void Map(IEndpointRouteBuilder api, HostedBenches benches)
    {
        api.MapGet("/benches/{bench}/findings", Results<FindingsResult, ProblemHttpResult> (
                string bench,
                [Description("Cursor after which to go on; 0 or absent begins.")] string? after,
                [Description("Greatest number of lines, 1 to 1000; default 100.")] string? limit) =>
            {
                if (!benches.TryGet(bench, out HostedBench? hosted))
                {
                    return Problems.NoBench(bench);
                }

                if (!Parameters.TryCursor(after, "after", out long cursor, out ProblemHttpResult? problem)
                    || !Parameters.TryCount(limit, "limit", DefaultLimit, MostRows, out int count, out problem))
                {
                    return problem;
                }

                return new FindingsResult(hosted.View.Findings(cursor, count));
            })
            .WithSummary("Finding lines after a cursor, oldest first")
            .Produces<FindingsAnswer>()
            .ProducesProblem(400)
            .ProducesProblem(404);

        api.MapGet("/benches/{bench}/findings/latest", Results<FindingsResult, ProblemHttpResult> (
                string bench,
                [Description("Greatest number of lines, 1 to 1000; default 100.")] string? limit) =>
            {
                if (!benches.TryGet(bench, out HostedBench? hosted))
                {
                    return Problems.NoBench(bench);
                }

                return Parameters.TryCount(limit, "limit", DefaultLimit, MostRows, out int count, out ProblemHttpResult? problem)
                    ? new FindingsResult(hosted.View.LatestFindings(count))
                    : problem;
            })
            .WithSummary("The newest finding lines, oldest of them first")
            .Produces<FindingsAnswer>()
            .ProducesProblem(400)
            .ProducesProblem(404);

        api.MapGet("/benches/{bench}/findings/open", Results<FindingsResult, ProblemHttpResult> (string bench) =>
                benches.TryGet(bench, out HostedBench? hosted)
                    ? new FindingsResult(new FindingPage([.. hosted.View.OpenFindings.Select(line => new FindingRow(0, line))], 0))
                    : Problems.NoBench(bench))
            .WithSummary("Findings that last, newest first; their cursor is 0")
            .Produces<FindingsAnswer>()
            .ProducesProblem(404);
    }

    /// <summary>Only described, for the OpenAPI document: <see cref="FindingsResult"/> writes it.</summary>
    internal sealed record FindingsAnswer(IReadOnlyList<FindingItem> Items, long NextCursor);

    /// <summary>A line with its cursor; <c>Finding</c> follows the published finding schema.</summary>
    internal sealed record FindingItem(long Cursor, JsonElement Finding);

    internal sealed class FindingsResult(FindingPage page)
        : LinesResult<FindingLine>("finding", page.Rows.Select(r => (r.Cursor, r.Line)), page.NextCursor, FindingJson.Write);
}
