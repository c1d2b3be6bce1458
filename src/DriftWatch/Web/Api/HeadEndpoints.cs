using System.Collections.Concurrent;
using DriftWatch.Running;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api;

/// <summary>RF of the four heads side by side.</summary>
internal static class HeadEndpoints
{
    public static void Map(IEndpointRouteBuilder api, HostedBenches benches)
    {
        var pictures = new ConcurrentDictionary<string, HeadsPicture>(StringComparer.Ordinal);
        api.MapGet("/benches/{bench}/heads", Results<Ok<HeadsAnswer>, ProblemHttpResult> (string bench) =>
                benches.TryGet(bench, out HostedBench? hosted)
                    ? TypedResults.Ok(pictures.GetOrAdd(bench, _ => new HeadsPicture(hosted.View, benches.Time)).Now())
                    : Problems.NoBench(bench))
            .WithSummary("RF level of each head against its baseline, its limits and the other heads, by the newest readings")
            .ProducesProblem(404);
    }
}
