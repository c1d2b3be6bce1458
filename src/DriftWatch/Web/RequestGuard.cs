using System.Net;
using Microsoft.AspNetCore.Http.Extensions;

namespace DriftWatch.Web;

/// <summary>
/// Stands before everything. A request must name a host that is ours, else a foreign page could reach a loopback
/// service under its own name (DNS rebinding); an act must be JSON sent by our own page or by a program that is no
/// browser. Every answer carries the security headers, and none allows another origin.
/// </summary>
public sealed class RequestGuard(RequestDelegate next, WebSettings settings)
{
    private const string ContentSecurityPolicy =
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
        + "base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

    public Task InvokeAsync(HttpContext context)
    {
        ArgumentNullException.ThrowIfNull(context);
        AddHeaders(context.Response.Headers);
        HttpRequest request = context.Request;
        if (!IsOurs(request.Host.Host))
        {
            return Problems.HostNotServed(request.Host.Value ?? "").ExecuteAsync(context);
        }

        if (HttpMethods.IsGet(request.Method) || HttpMethods.IsHead(request.Method) || HttpMethods.IsOptions(request.Method))
        {
            return next(context);
        }

        if (!IsFromHere(request))
        {
            return Problems.ForeignOrigin(request.Headers.Origin.ToString()).ExecuteAsync(context);
        }

        return request.HasJsonContentType() ? next(context) : Problems.NotJson().ExecuteAsync(context);
    }

    private static void AddHeaders(IHeaderDictionary headers)
    {
        headers.ContentSecurityPolicy = ContentSecurityPolicy;
        headers.XContentTypeOptions = "nosniff";
        headers.XFrameOptions = "DENY";
        headers["Referrer-Policy"] = "no-referrer";
        headers["Cross-Origin-Opener-Policy"] = "same-origin";
        headers["Cross-Origin-Resource-Policy"] = "same-origin";
        headers["Permissions-Policy"] = "camera=(), geolocation=(), microphone=()";
    }

    /// <summary>Browsers send Origin or Sec-Fetch-Site with every act; a program that sends neither is no browser.</summary>
    private static bool IsFromHere(HttpRequest request)
    {
        string origin = request.Headers.Origin.ToString();
        if (origin.Length > 0)
        {
            return string.Equals(origin, UriHelper.BuildAbsolute(request.Scheme, request.Host).TrimEnd('/'), StringComparison.OrdinalIgnoreCase);
        }

        return request.Headers["Sec-Fetch-Site"].ToString() is "" or "same-origin" or "none";
    }

    private bool IsOurs(string host)
    {
        if (string.Equals(host, "localhost", StringComparison.OrdinalIgnoreCase))
        {
            return true;
        }

        return (IPAddress.TryParse(host.Trim('[', ']'), out IPAddress? address) && IPAddress.IsLoopback(address))
            || settings.AllowedHosts.Contains(host, StringComparer.OrdinalIgnoreCase);
    }
}
