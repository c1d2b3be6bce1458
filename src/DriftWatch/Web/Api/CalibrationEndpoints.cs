using System.Data.Common;
using DriftWatch.Calibrating;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Web.Access;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api;

/// <summary>Calibrations of a bench: what there is, what a sheet would come to, and its entry as an input.</summary>
internal static partial class CalibrationEndpoints
{
    private const string Remedy = "Send a JSON object such as {\"by\":\"your name\",\"sheet\":{\"reference\":{\"name\":\"test gauge\"},\"points\":[{\"reference\":0,\"raw\":[0.5]}]}}; openapi.json lists the fields.";

    public static void Map(IEndpointRouteBuilder api, HostedBenches benches, ILogger logger, ILogger audit)
    {
        api.MapGet("/benches/{bench}/calibrations", Results<Ok<CalibrationsAnswer>, ProblemHttpResult> (string bench) =>
                benches.TryGet(bench, out HostedBench? hosted) ? TypedResults.Ok(CalibrationsAnswer.Of(hosted.View)) : Problems.NoBench(bench))
            .TakesTime()
            .WithSummary("Every calibration of every channel with its errors, drift and due date")
            .ProducesProblem(404);

        api.MapGet("/benches/{bench}/calibrations/{id}", Results<Ok<CalibrationDocument>, ProblemHttpResult> (string bench, string id) =>
                Find(benches, bench, id, out CalibrationDocument? document) is { } problem ? problem : TypedResults.Ok(document!))
            .TakesTime()
            .WithSummary("All that a calibration was worked out from and came to: format driftwatch.calibration/1")
            .ProducesProblem(404);

        api.MapGet("/benches/{bench}/calibrations/{id}/certificate", Results<FileContentHttpResult, ProblemHttpResult> (string bench, string id) =>
                Find(benches, bench, id, out CalibrationDocument? document) is { } problem ? problem : Certificate(document!))
            .TakesTime()
            .WithSummary("The same on one page (PDF)")
            .Produces(200, contentType: "application/pdf")
            .ProducesProblem(404);

        api.MapPost("/benches/{bench}/channels/{channel}/calibrations/try", async Task<Results<Ok<CalibrationDocument>, ProblemHttpResult>> (
                string bench, string channel, HttpRequest request, CancellationToken cancel) =>
            {
                if (!benches.TryGet(bench, out HostedBench? hosted))
                {
                    return Problems.NoBench(bench);
                }

                (CalibrationRequest? body, ProblemHttpResult? wrong) = await RequestBody.ReadAsync<CalibrationRequest>(request, Remedy, cancel);
                CalibrationSigner signer = new("", "", null);

                // Nothing is entered, so nobody need sign.
                wrong ??= Signer(body! with { By = body.By ?? "nobody yet" }, Caller.Of(request.HttpContext), out signer);
                if (wrong is not null)
                {
                    return wrong;
                }

                try
                {
                    return TypedResults.Ok(hosted.View.TryCalibration(channel, body!.Sheet ?? new CalibrationSheet(), signer));
                }
                catch (SheetException mistake)
                {
                    return Wrong(mistake);
                }
            })
            .OnlyReckons()
            .Accepts<CalibrationRequest>("application/json")
            .WithSummary("What a sheet would come to; nothing is entered")
            .ProducesProblem(400)
            .ProducesProblem(404)
            .ProducesProblem(415);

        api.MapPost("/benches/{bench}/channels/{channel}/calibrations", async Task<Results<Ok<CalibrationEntryAnswer>, ProblemHttpResult>> (
                string bench, string channel, HttpRequest request, CancellationToken cancel) =>
            {
                if (!benches.TryGet(bench, out HostedBench? hosted))
                {
                    return Problems.NoBench(bench);
                }

                (CalibrationRequest? body, ProblemHttpResult? wrong) = await RequestBody.ReadAsync<CalibrationRequest>(request, Remedy, cancel);
                CalibrationSigner signer = new("", "", null);
                wrong ??= Signer(body!, Caller.Of(request.HttpContext), out signer);
                if (wrong is not null)
                {
                    return wrong;
                }

                return await EnterAsync(hosted.View, channel, body!.Sheet ?? new CalibrationSheet(), signer, logger, audit, cancel);
            })
            .ForOperators()
            .Accepts<CalibrationRequest>("application/json")
            .WithSummary("Works a sheet out and enters the calibration as an input; it holds from here on, or from 'applyFrom'")
            .ProducesProblem(400)
            .ProducesProblem(403)
            .ProducesProblem(404)
            .ProducesProblem(415)
            .ProducesProblem(503);
    }

