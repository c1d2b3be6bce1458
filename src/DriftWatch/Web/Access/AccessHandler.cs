using System.Security.Claims;
using System.Text.Encodings.Web;
using Microsoft.AspNetCore.Authentication;
using Microsoft.Extensions.Options;

namespace DriftWatch.Web.Access;

/// <summary>
/// Finds out who asks: by the header <c>Authorization: Bearer</c> with a token, by the cookie of a sign-in on the page, by the word of a trusted proxy,
/// or because it is this machine itself. A wrong token is refused, from this machine too.
/// </summary>
internal sealed class AccessHandler(
    IOptionsMonitor<AuthenticationSchemeOptions> options, ILoggerFactory loggers, UrlEncoder encoder, AccessDesk desk, RefusalLimit refusals)
    : AuthenticationHandler<AuthenticationSchemeOptions>(options, loggers, encoder)
{
    public const string Name = "DriftWatch";

    private const string Bearer = "Bearer ";
    private const int LongestName = 80;

    private readonly ILogger _log = loggers.CreateLogger(AccessLog.Category);
    private TimeSpan? _waitFor;
    private bool _tokenWasWrong;

    protected override async Task<AuthenticateResult> HandleAuthenticateAsync()
    {
        if (await FindAsync() is not { } caller)
        {
            return AuthenticateResult.NoResult();
        }

        Context.Features.Set(caller);
        var identity = new ClaimsIdentity([new Claim(ClaimTypes.Role, caller.Role.Word())], Name);
        return AuthenticateResult.Success(new AuthenticationTicket(new ClaimsPrincipal(identity), Name));
    }

    protected override Task HandleChallengeAsync(AuthenticationProperties properties)
    {
        if (_waitFor is { } wait)
        {
            Rates.SayWait(Response, wait);
            return Problems.TooOften(wait).ExecuteAsync(Context);
        }

        if (refusals.MaySay(Context.Connection.RemoteIpAddress))
        {
            AccessLog.StrangerRefused(_log, Request.Method, Rates.RouteOf(Context), Door.Plain(Context.Connection.RemoteIpAddress));
        }

        Response.Headers.WWWAuthenticate = "Bearer realm=\"DriftWatch\"";
        return (_tokenWasWrong ? Problems.WrongToken() : Problems.NotSignedIn()).ExecuteAsync(Context);
    }

    protected override Task HandleForbiddenAsync(AuthenticationProperties properties)
    {
        Caller caller = Caller.Of(Context);
        AccessLog.RoleRefused(_log, caller.Name ?? "", caller.Role.Word(), Request.Method, Rates.RouteOf(Context));
        return Problems.OnlyReader(caller.Name ?? "").ExecuteAsync(Context);
    }

    private async Task<Caller?> FindAsync()
    {
        string authorization = Request.Headers.Authorization.ToString();
        if (authorization.StartsWith(Bearer, StringComparison.OrdinalIgnoreCase)) // other schemes are a proxy's own
        {
            return await ByTokenAsync(authorization[Bearer.Length..].Trim());
        }

        Door door = Context.Features.Get<Door>() ?? Door.Of(Context, desk.Proxy);
        if (SessionCookie.Read(Request) is { } secret && desk.Sessions.Use(secret) is { } session)
        {
            return session.Person.Calling(session);
        }

        return door.IsNear ? Caller.Near : door.IsProxy ? ByProxy(desk.Proxy!) : null;
    }

    private async Task<Caller?> ByTokenAsync(string token)
    {
        TokenAnswer answer = await desk.ProveAsync(token, Context.Connection.RemoteIpAddress, Context.RequestAborted);
        (_waitFor, _tokenWasWrong) = (answer.WaitFor, answer.Person is null);
        return answer.Person?.Calling(session: null);
    }

    /// <summary>The proxy names nobody who did not sign in with it; a role that it says and we don't know is none.</summary>
    private Caller? ByProxy(ProxySettings proxy)
    {
        if (proxy.NameHeader is not { } nameHeader || Request.Headers[nameHeader].ToString().Trim() is not { Length: > 0 } name)
        {
            return null;
        }

        if (name.Length > LongestName || name.Any(char.IsControl))
        {
            AccessLog.ProxyUnclear(_log, Context.Features.Get<Door>()?.Address, nameHeader);
            return null;
        }

        if (proxy.RoleHeader is not { } roleHeader)
        {
            return new Caller(name, proxy.Role, Caller.ByProxy);
        }

        string said = Request.Headers[roleHeader].ToString().Trim();
        if (said.Length == 0)
        {
            return new Caller(name, proxy.Role, Caller.ByProxy);
        }

        if (Measurement.Channels.Slugs.TryParse(said, out AccessRole role))
        {
            return new Caller(name, role, Caller.ByProxy);
        }

        AccessLog.ProxyUnclear(_log, Context.Features.Get<Door>()?.Address, roleHeader);
        return null;
    }
}
