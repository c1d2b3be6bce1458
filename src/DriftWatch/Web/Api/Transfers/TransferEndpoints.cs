using System.ComponentModel;
using System.Data.Common;
using DriftWatch.Reports.Reviews;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Transfers;
using DriftWatch.Watch.Transfers;
using DriftWatch.Web.Access;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api.Transfers;

/// <summary>The book of transfers: what stands in it, and the one door by which entries come in.</summary>
internal static partial class TransferEndpoints
{
    private static readonly string[] Formats = ["csv", "edl", "vtt"];
    private static readonly string[] Parts = ["sections", "items"];

    public static void Map(IEndpointRouteBuilder api, HostedBenches benches, ILogger logger, ILogger audit)
    {
        api.MapPost("/benches/{bench}/entries", async Task<Results<Ok<EntryAnswer>, ProblemHttpResult>> (string bench, HttpRequest request, CancellationToken cancel) =>
            {
                if (Find(benches, bench, out TransferDesk? desk) is { } none)
                {
                    return none;
                }

                (EntryRequest? body, ProblemHttpResult? unread) = await RequestBody.ReadAsync<EntryRequest>(request, "Send a JSON object such as {\"kind\":\"note\",\"by\":\"your name\",\"note\":\"…\"}; openapi.json lists the fields.", cancel);
                return unread is not null ? unread : await EnterAsync(desk!, bench, body!, Caller.Of(request.HttpContext), logger, audit);
            })
            .ForOperators()
            .Accepts<EntryRequest>("application/json")
            .WithSummary("Enter something into the book of transfers: a tape, a transfer, a pass, a signed check, a step of the line-up, a run, a verdict, a note")
            .ProducesProblem(400).ProducesProblem(404).ProducesProblem(409).ProducesProblem(415).ProducesProblem(503);

        api.MapGet("/benches/{bench}/procedures", Results<Ok<ProceduresAnswer>, ProblemHttpResult> (
                string bench, [Description("Id of a pass, whose lists are those of its day once its run has ended; default: the lists of now.")] Guid? pass) =>
                Find(benches, bench, out TransferDesk? desk) is { } none ? none
                : pass is not { } id ? TypedResults.Ok(ProceduresAnswer.Of(desk!.Procedures))
                : desk!.Book.Transfers.SelectMany(t => t.Passes).FirstOrDefault(p => p.Id == id) is { } found ? TypedResults.Ok(ProceduresAnswer.Of(desk.BenchOf(found).Procedures))
                : NoPass())
            .WithSummary("Check list, line-up and verdict rules of this site, with the source of every number").ProducesProblem(404);

        api.MapGet("/benches/{bench}/line-up/readings", Results<Ok<LineUpNowAnswer>, ProblemHttpResult> (string bench) =>
                Find(benches, bench, out TransferDesk? desk) is { } none ? none
                : !benches.TryGet(bench, out HostedBench? hosted) ? Problems.NoBench(bench)
                : TypedResults.Ok(LineUpNowAnswer.Of(bench, hosted.View, desk!)))
            .WithSummary("What each step of the line-up reads now, by which channel or quantity, in the step's unit, and whether the head wheel turns at the tape's standard").ProducesProblem(404);

        api.MapGet("/benches/{bench}/check-list/readings", Results<Ok<ChecksNowAnswer>, ProblemHttpResult> (string bench) =>
                Find(benches, bench, out TransferDesk? desk) is { } none ? none : TypedResults.Ok(ChecksNowAnswer.Of(bench, desk!)))
            .TakesTime()
            .WithSummary("What readings say now of each item of the check list, before anybody signs it").ProducesProblem(404);

        api.MapGet("/benches/{bench}/tapes", Results<Ok<TapeAnswer[]>, ProblemHttpResult> (string bench) =>
                Find(benches, bench, out TransferDesk? desk) is { } none ? none : TypedResults.Ok<TapeAnswer[]>([.. desk!.Book.Tapes.Select(TapeAnswer.Of)]))
            .WithSummary("The tapes of the book, as they were last described").ProducesProblem(404);

        api.MapGet("/benches/{bench}/transfers", Results<Ok<TransfersAnswer>, ProblemHttpResult> (string bench) =>
                Find(benches, bench, out TransferDesk? desk) is { } none ? none : TypedResults.Ok(TransfersAnswer.Of(desk!.Book)))
            .WithSummary("All transfers, the newest first, and the pass that is in hand").ProducesProblem(404);

        api.MapGet("/benches/{bench}/transfers/{transfer:guid}", Results<Ok<TransferAnswer>, ProblemHttpResult> (string bench, Guid transfer) =>
                Find(benches, bench, out TransferDesk? desk) is { } none ? none
                : desk!.Book.Transfer(transfer) is { } found ? TypedResults.Ok(TransferAnswer.Of(desk.Book, found, p => desk.BenchOf(p).Procedures))
                : NoPass())
            .WithSummary("One transfer with all its passes: what was signed and recorded, what is missing, what comes next").ProducesProblem(404);

        api.MapGet("/benches/{bench}/transfers/{transfer:guid}/passes/{pass:guid}/review", Results<Ok<ReviewAnswer>, ProblemHttpResult> (string bench, Guid transfer, Guid pass) =>
                Review(benches, bench, transfer, pass, out PassReview? review, out _, out _) is { } problem ? problem : TypedResults.Ok(ReviewAnswer.Of(review!)))
            .TakesTime()
            .WithSummary("What happened where on the tape, what is to be run again, and the verdict by the site's rules with every reason").ProducesProblem(404);

        api.MapGet("/benches/{bench}/transfers/{transfer:guid}/passes/{pass:guid}/review/export", Results<ContentHttpResult, ProblemHttpResult> (
                string bench, Guid transfer, Guid pass, string? format, string? part) =>
            {
                if (!Parameters.TryChoice(format, "format", Formats, out string? chosen, out ProblemHttpResult? wrong)
                    || !Parameters.TryChoice(part, "part", Parts, out string? what, out wrong))
                {
                    return wrong;
                }

                return Review(benches, bench, transfer, pass, out PassReview? review, out TransferBook? book, out BookPass? found) is { } problem
                    ? problem
                    : Export(ReviewExport.Write(book!, found!, review!, chosen, what == "items"), chosen);
            })
            .TakesTime()
            .WithSummary("Sections to run again, or all that happened, as CSV, a CMX 3600 style edit list or WebVTT").ProducesProblem(400).ProducesProblem(404);
    }

