using System.ComponentModel;
using System.Globalization;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers;
using DriftWatch.Storage;
using DriftWatch.Transfers;
using DriftWatch.Watch.Transfers;
using DriftWatch.Web.Access;
using DriftWatch.Web.Api.Spans;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api.Transfers;

/// <summary>Report and evidence of a transfer's pass, as <c>driftwatch report</c> and <c>driftwatch package</c> make them with <c>--transfer</c>.</summary>
internal static class TransferPapers
{
    private const string PassWords = "Number of the pass, from 1; default the last that ran.";
    private const string ZoneWords = "Zone of the report's times, such as Europe/Paris; default UTC.";

    public static void Map(IEndpointRouteBuilder api, HostedBenches benches, TimeProvider time)
    {
        RouteGroupBuilder transfer = api.MapGroup("/benches/{bench}/transfers/{transfer:guid}");
        foreach (string kind in (string[])["pdf", "html"])
        {
            transfer.MapGet($"/report.{kind}", (
                    string bench, Guid transfer, [Description(PassWords)] string? pass, [Description(ZoneWords)] string? zone, HttpContext context, CancellationToken cancel) =>
                    MakeAsync(benches, new Asked(bench, transfer, pass, zone), "report", async (paper, zone) =>
                    {
                        Stream report = await ReportFiles.ReportAsync(() => paper.Read(cancel), kind == "pdf", zone, time.GetUtcNow(), cancel);
                        if (kind == "html")
                        {
                            context.Response.Headers.ContentSecurityPolicy = HtmlDocument.Policy; // its own, stricter than the page's but for the style and fonts in it
                        }

                        // HTML opens where it is asked for; a PDF is saved under its name.
                        return TypedResults.Stream(report, kind == "pdf" ? "application/pdf" : "text/html; charset=utf-8", kind == "pdf" ? paper.NameOf("-report.pdf") : null);
                    }))
                .WithSummary($"The report of a transfer's pass as 'driftwatch report --transfer' writes it, {kind.ToUpperInvariant()}")
                .TakesTime()
                .Produces(200, contentType: kind == "pdf" ? "application/pdf" : "text/html")
                .ProducesProblem(400).ProducesProblem(404).ProducesProblem(409);
        }

        transfer.MapGet("/package", (
                string bench, Guid transfer, [Description(PassWords)] string? pass, [Description(ZoneWords)] string? zone, CancellationToken cancel) =>
                MakeAsync(benches, new Asked(bench, transfer, pass, zone), "package", async (paper, zone) =>
                {
                    string name = paper.NameOf("-evidence.zip");
                    return TypedResults.Stream(
                        await ReportFiles.PackageAsync(paper.Store, () => paper.Read(cancel), name, zone, time.GetUtcNow(), cancel), "application/zip", name);
                }))
            .WithSummary("The evidence of a transfer's pass as 'driftwatch package --transfer' packs it, a bag by RFC 8493 in a zip")
            .TakesTime()
            .Produces(200, contentType: "application/zip")
            .ProducesProblem(400).ProducesProblem(404).ProducesProblem(409);
    }

    private static async Task<Results<FileStreamHttpResult, ProblemHttpResult>> MakeAsync(
        HostedBenches benches, Asked asked, string what, Func<Paper, TimeZoneInfo, Task<FileStreamHttpResult>> make)
    {
        if (!Parameters.TryZone(asked.Zone, "zone", out TimeZoneInfo? zone, out ProblemHttpResult? problem)
            || !TryFind(benches, asked, out Paper? paper, out problem))
        {
            return problem!;
        }

        if (what == "package" && DossierReader.WhyNotPacked(paper!.Pass, paper.Desk.NowUtc) is { } early)
        {
            return Problems.NotYet(early.What, early.Remedy);
        }

        try
        {
            return await make(paper!, zone);
        }
        catch (Exception exception) when (exception is InvalidDataException or StoreException)
        {
            return Problems.NotFound($"The {what} could not be made.", exception.Message);
        }
    }

    private static bool TryFind(HostedBenches benches, Asked asked, out Paper? paper, out ProblemHttpResult? problem)
    {
        paper = null;
        if (TransferEndpoints.Find(benches, asked.Bench, out TransferDesk? desk) is { } none)
        {
            problem = none;
            return false;
        }

        _ = benches.TryGet(asked.Bench, out HostedBench? hosted);
        BookTransfer? transfer = desk!.Book.Transfer(asked.Transfer);
        if (transfer is null || hosted!.View.StoreFolder is not { } store)
        {
            problem = TransferEndpoints.NoPass();
            return false;
        }

        if (!Parameters.TryWhole(asked.Pass, "pass", 0, 1, int.MaxValue, out int number, out problem))
        {
            return false;
        }

        BookPass? pass = number > 0 ? transfer.Passes.Find(p => p.Number == number) : transfer.Passes.FindLast(p => p.RunBegan is not null);
        problem = pass is null && number > 0
            ? Problems.NotFound($"This transfer has no pass {number}: it has {transfer.Passes.Count}.", "GET …/transfers lists them.")
            : pass?.RunBegan is null
                ? Problems.NotYet(
                    number > 0 ? $"No tape has run in pass {number} yet." : "No tape has run in this transfer yet.",
                    "Ask again once its run has begun, or for the report of a span.")
                : WhyTooLong(desk, pass);
        paper = problem is null ? new Paper(store, desk, transfer, pass!, desk.Book.Tape(transfer.Tape)!.Now) : null;
        return paper is not null;
    }

    private static ProblemHttpResult? WhyTooLong(TransferDesk desk, BookPass pass)
    {
        long end = pass.RunEnded?.Entry.AboutUtc ?? desk.NowUtc;
        return (end - pass.RunBegan!.Entry.AboutUtc) / 1e9 <= SpanFiles.Readings.TotalSeconds
            ? null
            : Problems.NotYet(
                $"A report is made here from every reading, of at most {SpanFiles.Readings.TotalHours:0} h at once, and this run is longer.",
                "End the run if it goes on by mistake; else run 'driftwatch report --transfer' on the store.");
    }

    private sealed record Asked(string Bench, Guid Transfer, string? Pass, string? Zone);

    /// <summary>The pass that a document is of.</summary>
    private sealed record Paper(string Store, TransferDesk Desk, BookTransfer Transfer, BookPass Pass, TapeDescribed Tape)
    {
        public Dossier Read(CancellationToken cancel) => DossierReader.OfTransfer(Store, Transfer.Id.ToString(), Pass.Number, cancel);

        /// <summary><c>MC-0117-pass-2-report.pdf</c>: by what stands on the tape's box, with what no file's name may hold left out.</summary>
        public string NameOf(string what)
        {
            string kept = string.Concat(Tape.Identifier.Select(c => char.IsAsciiLetterOrDigit(c) || c is '-' or '_' ? c : '-')).Trim('-');
            return string.Create(CultureInfo.InvariantCulture, $"{(kept.Length == 0 ? Transfer.Id.ToString() : kept)}-pass-{Pass.Number}{what}");
        }
    }
}
