using System.Net;
using System.Text.Json;
using DriftWatch.Web.Api;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Access;

/// <summary>Signs in and out on the page, and says who is there.</summary>
internal static class SessionEndpoints
{
    public static void Map(IEndpointRouteBuilder api, AccessDesk desk, ILogger logger)
    {
        api.MapGet("/session", Ok<SessionAnswer> (HttpContext context) => TypedResults.Ok(Of(Caller.Of(context), desk)))
            .WithSummary("Who asks, and what he may do");

        api.MapPost("/session", async Task<Results<Ok<SessionAnswer>, ProblemHttpResult>> (HttpRequest request, CancellationToken cancel) =>
            {
                if (!desk.HasTokens)
                {
                    return Problems.NoTokens();
                }

                string? token;
                try
                {
                    token = (await request.ReadFromJsonAsync<SignInRequest>(ApiJson.Options, cancel))?.Token?.Trim();
                }
                catch (JsonException)
                {
                    token = null;
                }

                if (string.IsNullOrEmpty(token))
                {
                    return Problems.BadParameter("token", "There is no token.", "Send {\"token\":\"dw-…\"}, as 'driftwatch access add' printed it.");
                }

                HttpContext context = request.HttpContext;
                IPAddress? from = context.Connection.RemoteIpAddress;
                TokenAnswer answer = await desk.ProveAsync(token, from, cancel);
                if (answer.WaitFor is { } wait)
                {
                    Rates.SayWait(context.Response, wait);
                    return Problems.TooOften(wait);
                }

                if (answer.Person is not { } person)
                {
                    return Problems.WrongToken();
                }

                if (SessionCookie.Read(request) is { } before)
                {
                    desk.Sessions.End(before);
                }

                string secret = desk.Sessions.Begin(person);
                SessionCookie.Give(context, secret);
                AccessLog.SignedIn(logger, person.Entry.Name, person.Entry.Role.Word(), Door.Plain(from));
                return TypedResults.Ok(Of(person.Calling(desk.Sessions.Use(secret)), desk));
            })
            .AllowAnonymous()
            .Accepts<SignInRequest>("application/json")
            .WithSummary("Signs in with a token and gives a cookie; for browsers. Programs send the token with each request instead")
            .ProducesProblem(400)
            .ProducesProblem(401)
            .ProducesProblem(403)
            .ProducesProblem(404)
            .ProducesProblem(415)
            .ProducesProblem(429);

        api.MapDelete("/session", NoContent (HttpContext context) =>
            {
                if (SessionCookie.Read(context.Request) is { } secret && desk.Sessions.End(secret) is { } person)
                {
                    AccessLog.SignedOut(logger, person.Entry.Name);
                }

                SessionCookie.Take(context);
                return TypedResults.NoContent();
            })
            .AllowAnonymous()
            .WithSummary("Signs out; the cookie is worth nothing from then on")
            .ProducesProblem(403)
            .ProducesProblem(415);
    }

    private static SessionAnswer Of(Caller caller, AccessDesk desk)
    {
        TimeSpan? left = caller.Session is { } session ? desk.SessionSettings.Longest - session.Age : null;
        return new SessionAnswer(
            caller.Name, caller.Role.Word(), caller.Identity, caller.Role == AccessRole.Operator, left?.TotalSeconds,
            left is null ? null : desk.SessionSettings.Idle.TotalSeconds);
    }
}

/// <summary>The token, as it was printed once.</summary>
internal sealed record SignInRequest
{
    public string? Token { get; init; }
}

/// <summary>
/// Who asks. <c>Name</c> is null on loopback, where each act declares one; <c>Identity</c> is declared, token or proxy. The seconds left of
/// a sign-in on the page, and how long it holds unused; null for others.
/// </summary>
internal sealed record SessionAnswer(string? Name, string Role, string Identity, bool MayAct, double? SecondsLeft, double? IdleSeconds);
