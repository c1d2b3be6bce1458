using System.ComponentModel;
using DriftWatch.Reports.Shifts;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Watch.Drifts;
using DriftWatch.Web.Access;
using DriftWatch.Web.Api.Spans;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api;

/// <summary>What who takes over a bench has to know.</summary>
internal static class HandOverEndpoints
{
    public static void Map(IEndpointRouteBuilder api, HostedBenches benches) =>
        api.MapGet("/benches/{bench}/handover", Results<Ok<HandOverAnswer>, ProblemHttpResult> (
                string bench,
                [Description("Begin of the shift, RFC 3339; default twelve hours before 'to'.")] string? from,
                [Description("Its end, RFC 3339: all is told as it stood then; default now.")] string? to) =>
            {
                if (!SpanRequest.TryRead(benches, bench, from, to, null, out SpanRequest? request, out ProblemHttpResult? problem))
                {
                    return problem;
                }

                IBenchView view = request.View;
                if (view.StoreFolder is not { } store)
                {
                    return Problems.NotFound("This bench keeps no store.", "Ask a bench that does.");
                }

                try
                {
                    return TypedResults.Ok(HandOverAnswer.Of(HandOverReader.Read(store, request.FromUtc, request.ToUtc, string.IsNullOrEmpty(to) ? Now(view) : null, view.Transfers?.Kept)));
                }
                catch (Exception exception) when (exception is InvalidDataException or StoreException)
                {
                    return Problems.NotFound("There is nothing to hand over.", exception.Message);
                }
            })
            .TakesTime()
            .WithSummary("The shift for who takes over: machine and transfer, drifts, alarms, what is overdue, what to do next, notes and entries")
            .ProducesProblem(400)
            .ProducesProblem(404);

    /// <summary>By the table that judgement makes once a minute; null before the first, and then the findings tell.</summary>
    private static List<HandOverDrift>? Now(IBenchView view) => view.Drifts is not { At: { } at } table
        ? null
        : [.. table.Items.Where(d => d.Leaves).Select(d => Of(d, view.ToUtcNanoseconds(at)))];

    private static HandOverDrift Of(ChannelDrift drift, long atUtc) => new()
    {
        Id = drift.Id,
        Label = drift.Label,
        Unit = drift.Unit,
        AtUtc = atUtc,
        Value = drift.Value,
        Baseline = drift.Baseline,
        Limit = drift.Limit,
        UsedShare = drift.UsedShare,
        SlopePerHour = drift.SlopePerHour,
        SlopePerHourLow = drift.SlopePerHourLow,
        SlopePerHourHigh = drift.SlopePerHourHigh,
        MinutesLeft = drift.MinutesLeft,
        MinutesLeftLow = drift.MinutesLeftLow,
        MinutesLeftHigh = drift.MinutesLeftHigh,
    };
}
