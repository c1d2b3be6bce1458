using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.HttpOverrides;
using Microsoft.Extensions.DependencyInjection.Extensions;

namespace DriftWatch.Web.Access;

/// <summary>Puts access before the page and the API. What says nothing else needs a reader; what acts says <see cref="ForOperators"/>.</summary>
internal static class AccessServices
{
    private const string OperatorPolicy = "operator";

    public static void AddAccess(this IServiceCollection services)
    {
        services.TryAddSingleton(provider => new AccessDesk(
            provider.GetRequiredService<WebSettings>().AccessFile,
            provider.GetRequiredService<TimeProvider>(),
            provider.GetRequiredService<ILoggerFactory>().CreateLogger(AccessLog.Category)));
        services.AddSingleton<RefusalLimit>();

        // The core alone: the rest would keep keys for cookies that it makes itself, in files of the user's home.
        services.AddAuthenticationCore(options =>
        {
            options.AddScheme<AccessHandler>(AccessHandler.Name, displayName: null);
            options.DefaultScheme = AccessHandler.Name;
        });
        services.AddWebEncoders();
        services.AddTransient<AccessHandler>();
        services.AddAuthorizationBuilder()
            .SetFallbackPolicy(new AuthorizationPolicyBuilder().RequireAuthenticatedUser().Build())
            .AddPolicy(OperatorPolicy, policy => policy.RequireRole(AccessRole.Operator.Word()));
        services.AddRateLimiter(Rates.Configure);
    }

    /// <summary>Must come first: what stands behind it sees host, scheme and address as the client's, where a trusted proxy tells them.</summary>
    public static void UseDoor(this WebApplication app)
    {
        ProxySettings? proxy = app.Services.GetRequiredService<AccessDesk>().Proxy;
        app.Use((context, next) =>
        {
            context.Features.Set(Door.Of(context, proxy));
            return next(context);
        });
        if (proxy is null)
        {
            return;
        }

        var options = new ForwardedHeadersOptions
        {
            ForwardedHeaders = ForwardedHeaders.XForwardedFor | ForwardedHeaders.XForwardedProto | ForwardedHeaders.XForwardedHost,
            ForwardLimit = null, // as many as are trusted, one after the other, and no further
        };
        options.KnownProxies.Clear();
        options.KnownIPNetworks.Clear();
        foreach (System.Net.IPNetwork network in proxy.Trusted)
        {
            options.KnownIPNetworks.Add(network);
        }

        app.UseForwardedHeaders(options);
    }

    public static void UseAccess(this WebApplication app)
    {
        app.UseAuthentication();
        app.UseAuthorization();
        app.UseRateLimiter();
    }

    /// <summary>What only operators may do, as often as a person can.</summary>
    public static RouteHandlerBuilder ForOperators(this RouteHandlerBuilder builder) =>
        builder.RequireAuthorization(OperatorPolicy).RequireRateLimiting(Rates.Acts);

    /// <summary>
    /// What readers may send as well, because it works something out of what it is sent and neither keeps nor moves anything. Whoever
    /// adds something that is sent says this or <see cref="ForOperators"/>; a test asks.
    /// </summary>
    public static RouteHandlerBuilder OnlyReckons(this RouteHandlerBuilder builder) =>
        builder.WithMetadata(ReckonsOnly.Mark).RequireRateLimiting(Rates.Reckonings);

    /// <summary>What takes the store's time.</summary>
    public static RouteHandlerBuilder TakesTime(this RouteHandlerBuilder builder) => builder.RequireRateLimiting(Rates.Reads);
}

/// <summary>Metadata of an endpoint that is sent something and changes nothing.</summary>
internal sealed class ReckonsOnly
{
    public static ReckonsOnly Mark { get; } = new();
}
