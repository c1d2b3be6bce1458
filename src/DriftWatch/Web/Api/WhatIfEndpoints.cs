using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Names;
using DriftWatch.Running;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Web.Access;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api;

/// <summary>
/// Judges a span of the store again with other limits, beside the running service: which alarms would have come. Nothing that is
/// stored or in force is touched. One job at a time; it is asked for its progress and result, and can be cancelled.
/// </summary>
internal static class WhatIfEndpoints
{
    private const long LongestSpan = 24L * 3600 * 1_000_000_000;
    private const int MostChanges = 100;

    public static void Map(IEndpointRouteBuilder api, HostedBenches benches, WhatIfDesk desk, ILogger audit)
    {
        api.MapPost("/benches/{bench}/what-if", async Task<Results<Accepted<WhatIfAnswer>, ProblemHttpResult>> (string bench, HttpRequest request, CancellationToken cancel) =>
            {
                if (!benches.TryGet(bench, out HostedBench? hosted))
                {
                    return Problems.NoBench(bench);
                }

                (WhatIfRequest? body, ProblemHttpResult? wrong) = await RequestBody.ReadAsync<WhatIfRequest>(
                    request, "Send a JSON object with from, to, and limits or benchFile; openapi.json lists the fields.", cancel);
                if (body is null)
                {
                    return wrong!;
                }

                if (Read(hosted.View, body, out UtcStretch span, out Func<BenchDefinition, BenchDefinition>? change) is { } problem)
                {
                    return problem;
                }

                if (!desk.TryBegin(hosted.View, span, change!, out WhatIfJob job))
                {
                    return Problems.Busy(job.Id.ToString(), job.Progress);
                }

                Say(audit, bench, Caller.Of(request.HttpContext), "what-if");
                return TypedResults.Accepted($"/api/v1/benches/{bench}/what-if/{job.Id}", WhatIfAnswer.Of(job));
            })
            .ForOperators()
            .Accepts<WhatIfRequest>("application/json")
            .WithSummary("Judge a span again with other limits, in the background; answers at once with the job's id")
            .ProducesProblem(400)
            .ProducesProblem(403)
            .ProducesProblem(404)
            .ProducesProblem(409)
            .ProducesProblem(415)
            .ProducesProblem(422);

        api.MapGet("/benches/{bench}/what-if/{id}", Results<Ok<WhatIfAnswer>, ProblemHttpResult> (string bench, string id) =>
                !benches.TryGet(bench, out _) ? Problems.NoBench(bench)
                : desk.Find(bench, id) is { } job ? TypedResults.Ok(WhatIfAnswer.Of(job))
                : NoJob(id))
            .TakesTime()
            .WithSummary("How a second judgement stands, and its result once it is done")
            .ProducesProblem(404);

        api.MapDelete("/benches/{bench}/what-if/{id}", Results<Ok<WhatIfAnswer>, ProblemHttpResult> (string bench, string id, HttpContext context) =>
            {
                if (!benches.TryGet(bench, out _))
                {
                    return Problems.NoBench(bench);
                }

                if (desk.Find(bench, id) is not { } job)
                {
                    return NoJob(id);
                }

                if (job.State == WhatIfState.Running)
                {
                    job.Cancel.Cancel();
                    Say(audit, bench, Caller.Of(context), "what-if-cancel");
                }

                return TypedResults.Ok(WhatIfAnswer.Of(job));
            })
            .ForOperators()
            .WithSummary("Cancel a second judgement; it ends within moments")
            .ProducesProblem(403)
            .ProducesProblem(404);
    }

    private static void Say(ILogger audit, string bench, Caller caller, string act) =>
        AccessLog.Acted(audit, bench, caller.Name ?? "somebody on this machine", caller.Identity, act);

    private static ProblemHttpResult NoJob(string id) =>
        Problems.NotFound($"No job '{id}' is kept: only the last one is.", "POST to what-if to begin another.");

    private static ProblemHttpResult? Read(
        IBenchView view, WhatIfRequest request, out UtcStretch span, out Func<BenchDefinition, BenchDefinition>? change)
    {
        (span, change) = (default, null);
        if (string.IsNullOrEmpty(request.From) || string.IsNullOrEmpty(request.To))
        {
            return Problems.BadParameter(string.IsNullOrEmpty(request.From) ? "from" : "to", "The span is not given.", "Write 'from' and 'to' after RFC 3339, such as 2026-03-29T01:30:00Z.");
        }

        if (!Parameters.TryInstant(request.From, "from", 0, out long from, out ProblemHttpResult? problem)
            || !Parameters.TryInstant(request.To, "to", 0, out long to, out problem))
        {
            return problem;
        }

        if (to <= from || to - from > LongestSpan)
        {
            return Problems.BadParameter("to", "The span must be longer than nothing and at most 24 h.", "Write 'from' before 'to', or judge longer spans with 'driftwatch judge --compare'.");
        }

        span = new UtcStretch(from, to);
        if ((request.Limits is { Count: > 0 }) == !string.IsNullOrEmpty(request.BenchFile))
        {
            return Problems.BadParameter("limits", "Either 'limits' or 'benchFile' says what is to be tried.", "Give one of them.");
        }

        if (request.BenchFile is { Length: > 0 } text)
        {
            BenchFileResult tried = view.TryBenchText(text);
            if (tried.Bench is not { } bench)
            {
                return Problems.NotTried([.. tried.Mistakes.Select(m => m.ToString())]);
            }

            BenchDefinition instead = bench.Definition;
            change = was => OtherBench.WithKeysOf(instead, was);
            return null;
        }

        if (Changes(view.Bench, request.Limits!, out List<LimitChange> changes) is { } wrong)
        {
            return wrong;
        }

        change = was => LimitChange.Apply(was, changes);
        return null;
    }

    private static ProblemHttpResult? Changes(BenchDefinition bench, IReadOnlyList<WhatIfLimit> limits, out List<LimitChange> changes)
    {
        changes = [];
        if (limits.Count > MostChanges)
        {
            return Problems.BadParameter("limits", $"There are {limits.Count} limits.", $"Give at most {MostChanges}, or send a whole bench file in 'benchFile'.");
        }

        string[] known = [.. bench.Channels.Select(c => c.Id), .. bench.Quantities.Select(q => q.Id)];
        for (int i = 0; i < limits.Count; i++)
        {
            WhatIfLimit limit = limits[i];
            string channel = limit.Channel ?? "";
            if (!known.Contains(channel, StringComparer.Ordinal))
            {
                return Problems.BadParameter($"limits[{i}].channel", $"Bench '{bench.Id}' has no channel or quantity '{channel}'.", $"{NearestName.Hint(channel, known)}it has {string.Join(", ", known)}.");
            }

            if (!Slugs.TryParse(limit.Side ?? "", out LimitSide side))
            {
                return Problems.BadParameter($"limits[{i}].side", $"'{limit.Side}' is no side.", "Write low or high.");
            }

            if (!Slugs.TryParse(limit.Severity ?? "", out Severity severity) || severity == Severity.Note)
            {
                return Problems.BadParameter($"limits[{i}].severity", $"'{limit.Severity}' is no severity of a limit.", "Write advisory or alarm.");
            }

            changes.Add(new LimitChange(channel, side, severity, limit.Value));
        }

        return null;
    }
}
