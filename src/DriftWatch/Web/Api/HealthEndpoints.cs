using System.Text.Json.Serialization;
using DriftWatch.Running;
using DriftWatch.Web.Access;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api;

/// <summary>Alive, ready, and the health of one bench in figures. A stranger is told the words of state and nothing else.</summary>
internal static class HealthEndpoints
{
    public static void Map(IEndpointRouteBuilder app, IEndpointRouteBuilder api, HostedBenches benches)
    {
        app.MapGet("/healthz", (HttpContext context) =>
                TypedResults.Ok(new AliveAnswer("alive", Caller.Find(context) is null ? null : benches.Watched.TotalSeconds)))
            .AllowAnonymous()
            .WithSummary("The process answers");

        app.MapGet("/readyz", IResult (HttpContext context) =>
            {
                HealthAnswer[] all = [.. benches.All.Select(b => Judge(b.View, benches.Settings))];
                bool ready = all.All(a => a.Ready);
                int status = ready ? 200 : 503;
                return Caller.Find(context) is null
                    ? TypedResults.Json(ReadyWords.Of(ready, all), statusCode: status)
                    : TypedResults.Json(new ReadyAnswer(ready, all), statusCode: status);
            })
            .AllowAnonymous()
            .WithSummary("Sampling, storing, judging and noticing of every bench; 503 when one is stale")
            .Produces<ReadyAnswer>()
            .Produces<ReadyAnswer>(503);

        api.MapGet("/benches/{bench}/health", Results<Ok<HealthAnswer>, ProblemHttpResult> (string bench) =>
                benches.TryGet(bench, out HostedBench? hosted) ? TypedResults.Ok(Judge(hosted.View, benches.Settings)) : Problems.NoBench(bench))
            .WithSummary("Ages of sampling, storing, judging and noticing, and what the store holds back")
            .ProducesProblem(404);

        api.MapGet("/benches/{bench}/instruments", Results<Ok<InstrumentsAnswer>, ProblemHttpResult> (string bench) =>
                benches.TryGet(bench, out HostedBench? hosted) ? TypedResults.Ok(InstrumentsAnswer.Of(hosted.View)) : Problems.NoBench(bench))
            .WithSummary("How each instrument does: line, rate, missed ticks, rejected lines and faults by reason")
            .ProducesProblem(404);

        api.MapGet("/benches/{bench}/store", Results<Ok<StoreAnswer>, ProblemHttpResult> (string bench) =>
                benches.TryGet(bench, out HostedBench? hosted) ? TypedResults.Ok(StoreAnswer.Of(hosted.View)) : Problems.NoBench(bench))
            .WithSummary("How the store does: room, what is held back or lost, what it keeps, and what became of its files")
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

internal sealed record AliveAnswer(string Status, [property: JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)] double? WatchedSeconds);

internal sealed record ReadyAnswer(bool Ready, IReadOnlyList<HealthAnswer> Benches);

/// <summary>What a stranger is told of <c>/readyz</c>: of each part the worst of all benches, in a word.</summary>
internal sealed record ReadyWords(bool Ready, string Sampling, string Storing, string Judging, string Noticing)
{
    private static readonly string[] WorstFirst = ["trouble", "stale", "not-yet", "fresh", "not-set-up"];

    public static ReadyWords Of(bool ready, IReadOnlyCollection<HealthAnswer> all) => new(
        ready, Worst(all.Select(a => a.Sampling)), Worst(all.Select(a => a.Storing)), Worst(all.Select(a => a.Judging)), Worst(all.Select(a => a.Noticing)));

    private static string Worst(IEnumerable<PartAnswer> parts)
    {
        HashSet<string> states = [.. parts.Select(p => p.State)];
        return WorstFirst.FirstOrDefault(states.Contains) ?? "not-set-up";
    }
}

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
