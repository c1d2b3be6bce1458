using Microsoft.AspNetCore.Http.HttpResults;
using Microsoft.AspNetCore.Mvc;

namespace DriftWatch.Web;

/// <summary>
/// Errors as RFC 9457 problem details. Each says what is wrong, and in <c>remedy</c> what to do about it; one about a
/// parameter or field names it in <c>parameter</c>.
/// </summary>
internal static class Problems
{
    public static ProblemHttpResult BadParameter(string parameter, string detail, string remedy) =>
        Make(400, "bad-parameter", $"Parameter '{parameter}' can't be used", detail, remedy, parameter);

    /// <summary>A table that can't be read: the place in it, what is wrong there and what to write.</summary>
    public static ProblemHttpResult BadTable(string parameter, Acquisition.Recordings.RecordingException mistake) =>
        Make(422, "bad-table", "The table can't be read",
            $"Line {mistake.Line}{(mistake.Column > 0 ? $", column {mistake.Column}" : "")}: {mistake.What}.",
            $"{char.ToUpperInvariant(mistake.Remedy[0])}{mistake.Remedy[1..]}.", parameter, ("line", mistake.Line));

    public static ProblemHttpResult TooLarge(long? limit) =>
        Make(413, "too-large", "Too much at once", "The body is longer than this request takes.", $"Send less than {(limit ?? 65536) / 1024} KiB.");

    public static ProblemHttpResult NotFound(string detail, string remedy) =>
        Make(404, "not-found", "Not found", detail, remedy);

    /// <summary>Another server, which this one asks for the answer, does not give it.</summary>
    public static ProblemHttpResult FarEnd(string detail, string remedy) =>
        Make(502, "far-end", "Another server does not answer", detail, remedy);

    public static ProblemHttpResult NoBench(string id) =>
        NotFound($"This service watches no bench '{id}'.", "GET /api/v1/benches lists the ids.");

    public static ProblemHttpResult NoChannel(string bench, string id) =>
        NotFound($"Bench '{bench}' has no channel '{id}'.", $"GET /api/v1/benches/{bench}/channels lists the ids.");

    public static ProblemHttpResult HostNotServed(string host) =>
        Make(421, "host-not-served", "Host not served", $"The Host header says '{host}', which is not a name of this service.",
            "Use localhost, 127.0.0.1 or [::1], or start the service with --allow-host and this name.");

    public static ProblemHttpResult ForeignOrigin(string origin) =>
        Make(403, "foreign-origin", "Acts come from this page only", $"The request was sent by a page at '{origin}'.",
            "Act on DriftWatch's own page, or from a program that sends no Origin header.");

    public static ProblemHttpResult NotJson() =>
        Make(415, "not-json", "Acts are sent as JSON", "The Content-Type is not application/json.",
            "Send the body as JSON with Content-Type: application/json.");

    public static ProblemHttpResult NotSignedIn() =>
        Make(401, "not-signed-in", "Not signed in", "From another machine than the one that runs DriftWatch, whoever reads or acts signs in.",
            "Sign in at /signin.html, or send 'Authorization: Bearer' with a token that 'driftwatch access add' made.");

    public static ProblemHttpResult WrongToken() =>
        Make(401, "wrong-token", "The token was refused", "It is not in the access file, it was taken away, or its last day is over.",
            "Paste the whole token as it was printed, from dw- on, or ask for a new one: 'driftwatch access add' makes it.");

    public static ProblemHttpResult NoTokens() =>
        NotFound("This service has no tokens to sign in with.", "Start it with --access and a file that 'driftwatch access add' made; on the machine itself none is needed.");

    public static ProblemHttpResult OnlyReader(string name) =>
        Make(403, "only-reader", "Readers see and do not act", $"{name} is signed in as a reader; this needs an operator.",
            "Ask who runs the service for the role of an operator, or let an operator act.");

    public static ProblemHttpResult OtherName(string name) =>
        Make(403, "other-name", "Acts are signed by who is signed in", $"You are signed in as {name}, and 'by' says another name.",
            "Leave 'by' out, or sign in as the person who acts.", "by");

