using Microsoft.Net.Http.Headers;

namespace DriftWatch.Web.Access;

/// <summary>The cookie of a sign-in. Cookies know no ports, so that its name has the port: two services on one machine don't sign each other out.</summary>
internal static class SessionCookie
{
    public static string? Read(HttpRequest request) =>
        request.Cookies.TryGetValue(NameOf(request), out string? secret) && secret.Length > 0 ? secret : null;

    public static void Give(HttpContext context, string secret) => Set(context, secret, maxAge: null);

    public static void Take(HttpContext context) => Set(context, "", maxAge: TimeSpan.Zero);

    /// <summary><c>__Host-</c> binds it to this very host over TLS: no neighbour under the same domain can plant one.</summary>
    private static string NameOf(HttpRequest request)
    {
        int port = request.Host.Port ?? (request.IsHttps ? 443 : 80);
        return FormattableString.Invariant($"{(request.IsHttps ? "__Host-" : "")}driftwatch-{port}");
    }

    private static void Set(HttpContext context, string value, TimeSpan? maxAge) => context.Response.Headers.Append(
        HeaderNames.SetCookie,
        new SetCookieHeaderValue(NameOf(context.Request), value)
        {
            Path = "/",
            HttpOnly = true,
            Secure = context.Request.IsHttps,
            SameSite = Microsoft.Net.Http.Headers.SameSiteMode.Strict,
            MaxAge = maxAge,
        }.ToString());
}
