using System.Data.Common;
using System.Text.Json;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Running;
using DriftWatch.Web.Access;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api;

/// <summary>
/// What a person does. Each act enters the bench's log as one more input and is answered once it is journaled, with
/// its number. On loopback a person declares a name and the record says so; from elsewhere it is the name of who signed in,
/// and the record says how.
/// </summary>
internal static partial class CommandEndpoints
{
    private static readonly string[] Names = ["acknowledge", "shelve", "baseline", "mark", "pass-begins", "pass-ends", "unshelve", "out-of-service", "in-service", "reload"];

    public static void Map(IEndpointRouteBuilder api, HostedBenches benches, ILogger logger, ILogger audit)
    {
        api.MapPost("/benches/{bench}/commands/{command}", async Task<Results<Ok<CommandAnswer>, ProblemHttpResult>> (
                string bench, string command, HttpRequest request, CancellationToken cancel) =>
            {
                if (!benches.TryGet(bench, out HostedBench? hosted))
                {
                    return Problems.NoBench(bench);
                }

                if (!Names.Contains(command, StringComparer.Ordinal))
                {
                    return Problems.NotFound($"There is no command '{command}'.", $"Use one of {string.Join(", ", Names)}.");
                }

                CommandRequest? body;
                try
                {
                    body = await request.ReadFromJsonAsync<CommandRequest>(ApiJson.Options, cancel);
                }
                catch (JsonException exception)
                {
                    string field = exception.Path?.TrimStart('$', '.') is { Length: > 0 } path ? path : "body";
                    return Problems.BadParameter(field, "The body is no JSON object of these fields, or this field is unknown or of another type.", "Send a JSON object such as {\"by\":\"your name\"}; openapi.json lists the fields.");
                }

                return await EnterAsync(hosted.View, command, body ?? new CommandRequest(), Caller.Of(request.HttpContext), logger, audit, cancel);
            })
            .ForOperators()
            .Accepts<CommandRequest>("application/json")
            .WithSummary("Acknowledge, shelve, unshelve, out-of-service, in-service, baseline, mark, pass-begins, pass-ends or reload")
            .ProducesProblem(400)
            .ProducesProblem(403)
            .ProducesProblem(404)
            .ProducesProblem(415)
            .ProducesProblem(422)
            .ProducesProblem(503);
    }

    private static async Task<Results<Ok<CommandAnswer>, ProblemHttpResult>> EnterAsync(
        IBenchView view, string name, CommandRequest request, Caller caller, ILogger logger, ILogger audit, CancellationToken cancel)
    {
        if (CommandRequestReader.Read(view, name, request, caller, out string by, out Command? command) is { } problem)
        {
            return problem;
        }

        try
        {
            if (command is null)
            {
                IReadOnlyList<string> mistakes = await view.ReloadAsync(cancel);
                ReloadAsked(logger, view.Bench.Id, by, caller.Identity, mistakes.Count);
                return mistakes.Count > 0 ? Problems.BenchRefused(mistakes) : TypedResults.Ok(new CommandAnswer(name, null, null, caller.Identity));
            }

            long number = await view.EnterAsync(command, cancel);
            AccessLog.Acted(audit, view.Bench.Id, by, caller.Identity, name);
            return TypedResults.Ok(new CommandAnswer(name, command.Id, number, command.Identity));
        }
        catch (Exception exception) when (exception is IOException or DbException)
        {
            NotStored(logger, exception, view.Bench.Id, name);
            return Problems.NotStored(exception.Message);
        }
        catch (WatchingStoppedException exception)
        {
            NotStored(logger, exception, view.Bench.Id, name);
            return Problems.Stopped();
        }
    }

    [LoggerMessage(2001, LogLevel.Information, "Bench {Bench}: reload asked by {By} ({Identity}); {Mistakes} mistakes")]
    private static partial void ReloadAsked(ILogger logger, string bench, string by, string identity, int mistakes);

    [LoggerMessage(2002, LogLevel.Error, "Bench {Bench}: command {Command} was not stored")]
    private static partial void NotStored(ILogger logger, Exception exception, string bench, string command);
}

/// <summary>
/// The body of every command. <c>By</c> (1–80 characters) is always needed on loopback, and may else be left out: who is signed in signs; <c>Alarm</c> (an alarm's id or its tag) or
/// <c>Finding</c> (a finding's id) by acknowledge, shelve and unshelve, <c>ForMinutes</c> (1–1440) and a <c>Note</c> that says why by shelve,
/// <c>Subject</c> (an alarm's tag, or a channel's id) by out-of-service, with a <c>Note</c> that says why, and by in-service,
/// <c>Transfer</c> by pass-begins and pass-ends, <c>Note</c> by mark.
/// </summary>
internal sealed record CommandRequest
{
    public string? By { get; init; }

    public string? Note { get; init; }

    public string? Finding { get; init; }

    public string? Alarm { get; init; }

    public string? Subject { get; init; }

    /// <summary>Of shelve: it comes off its shelf when it is over, if that is before the time is.</summary>
    public bool? UntilOver { get; init; }

    public double? ForMinutes { get; init; }

    public string? Transfer { get; init; }
}

/// <summary>What was entered: the act's id and the number of its input; both null for a reload, which the bench numbers itself.</summary>
internal sealed record CommandAnswer(string Command, Guid? Id, long? Input, string Identity);