    public static ProblemHttpResult TooOften(TimeSpan wait) =>
        Make(429, "too-often", "Too often", "There were more requests of this kind than a person makes.",
            $"Wait {Math.Ceiling(Math.Max(1, wait.TotalSeconds)):0} s, as Retry-After says, then try again.");

    public static ProblemHttpResult NotStored(string reason) =>
        Make(503, "not-stored", "The act is not stored yet", $"The store refused it: {reason}",
            "Look at store health on the page and put the store right. Do not act again: the act is recorded with the readings as soon as the store takes them, and is lost with them if the service ends before.");

    public static ProblemHttpResult Stopped() =>
        Make(503, "not-watching", "The act was not taken", "Watching this bench has stopped.",
            "Start the service again, then act again.");

    public static ProblemHttpResult BenchRefused(IReadOnlyList<string> mistakes) =>
        Make(422, "bench-file-refused", "The bench file was refused",
            $"It has {mistakes.Count} mistake{(mistakes.Count == 1 ? "" : "s")}; the one in force stays in force.",
            "Correct what is listed in 'mistakes', then reload again.", extra: ("mistakes", mistakes));

    /// <summary>The book of transfers refuses it as things stand.</summary>
    public static ProblemHttpResult NotNow(string what, string remedy) => Make(409, "not-now", "This can't be entered now", what, remedy);

    /// <summary>What was asked for will be there, and is not yet.</summary>
    public static ProblemHttpResult NotYet(string what, string remedy) => Make(409, "not-yet", "This can't be made yet", what, remedy);

    /// <summary>It can be worked out, and not as it was asked for.</summary>
    public static ProblemHttpResult NotWorkedOut(string why, string remedy) => Make(409, "not-worked-out", "This is not worked out", why, remedy);

    public static ProblemHttpResult Busy(string id, double progress) =>
        Make(409, "busy", "Something is being judged again already",
            $"Job '{id}' is {progress:P0} done; one runs at a time.",
            "Wait until it is done, or cancel it with DELETE.", extra: ("job", id));

    public static ProblemHttpResult NotTried(IReadOnlyList<string> mistakes) =>
        Make(422, "bench-file-refused", "The bench file was refused",
            $"It has {mistakes.Count} mistake{(mistakes.Count == 1 ? "" : "s")}; nothing was judged.",
            "Correct what is listed in 'mistakes', then try again.", extra: ("mistakes", mistakes));

    /// <summary>Gives the problems that the framework itself answers (no such path, wrong method, a fault of ours) our type and a remedy.</summary>
    public static void Complete(ProblemDetails problem)
    {
        if (problem.Extensions.ContainsKey("remedy"))
        {
            return;
        }

        (string type, string remedy) = problem.Status switch
        {
            404 => ("not-found", "Look up the paths in /api/v1/openapi.json."),
            405 => ("wrong-method", "Look up the method in /api/v1/openapi.json."),
            413 => ("too-large", "Send less than 64 KiB."),
            >= 500 => ("internal", "Try again; if it happens again, report it with the log of this minute."),
            _ => ("refused", "Look up the request in /api/v1/openapi.json."),
        };
        problem.Type = "urn:driftwatch:problem:" + type;
        problem.Extensions["remedy"] = remedy;
    }

    private static ProblemHttpResult Make(
        int status, string type, string title, string detail, string remedy, string? parameter = null, (string Name, object Value)? extra = null)
    {
        var problem = new ProblemDetails
        {
            Status = status,
            Type = "urn:driftwatch:problem:" + type,
            Title = title,
            Detail = detail,
        };
        problem.Extensions["remedy"] = remedy;
        if (parameter is not null)
        {
            problem.Extensions["parameter"] = parameter;
        }

        if (extra is { } more)
        {
            problem.Extensions[more.Name] = more.Value;
        }

        return TypedResults.Problem(problem);
    }
}
