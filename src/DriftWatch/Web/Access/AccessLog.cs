using System.Net;

namespace DriftWatch.Web.Access;

/// <summary>
/// The audit: who signed in, who was refused, who acted. Never a token, a cookie or a query; paths are those of the routes, so that
/// no stranger writes into the log.
/// </summary>
internal static partial class AccessLog
{
    public const string Category = "DriftWatch.Access";

    [LoggerMessage(2100, LogLevel.Information, "Access by {File}: {People} people with tokens, proxy: {Proxy}")]
    public static partial void InForce(ILogger logger, string file, int people, string proxy);

    [LoggerMessage(2101, LogLevel.Warning, "The page is open to the network on {Address} without TLS: tokens and readings go in the clear, and whoever is on the way can read and use them. Give --certificate and --key, or put a proxy with TLS before it")]
    public static partial void InTheClear(ILogger logger, string address);

    [LoggerMessage(2102, LogLevel.Information, "{Name} ({Role}) signed in from {Address}")]
    public static partial void SignedIn(ILogger logger, string name, string role, IPAddress? address);

    [LoggerMessage(2103, LogLevel.Information, "{Name} signed out")]
    public static partial void SignedOut(ILogger logger, string name);

    [LoggerMessage(2104, LogLevel.Information, "The sign-in of {Name} ended: {Why}")]
    public static partial void Ended(ILogger logger, string name, string why);

    [LoggerMessage(2105, LogLevel.Warning, "A token from {Address} was refused: {Why}")]
    public static partial void TokenRefused(ILogger logger, IPAddress? address, string why);

    [LoggerMessage(2106, LogLevel.Warning, "Not signed in: {Method} {Route} from {Address} was refused")]
    public static partial void StrangerRefused(ILogger logger, string method, string route, IPAddress? address);

    [LoggerMessage(2107, LogLevel.Warning, "{Name} ({Role}) may not {Method} {Route}; refused")]
    public static partial void RoleRefused(ILogger logger, string name, string role, string method, string route);

    [LoggerMessage(2108, LogLevel.Warning, "{Client} asks too often: {Method} {Route} was put off")]
    public static partial void TooOften(ILogger logger, string client, string method, string route);

    [LoggerMessage(2109, LogLevel.Information, "Bench {Bench}: {Name} ({Identity}) did {Act}")]
    public static partial void Acted(ILogger logger, string bench, string name, string identity, string act);

    [LoggerMessage(2110, LogLevel.Information, "{File} was read again: {People} people with tokens")]
    public static partial void ReadAgain(ILogger logger, string file, int people);

    [LoggerMessage(2111, LogLevel.Warning, "{File} changed and can't be used, so that what it said before stays in force: {Mistakes}")]
    public static partial void NotReadAgain(ILogger logger, string file, string mistakes);

    [LoggerMessage(2112, LogLevel.Error, "{File} is gone: nobody can sign in with a token until it is back")]
    public static partial void Gone(ILogger logger, string file);

    [LoggerMessage(2114, LogLevel.Information, "The token of {Name} ({Role}) was shown from {Address} and is good")]
    public static partial void TokenGood(ILogger logger, string name, string role, IPAddress? address);

    [LoggerMessage(2115, LogLevel.Warning, "{Over}")]
    public static partial void TokenOver(ILogger logger, Configuration.FileMistake over);

    [LoggerMessage(2113, LogLevel.Warning, "The proxy at {Address} names somebody, but its header {Header} can't be used; refused")]
    public static partial void ProxyUnclear(ILogger logger, IPAddress? address, string header);
}
