using System.ComponentModel;
using System.Diagnostics.CodeAnalysis;
using DriftWatch.Measurement.Channels;
using DriftWatch.Reports.Plots;
using DriftWatch.Running;
using DriftWatch.Web.Access;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api.Spans;

/// <summary>A span as a picture or a table, as it is on the screen: with derived quantities, and with what it is held against.</summary>
internal static class SpanFileEndpoints
{
    private const int DefaultWidth = 1600;
    private const int DefaultPanel = 150;
    private const string QuantitiesWords = SpanEndpoints.QuantitiesWords + ", or all; default none.";
    private const string CompareWords = "Where another span of the same length begins that is drawn over this one, RFC 3339; or baseline.";

    public static void Map(RouteGroupBuilder span, HostedBenches benches, QuantityDesk desk)
    {
        span.MapGet("/picture", Task<Results<FileStreamHttpResult, ProblemHttpResult>> (
                string bench, [Description(SpanEndpoints.FromWords)] string? from, [Description(SpanEndpoints.ToWords)] string? to,
                [Description(SpanEndpoints.ChannelsWords)] string? channels, [Description(QuantitiesWords)] string? quantities, [Description(CompareWords)] string? compare,
                [Description("png or svg; default png.")] string? format,
                [Description("Zone of the time axis, such as Europe/Paris; default UTC.")] string? zone,
                [Description("Width in pixels, 600 to 8000; default 1600.")] string? width,
                [Description("Height of a channel's panel in pixels, 120 to 2000; default 150.")] string? panel,
                CancellationToken cancel) =>
                PictureAsync(benches, desk, new Asked(bench, from, to, channels, quantities, compare), (format, zone, width, panel), cancel))
            .TakesTime()
            .WithSummary("A span as 'driftwatch plot' draws it; beyond 36 h from columns with their least and greatest")
            .Produces(200, contentType: "image/png", additionalContentTypes: "image/svg+xml")
            .ProducesProblem(400)
            .ProducesProblem(404)
            .ProducesProblem(409);

        span.MapGet("/csv", Task<Results<FileStreamHttpResult, ProblemHttpResult>> (
                string bench, [Description(SpanEndpoints.FromWords)] string? from, [Description(SpanEndpoints.ToWords)] string? to,
                [Description(SpanEndpoints.ChannelsWords)] string? channels, [Description(QuantitiesWords)] string? quantities, [Description(CompareWords)] string? compare,
                [Description("readings: every one of the channels, for at most 36 h. columns: a row a column. Default: readings where the span allows it and neither quantities nor compare are asked for.")] string? values,
                [Description(SpanEndpoints.ColumnsWords)] string? columns,
                CancellationToken cancel) =>
                CsvAsync(benches, desk, new Asked(bench, from, to, channels, quantities, compare), values, columns, cancel))
            .TakesTime()
            .WithSummary("A span as a plain recording, as 'driftwatch export' writes it, with the least and the greatest beside each value")
            .Produces(200, contentType: "text/csv")
            .ProducesProblem(400)
            .ProducesProblem(404)
            .ProducesProblem(409);
    }

    private static async Task<Results<FileStreamHttpResult, ProblemHttpResult>> PictureAsync(
        HostedBenches benches, QuantityDesk desk, Asked asked, (string? Format, string? Zone, string? Width, string? Panel) style, CancellationToken cancel)
    {
        if (!asked.TryRead(benches, out SpanRequest? request, out ProblemHttpResult? problem)
            || !Parameters.TryChoice(style.Format, "format", ["png", "svg"], out string? format, out problem)
            || !Parameters.TryZone(style.Zone, "zone", out TimeZoneInfo? zone, out problem)
            || !Parameters.TryWhole(style.Width, "width", DefaultWidth, 600, 8000, out int width, out problem)
            || !Parameters.TryWhole(style.Panel, "panel", DefaultPanel, 120, 2000, out int panel, out problem))
        {
            return problem;
        }

        bool isSvg = format == "svg";
        try
        {
            Stream? picture = await SpanFiles.PictureAsync(request, desk, isSvg, new PlotStyle { Width = width, PanelHeight = panel, Zone = zone }, cancel);
            return picture is null
                ? Nothing()
                : TypedResults.Stream(picture, isSvg ? "image/svg+xml" : "image/png", SpanFiles.NameOf(request, isSvg ? ".svg" : ".png"));
        }
        catch (QuantitiesUntoldException untold)
        {
            return Problems.NotWorkedOut(untold.Message, untold.Remedy);
        }
    }

    private static async Task<Results<FileStreamHttpResult, ProblemHttpResult>> CsvAsync(
        HostedBenches benches, QuantityDesk desk, Asked asked, string? values, string? columns, CancellationToken cancel)
    {
        if (!asked.TryRead(benches, out SpanRequest? request, out ProblemHttpResult? problem))
        {
            return problem;
        }

        bool onlyColumns = request.Quantities.Count > 0 || request.CompareUtc is not null;
        if (!Parameters.TryChoice(values, "values", SpanFiles.IsOfReadings(request) && !onlyColumns ? ["readings", "columns"] : ["columns", "readings"], out string? chosen, out problem)
            || !Parameters.TryCount(columns, "columns", SpanEndpoints.DefaultColumns, SpanEndpoints.MostColumns, out int count, out problem))
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

        if (readings && onlyColumns)
        {
            return Problems.BadParameter(
                "values", "Readings are given of channels and of one span: derived quantities have none, and those of another span have instants of their own.",
                "Write values=columns, or leave 'quantities' and 'compare' out.");
        }

        try
        {
            Stream? table = await SpanFiles.CsvAsync(request, desk, readings, count, cancel);
            return table is null ? Nothing() : TypedResults.Stream(table, "text/csv; charset=utf-8", SpanFiles.NameOf(request, readings ? ".csv" : "-columns.csv"));
        }
        catch (QuantitiesUntoldException untold)
        {
            return Problems.NotWorkedOut(untold.Message, untold.Remedy);
        }
    }

    private static ProblemHttpResult Nothing() =>
        Problems.NotFound("No reading lies in that span.", "Choose a span in which the bench was watched; the events of a span tell when.");

    /// <summary>What both files are asked for with, as it was written.</summary>
    private sealed record Asked(string Bench, string? From, string? To, string? Channels, string? Quantities, string? Compare)
    {
        public bool TryRead(HostedBenches benches, [NotNullWhen(true)] out SpanRequest? request, [NotNullWhen(false)] out ProblemHttpResult? problem)
        {
            if (!SpanRequest.TryRead(benches, Bench, From, To, Channels, out request, out problem)
                || !SpanQuantitiesAnswer.TryQuantities(
                    request.View, Quantities == "all" ? null : Quantities, Quantities == "all" ? request.View.Bench.Quantities : [], out IReadOnlyList<QuantityDefinition>? quantities, out problem))
            {
                return false;
            }

            bool isBaseline = Compare == "baseline";
            if (!Parameters.TryInstant(isBaseline ? null : Compare, "compare", request.FromUtc, out long compare, out problem))
            {
                return false;
            }

            request = request with { Quantities = quantities, WithBaselines = isBaseline, CompareUtc = isBaseline || string.IsNullOrEmpty(Compare) ? null : compare };
            return true;
        }
    }
}
