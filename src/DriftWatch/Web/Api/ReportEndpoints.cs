using System.ComponentModel;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers;
using DriftWatch.Storage;
using DriftWatch.Web.Access;
using DriftWatch.Web.Api.Spans;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api;

/// <summary>Reports and evidence packages of spans.</summary>
internal static class ReportEndpoints
{
    private const string FromWords = "Beginning, RFC 3339; default twelve hours before 'to'.";
    private const string ToWords = "End, not in the span, RFC 3339; default now.";
    private const string ZoneWords = "Zone of the report's times, such as Europe/Paris; default UTC.";

    public static void Map(IEndpointRouteBuilder api, HostedBenches benches, TimeProvider time)
    {
        RouteGroupBuilder span = api.MapGroup("/benches/{bench}/span");
        foreach (string kind in (string[])["pdf", "html"])
        {
            span.MapGet($"/report.{kind}", Task<Results<FileStreamHttpResult, ProblemHttpResult>> (
                    string bench, [Description(FromWords)] string? from, [Description(ToWords)] string? to, [Description(ZoneWords)] string? zone,
                    HttpContext context, CancellationToken cancel) =>
                    ReportAsync(benches, (bench, from, to, zone), kind, time, context, cancel))
                .WithSummary($"The report of a span as 'driftwatch report' writes it, {kind.ToUpperInvariant()}, for at most 36 h")
                .TakesTime()
                .Produces(200, contentType: kind == "pdf" ? "application/pdf" : "text/html")
                .ProducesProblem(400)
                .ProducesProblem(404);
        }

        span.MapGet("/package.zip", Task<Results<FileStreamHttpResult, ProblemHttpResult>> (
                string bench, [Description(FromWords)] string? from, [Description(ToWords)] string? to, [Description(ZoneWords)] string? zone, CancellationToken cancel) =>
                PackageAsync(benches, (bench, from, to, zone), time, cancel))
            .WithSummary("The evidence of a span as 'driftwatch package' packs it, a bag by RFC 8493 in a zip, for at most 36 h")
            .TakesTime()
            .Produces(200, contentType: "application/zip")
            .ProducesProblem(400)
            .ProducesProblem(404);
    }

    private static async Task<Results<FileStreamHttpResult, ProblemHttpResult>> ReportAsync(
        HostedBenches benches, (string Bench, string? From, string? To, string? Zone) asked, string kind, TimeProvider time, HttpContext context, CancellationToken cancel)
    {
        if (!TryRead(benches, asked, out SpanRequest? request, out TimeZoneInfo? zone, out string? store, out ProblemHttpResult? problem))
        {
            return problem!;
        }

        try
        {
            Stream report = await ReportFiles.ReportAsync(
                () => DossierReader.OfSpan(store!, request!.FromUtc, request.ToUtc, cancel), kind == "pdf", zone!, time.GetUtcNow(), cancel);
            if (kind == "html")
            {
                context.Response.Headers.ContentSecurityPolicy = HtmlDocument.Policy; // its own, stricter than the page's but for the style and fonts in it
            }

            // HTML opens where it is asked for; a PDF is saved under its name.
            return TypedResults.Stream(report, kind == "pdf" ? "application/pdf" : "text/html; charset=utf-8", kind == "pdf" ? SpanFiles.NameOf(request!, "-report.pdf") : null);
        }
        catch (Exception exception) when (exception is InvalidDataException or StoreException)
        {
            return Problems.NotFound("The report could not be made.", exception.Message);
        }
    }

    private static async Task<Results<FileStreamHttpResult, ProblemHttpResult>> PackageAsync(
        HostedBenches benches, (string Bench, string? From, string? To, string? Zone) asked, TimeProvider time, CancellationToken cancel)
    {
        if (!TryRead(benches, asked, out SpanRequest? request, out TimeZoneInfo? zone, out string? store, out ProblemHttpResult? problem))
        {
            return problem!;
        }

        try
        {
            string name = SpanFiles.NameOf(request!, "-evidence.zip");
            Stream package = await ReportFiles.PackageAsync(
                store!, () => DossierReader.OfSpan(store!, request!.FromUtc, request.ToUtc, cancel), name, zone!, time.GetUtcNow(), cancel);
            return TypedResults.Stream(package, "application/zip", name);
        }
        catch (Exception exception) when (exception is InvalidDataException or StoreException)
        {
            return Problems.NotFound("The package could not be made.", exception.Message);
        }
    }

    private static bool TryRead(
        HostedBenches benches, (string Bench, string? From, string? To, string? Zone) asked,
        out SpanRequest? request, out TimeZoneInfo? zone, out string? store, out ProblemHttpResult? problem)
    {
        (zone, store) = (null, null);
        if (!SpanRequest.TryRead(benches, asked.Bench, asked.From, asked.To, null, out request, out problem)
            || !Parameters.TryZone(asked.Zone, "zone", out zone, out problem))
        {
            return false;
        }

        if (!SpanFiles.IsOfReadings(request))
        {
            problem = Problems.BadParameter(
                "from", $"A report is made from every reading, of at most {SpanFiles.Readings.TotalHours:0} h at once.",
                "Ask for a shorter span, or run 'driftwatch report' on the store.");
            return false;
        }

        store = request.View.StoreFolder;
        problem = store is null ? Problems.NotFound("This bench keeps no store.", "Ask a bench that does.") : null;
        return store is not null;
    }
}
