using System.ComponentModel;
using DriftWatch.Measurement.Channels;
using DriftWatch.Running;
using DriftWatch.Web.Access;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api.Spans;

/// <summary>Any span of a bench at once: columns of every channel, what happened in it, slopes, how two channels go together, and all of it as files.</summary>
internal static class SpanEndpoints
{
    public const int DefaultColumns = 1200;
    public const int MostColumns = 5000;
    public const string FromWords = "Beginning, RFC 3339; default twelve hours before 'to'.";
    public const string ToWords = "End, not in the span, RFC 3339; default now.";
    public const string ChannelsWords = "Ids of series channels with commas between; default all.";
    public const string QuantitiesWords = "Ids of derived quantities with commas between";
    public const string ColumnsWords = "Greatest number of columns, 1 to 5000; default 1200. Their width comes from a ladder of whole steps, so there may be fewer.";

    public static void Map(IEndpointRouteBuilder api, HostedBenches benches, QuantityDesk desk)
    {
        RouteGroupBuilder span = api.MapGroup("/benches/{bench}/span");
        span.MapGet("", Results<Ok<SpanColumnsAnswer>, ProblemHttpResult> (
                string bench, [Description(FromWords)] string? from, [Description(ToWords)] string? to,
                [Description(ChannelsWords)] string? channels, [Description(ColumnsWords)] string? columns) =>
                SpanRequest.TryRead(benches, bench, from, to, channels, out SpanRequest? request, out ProblemHttpResult? problem)
                && Parameters.TryCount(columns, "columns", DefaultColumns, MostColumns, out int count, out problem)
                    ? TypedResults.Ok(SpanColumnsAnswer.Of(request, count))
                    : problem)
            .TakesTime()
            .WithSummary("Least, greatest and mean of all channels of a span on the same columns; gaps stay gaps")
            .ProducesProblem(400)
            .ProducesProblem(404);

        span.MapGet("/events", Results<Ok<SpanEventsAnswer>, ProblemHttpResult> (
                string bench, [Description(FromWords)] string? from, [Description(ToWords)] string? to) =>
                SpanRequest.TryRead(benches, bench, from, to, null, out SpanRequest? request, out ProblemHttpResult? problem)
                    ? TypedResults.Ok(SpanEventsAnswer.Of(request))
                    : problem)
            .TakesTime()
            .WithSummary("What happened in a span: when it was watched, states, findings, alarms, marks and baselines")
            .ProducesProblem(400)
            .ProducesProblem(404);

        span.MapGet("/drifts", Results<Ok<SpanDriftsAnswer>, ProblemHttpResult> (
                string bench, [Description(FromWords)] string? from, [Description(ToWords)] string? to, [Description(ChannelsWords)] string? channels) =>
                SpanRequest.TryRead(benches, bench, from, to, channels, out SpanRequest? request, out ProblemHttpResult? problem)
                    ? TypedResults.Ok(SpanDriftsAnswer.Of(request))
                    : problem)
            .TakesTime()
            .WithSummary("Slopes of a span with intervals of 95 % and the time to a limit, the fastest user of its tolerance first")
            .ProducesProblem(400)
            .ProducesProblem(404);

        span.MapGet("/relation", Results<Ok<SpanRelationAnswer>, ProblemHttpResult> (
                string bench, [Description(FromWords)] string? from, [Description(ToWords)] string? to,
                [Description("Id of a series channel.")] string? first, [Description("Id of another one.")] string? second) =>
                Relation(benches, bench, from, to, first, second))
            .TakesTime()
            .WithSummary("Which of two channels moved first in a span, and how surely")
            .ProducesProblem(400)
            .ProducesProblem(404);

        span.MapGet("/quantities", async Task<Results<Ok<SpanQuantitiesAnswer>, ProblemHttpResult>> (
                string bench, [Description(FromWords)] string? from, [Description(ToWords)] string? to,
                [Description(QuantitiesWords + "; default all.")] string? quantities, [Description(ColumnsWords)] string? columns, CancellationToken cancel) =>
                await QuantitiesAsync(benches, desk, bench, (from, to), quantities, columns, cancel))
            .TakesTime()
            .WithSummary("Least, greatest and mean of derived quantities of a span, worked out from its readings, for at most 36 h at once")
            .ProducesProblem(400)
            .ProducesProblem(404)
            .ProducesProblem(409);

        SpanFileEndpoints.Map(span, benches, desk);
    }

    private static async Task<Results<Ok<SpanQuantitiesAnswer>, ProblemHttpResult>> QuantitiesAsync(
        HostedBenches benches, QuantityDesk desk, string bench, (string? From, string? To) span, string? quantities, string? columns, CancellationToken cancel)
    {
        if (!SpanRequest.TryRead(benches, bench, span.From, span.To, null, out SpanRequest? request, out ProblemHttpResult? problem)
            || !SpanQuantitiesAnswer.TryQuantities(request.View, quantities, request.View.Bench.Quantities, out IReadOnlyList<QuantityDefinition>? chosen, out problem)
            || !Parameters.TryCount(columns, "columns", DefaultColumns, MostColumns, out int count, out problem))
        {
            return problem;
        }

        try
        {
            return TypedResults.Ok(await SpanQuantitiesAnswer.OfAsync(desk, request, chosen, count, cancel));
        }
        catch (QuantitiesUntoldException untold)
        {
            return Problems.NotWorkedOut(untold.Message, untold.Remedy);
        }
    }

    private static Results<Ok<SpanRelationAnswer>, ProblemHttpResult> Relation(
        HostedBenches benches, string bench, string? from, string? to, string? first, string? second)
    {
        if (!SpanRequest.TryRead(benches, bench, from, to, null, out SpanRequest? request, out ProblemHttpResult? problem)
            || !SpanRequest.TryChannel(request.View, first, "first", out ChannelDefinition? one, out problem)
            || !SpanRequest.TryChannel(request.View, second, "second", out ChannelDefinition? other, out problem))
        {
            return problem;
        }

        return one == other
            ? Problems.BadParameter("second", "Both channels are the same.", "Name another channel in 'second'.")
            : TypedResults.Ok(SpanRelationAnswer.Of(request, one, other));
    }
}
