using System.ComponentModel;
using DriftWatch.Measurement.Channels;
using DriftWatch.Reports.Plots;
using DriftWatch.Web.Access;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api.Spans;

/// <summary>Any span of a bench at once: columns of every channel, what happened in it, slopes, how two channels go together, and all of it as files.</summary>
internal static class SpanEndpoints
{
    private const int DefaultColumns = 1200;
    private const int MostColumns = 5000;
    private const int DefaultWidth = 1600;
    private const int DefaultPanel = 150;
    private const string FromWords = "Beginning, RFC 3339; default twelve hours before 'to'.";
    private const string ToWords = "End, not in the span, RFC 3339; default now.";
    private const string ChannelsWords = "Ids of series channels with commas between; default all.";
    private const string ColumnsWords = "Greatest number of columns, 1 to 5000; default 1200. Their width comes from a ladder of whole steps, so there may be fewer.";

    public static void Map(IEndpointRouteBuilder api, HostedBenches benches)
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

        span.MapGet("/picture", Task<Results<FileStreamHttpResult, ProblemHttpResult>> (
                string bench, [Description(FromWords)] string? from, [Description(ToWords)] string? to, [Description(ChannelsWords)] string? channels,
                [Description("png or svg; default png.")] string? format,
                [Description("Zone of the time axis, such as Europe/Paris; default UTC.")] string? zone,
                [Description("Width in pixels, 600 to 8000; default 1600.")] string? width,
                [Description("Height of a channel's panel in pixels, 120 to 2000; default 150.")] string? panel,
                CancellationToken cancel) =>
                PictureAsync(benches, bench, (from, to, channels), (format, zone, width, panel), cancel))
            .TakesTime()
            .WithSummary("A span as 'driftwatch plot' draws it; beyond 36 h from columns with their least and greatest")
            .Produces(200, contentType: "image/png", additionalContentTypes: "image/svg+xml")
            .ProducesProblem(400)
            .ProducesProblem(404);

        span.MapGet("/csv", Task<Results<FileStreamHttpResult, ProblemHttpResult>> (
                string bench, [Description(FromWords)] string? from, [Description(ToWords)] string? to, [Description(ChannelsWords)] string? channels,
                [Description("readings: every one, for at most 36 h. columns: a row a column. Default: readings where the span allows it.")] string? values,
                [Description(ColumnsWords)] string? columns,
                CancellationToken cancel) =>
                CsvAsync(benches, bench, (from, to, channels), values, columns, cancel))
            .TakesTime()
            .WithSummary("A span as a plain recording, as 'driftwatch export' writes it, with the least and the greatest beside each value")
            .Produces(200, contentType: "text/csv")
            .ProducesProblem(400)
            .ProducesProblem(404);
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

    private static async Task<Results<FileStreamHttpResult, ProblemHttpResult>> PictureAsync(
        HostedBenches benches, string bench, (string? From, string? To, string? Channels) span, (string? Format, string? Zone, string? Width, string? Panel) style,
        CancellationToken cancel)
    {
        if (!SpanRequest.TryRead(benches, bench, span.From, span.To, span.Channels, out SpanRequest? request, out ProblemHttpResult? problem)
            || !Parameters.TryChoice(style.Format, "format", ["png", "svg"], out string? format, out problem)
            || !Parameters.TryZone(style.Zone, "zone", out TimeZoneInfo? zone, out problem)
            || !Parameters.TryWhole(style.Width, "width", DefaultWidth, 600, 8000, out int width, out problem)
            || !Parameters.TryWhole(style.Panel, "panel", DefaultPanel, 120, 2000, out int panel, out problem))
        {
            return problem;
        }

        bool isSvg = format == "svg";
        Stream? picture = await SpanFiles.PictureAsync(request, isSvg, new PlotStyle { Width = width, PanelHeight = panel, Zone = zone }, cancel);
        return picture is null
            ? Nothing()
            : TypedResults.Stream(picture, isSvg ? "image/svg+xml" : "image/png", SpanFiles.NameOf(request, isSvg ? ".svg" : ".png"));
    }

    private static async Task<Results<FileStreamHttpResult, ProblemHttpResult>> CsvAsync(
        HostedBenches benches, string bench, (string? From, string? To, string? Channels) span, string? values, string? columns, CancellationToken cancel)
    {
        if (!SpanRequest.TryRead(benches, bench, span.From, span.To, span.Channels, out SpanRequest? request, out ProblemHttpResult? problem)
            || !Parameters.TryChoice(values, "values", SpanFiles.IsOfReadings(request) ? ["readings", "columns"] : ["columns", "readings"], out string? chosen, out problem)
            || !Parameters.TryCount(columns, "columns", DefaultColumns, MostColumns, out int count, out problem))
        {
            return problem;
        }

        bool readings = chosen == "readings";
        if (readings && !SpanFiles.IsOfReadings(request))
        {
            return Problems.BadParameter(
                "values", $"Every reading is given for at most {SpanFiles.Readings.TotalHours:0} h at once.",
                "Ask for a shorter span, for values=columns, or run 'driftwatch export' on the store.");
        }

        Stream? table = await SpanFiles.CsvAsync(request, readings, count, cancel);
        return table is null ? Nothing() : TypedResults.Stream(table, "text/csv; charset=utf-8", SpanFiles.NameOf(request, readings ? ".csv" : "-columns.csv"));
    }

    private static ProblemHttpResult Nothing() =>
        Problems.NotFound("No reading lies in that span.", "Choose a span in which the bench was watched; the events of a span tell when.");
}