    private static async Task<Results<Ok<CalibrationEntryAnswer>, ProblemHttpResult>> EnterAsync(
        IBenchView view, string channel, CalibrationSheet sheet, CalibrationSigner signer, ILogger logger, ILogger audit, CancellationToken cancel)
    {
        try
        {
            (CalibrationDocument document, long number) = await view.CalibrateAsync(channel, sheet, signer, cancel);
            AccessLog.Acted(audit, view.Bench.Id, signer.By, signer.Identity, "calibrate");
            return TypedResults.Ok(new CalibrationEntryAnswer(number, document));
        }
        catch (SheetException mistake)
        {
            return Wrong(mistake);
        }
        catch (Exception exception) when (exception is IOException or DbException)
        {
            NotStored(logger, exception, view.Bench.Id);
            return Problems.NotStored(exception.Message);
        }
        catch (WatchingStoppedException)
        {
            return Problems.Stopped();
        }
    }

    private static ProblemHttpResult? Signer(CalibrationRequest body, Caller caller, out CalibrationSigner signer)
    {
        long? from = null;
        ProblemHttpResult? problem = CommandRequestReader.Signature(caller, body.By, out string by);
        if (problem is null && body.ApplyFrom is { } text)
        {
            if (UtcText.TryParse(text, out long utc))
            {
                from = utc;
            }
            else
            {
                problem = Problems.BadParameter("applyFrom", $"'{text}' is no time.", "Write it in UTC as 2026-03-01T21:00:00Z.");
            }
        }

        signer = new CalibrationSigner(by, caller.Identity, from, body.Id);
        return problem;
    }

    private static ProblemHttpResult Wrong(SheetException mistake) =>
        Problems.BadParameter(mistake.Field is "channel" or "applyFrom" or "id" ? mistake.Field : $"sheet.{mistake.Field}", mistake.What, mistake.Remedy);

    private static ProblemHttpResult? Find(HostedBenches benches, string bench, string id, out CalibrationDocument? document)
    {
        document = null;
        if (!benches.TryGet(bench, out HostedBench? hosted))
        {
            return Problems.NoBench(bench);
        }

        document = Guid.TryParse(id, out Guid known) ? hosted.View.Calibrations().FirstOrDefault(r => r.Calibration.Id == known)?.Document : null;
        return document is null ? Problems.NotFound($"Bench '{bench}' has no calibration '{id}'.", $"GET /api/v1/benches/{bench}/calibrations lists the ids.") : null;
    }

    private static FileContentHttpResult Certificate(CalibrationDocument document)
    {
        using var pdf = new MemoryStream();
        CalibrationCertificate.Write(pdf, document);
        return TypedResults.File(pdf.ToArray(), "application/pdf", $"calibration-{document.Channel}-v{document.Version}.pdf");
    }

    [LoggerMessage(2004, LogLevel.Error, "Bench {Bench}: a calibration was not stored")]
    private static partial void NotStored(ILogger logger, Exception exception, string bench);
}

/// <summary>
/// A sheet and who enters it. <c>By</c> is needed on loopback and may else be left out: who is signed in signs. <c>ApplyFrom</c> (UTC) has
/// readings from then on shown with it as well; without it, it holds from its entry on. <c>Id</c> is a UUID of version 7 made where the
/// person acted: sent again after a lost answer, it is entered once and answered as it was.
/// </summary>
internal sealed record CalibrationRequest
{
    public Guid? Id { get; init; }

    public string? By { get; init; }

    public string? ApplyFrom { get; init; }

    public CalibrationSheet? Sheet { get; init; }
}

/// <summary>The number of the input and the document that it carries.</summary>
internal sealed record CalibrationEntryAnswer(long Input, CalibrationDocument Document);

/// <summary>By channel and version, the oldest first. Errors and drift in the channel's <c>Unit</c>; <c>Id</c> and what follows from a sheet are null for the bench file's own.</summary>
internal sealed record CalibrationAnswerRow(
    string Channel, string Label, string Unit, int Version, bool InForce, Guid? Id, string? By, string? Entered, string? ValidFrom, string? Due, string? Note,
    double? ExpandedUncertainty, double? Tolerance, double? AsFound, string? AsFoundConformity, double? AsLeft, string? AsLeftConformity, double? Drift, double? DriftPerYear, bool? DriftIsSignificant);

internal sealed record CalibrationsAnswer(string Bench, IReadOnlyList<CalibrationAnswerRow> Items)
{
    public static CalibrationsAnswer Of(IBenchView view) => new(view.Bench.Id, [.. view.Calibrations().Select(Row)]);

    private static CalibrationAnswerRow Row(CalibrationRow row)
    {
        CalibrationDocument? made = row.Document;
        DriftPoint? middle = made?.Drift.At[made.Drift.At.Count / 2];
        return new CalibrationAnswerRow(
            row.Channel.Id, row.Channel.Label, row.Channel.Unit, row.Calibration.Version, row.IsInForce, row.Calibration.Id, row.Calibration.By, made?.Entered,
            row.ValidFromUtc is { } from ? UtcText.FromNanoseconds(from) : null, row.Due, row.Calibration.Note,
            made?.Budget.Expanded, made?.Tolerance, made?.AsFound.Largest, made?.AsFound.Conformity, made?.AsLeft.Largest, made?.AsLeft.Conformity,
            middle?.Difference, middle?.PerYear, middle?.IsSignificant);
    }
}
