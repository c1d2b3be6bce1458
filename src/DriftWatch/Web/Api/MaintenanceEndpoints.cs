using System.ComponentModel;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Maintaining;
using DriftWatch.Storage;
using DriftWatch.Web.Access;
using DriftWatch.Web.Api.Spans;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api;

/// <summary>What weeks and months say of a machine, across its tapes.</summary>
internal static class MaintenanceEndpoints
{
    private const long Month = 31L * 86_400 * EngineTime.NanosecondsPerSecond;

    public static void Map(IEndpointRouteBuilder api, HostedBenches benches)
    {
        var kept = new KeptMaintenance();
        api.MapGet("/benches/{bench}/maintenance", Results<Ok<MaintenanceAnswer>, ProblemHttpResult> (
                string bench,
                [Description("Begin, RFC 3339; default 31 days before 'to'.")] string? from,
                [Description("End, not in the span, RFC 3339, at most a year after 'from'; default now, or up to ten minutes ago where nothing was found or entered since.")] string? to) =>
            {
                if (!SpanRequest.TryRead(benches, bench, from, to, null, out SpanRequest? request, out ProblemHttpResult? problem))
                {
                    return problem;
                }

                long begin = string.IsNullOrEmpty(from) ? request.ToUtc - Month : request.FromUtc;
                if (request.ToUtc - begin > MaintenanceReader.Longest)
                {
                    return Problems.BadParameter("from", "The span is longer than a year.", "Give a 'from' at most a year before 'to'.");
                }

                if (request.View.StoreFolder is not { } store)
                {
                    return Problems.NotFound("This bench keeps no store.", "Ask a bench that does.");
                }

                try
                {
                    return TypedResults.Ok(string.IsNullOrEmpty(to)
                        ? kept.Of(request.View, store, begin, request.ToUtc)
                        : MaintenanceAnswer.Of(MaintenanceReader.Read(store, begin, request.ToUtc)));
                }
                catch (Exception exception) when (exception is InvalidDataException or StoreException)
                {
                    return Problems.NotFound("There is nothing to tell of this span.", exception.Message);
                }
            })
            .TakesTime()
            .WithSummary("Head hours and wear, air quality, compressor, geometry of recordings, calibrations and alarms over weeks or months")
            .ProducesProblem(400)
            .ProducesProblem(404);
    }
}
