using DriftWatch.Running;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api;

/// <summary>Alive, ready, and the health of one bench in figures.</summary>
internal static class HealthEndpoints
{
    public static void Map(IEndpointRouteBuilder app, IEndpointRouteBuilder api, HostedBenches benches)
    {
        app.MapGet("/healthz", () => TypedResults.Ok(new AliveAnswer("alive", benches.Watched.TotalSeconds)))
            .WithSummary("The process answers");

        app.MapGet("/readyz", () =>
            {
                HealthAnswer[] all = [.. benches.All.Select(b => Judge(b.View, benches.Settings))];
                bool ready = all.All(a => a.Ready);
                return TypedResults.Json(new ReadyAnswer(ready, all), statusCode: ready ? 200 : 503);
            })
            .WithSummary("Sampling, storing, judging and noticing of every bench; 503 when one is stale")
            .Produces<ReadyAnswer>()
            .Produces<ReadyAnswer>(503);

        api.MapGet("/benches/{bench}/health", Results<Ok<HealthAnswer>, ProblemHttpResult> (string bench) =>
                benches.TryGet(bench, out HostedBench? hosted) ? TypedResults.Ok(Judge(hosted.View, benches.Settings)) : Problems.NoBench(bench))
            .WithSummary("Ages of sampling, storing, judging and noticing, and what the store holds back")
            .ProducesProblem(404);
    }

    internal static HealthAnswer Judge(IBenchView view, WebSettings settings)
    {
        HealthReport health = view.Health;
        TimeSpan limit = settings.StaleAfter;
        if (view.Bench.Channels.Count > 0)
        {
            TimeSpan quickest = view.Bench.Channels.Min(c => c.Period);
            limit = quickest * 3 > limit ? quickest * 3 : limit;
        }

        PartAnswer storing = Part(health.Storing, limit);
        if (health.StoreTrouble is not null)
        {
            storing = storing with { State = "trouble" };
        }

        // Noticing has no first time on a bench without notices, and then nothing is missing.
        PartAnswer noticing = health.Noticing is null ? new PartAnswer("not-set-up", null) : Part(health.Noticing, limit);
        PartAnswer sampling = Part(health.Sampling, limit);
        PartAnswer judging = Part(health.Judging, limit);
        bool ready = sampling.State == "fresh" && storing.State == "fresh" && judging.State == "fresh"
            && noticing.State is "fresh" or "not-set-up";
        return new HealthAnswer(
            view.Bench.Id,
            ready,
            limit.TotalSeconds,
            sampling,
            storing,
            judging,
            noticing,
            health.StoreTrouble,
            health.ReadingsHeldInMemory,
            health.LateReadings,
            health.DroppedReadings);
    }

    private static PartAnswer Part(TimeSpan? age, TimeSpan limit) => age switch
    {
        null => new PartAnswer("not-yet", null),
        { } known when known > limit => new PartAnswer("stale", known.TotalSeconds),
        { } known => new PartAnswer("fresh", known.TotalSeconds),
    };
}

internal sealed record AliveAnswer(string Status, double WatchedSeconds);

internal sealed record ReadyAnswer(bool Ready, IReadOnlyList<HealthAnswer> Benches);

/// <summary>One of the four things that must go on: fresh, stale, not-yet, trouble, or not-set-up (noticing only).</summary>
internal sealed record PartAnswer(string State, double? AgeSeconds);

/// <summary>The health of one bench. Counts are of readings since the process began.</summary>
internal sealed record HealthAnswer(
    string Bench,
    bool Ready,
    double StaleAfterSeconds,
    PartAnswer Sampling,
    PartAnswer Storing,
    PartAnswer Judging,
    PartAnswer Noticing,
    string? StoreTrouble,
    long ReadingsHeldInMemory,
    long LateReadings,
    long DroppedReadings);