    private static ContentHttpResult Export(string text, string format) =>
        TypedResults.Text(text, format switch { "csv" => "text/csv", "vtt" => "text/vtt", _ => "text/plain" }, System.Text.Encoding.UTF8);

    private static async Task<Results<Ok<EntryAnswer>, ProblemHttpResult>> EnterAsync(
        TransferDesk desk, string bench, EntryRequest request, Caller caller, ILogger logger, ILogger audit)
    {
        if (CommandRequestReader.Signature(caller, request.By, out string by) is { } unsigned)
        {
            return unsigned;
        }

        try
        {
            EntryOutcome outcome = await desk.EnterAsync(request, by, caller.Identity);
            if (outcome.Problem is { } problem)
            {
                return problem.Field is { } field ? Problems.BadParameter(field, problem.What, problem.Remedy) : Problems.NotNow(problem.What, problem.Remedy);
            }

            AccessLog.Acted(audit, bench, by, caller.Identity, outcome.Entry!.Body.Kind);
            return TypedResults.Ok(EntryAnswer.Of(outcome));
        }
        catch (Exception exception) when (exception is IOException or DbException or StoreException)
        {
            NotStored(logger, exception, bench, request.Kind);
            return Problems.NotStored(exception.Message);
        }
        catch (WatchingStoppedException)
        {
            return Problems.Stopped();
        }
    }

    private static ProblemHttpResult? Review(
        HostedBenches benches, string bench, Guid transfer, Guid pass, out PassReview? review, out TransferBook? book, out BookPass? found)
    {
        (review, book, found) = (null, null, null);
        if (Find(benches, bench, out TransferDesk? desk) is { } none)
        {
            return none;
        }

        book = desk!.Book;
        found = book.Transfer(transfer)?.Passes.Find(p => p.Id == pass);
        if (found is null)
        {
            return NoPass();
        }

        review = desk.Review(book, found);
        return null;
    }

    public static ProblemHttpResult? Find(HostedBenches benches, string bench, out TransferDesk? desk)
    {
        desk = null;
        if (!benches.TryGet(bench, out HostedBench? hosted))
        {
            return Problems.NoBench(bench);
        }

        desk = hosted.View.Transfers;
        return desk is null ? Problems.NotFound("This bench keeps no book of transfers.", "Ask a bench that is watched by this version.") : null;
    }

    public static ProblemHttpResult NoPass() => Problems.NotFound("There is no such transfer or pass.", "GET …/transfers lists them.");

    [LoggerMessage(2005, LogLevel.Error, "Bench {Bench}: entry {Kind} was not stored")]
    private static partial void NotStored(ILogger logger, Exception exception, string bench, string? kind);
}
