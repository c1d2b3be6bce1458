using System.Globalization;
using System.Net;
using System.Threading.RateLimiting;
using Microsoft.AspNetCore.RateLimiting;

namespace DriftWatch.Web.Access;

/// <summary>
/// How often is too often. What comes from this machine is bounded as well, generously, so that a program that went wild does
/// not starve the sampling. All figures: common practice, no source.
/// </summary>
internal static class Rates
{
    public const string Acts = "acts";
    public const string Reads = "reads";
    public const string Reckonings = "reckonings";
    public const string Streams = "streams";

    /// <summary>What a client waits for that is one too many at the same time, which no limiter can tell.</summary>
    private static readonly TimeSpan WhenAtOnce = TimeSpan.FromSeconds(10);

    public static void Configure(RateLimiterOptions options)
    {
        options.RejectionStatusCode = StatusCodes.Status429TooManyRequests;
        options.OnRejected = (context, _) => RejectAsync(context);

        // A person who acts once a second is no person.
        options.AddPolicy(Acts, context => Bucket(context, burst: 30, aSecond: 1, nearBurst: 600, nearASecond: 50));

        // A page asks for the history of each channel as it opens, and of all of them while it is panned.
        options.AddPolicy(Reads, context => Bucket(context, burst: 400, aSecond: 20, nearBurst: 4000, nearASecond: 400));

        // A sweep by hand sends its points again after each one.
        options.AddPolicy(Reckonings, context => Bucket(context, burst: 60, aSecond: 5, nearBurst: 600, nearASecond: 50));
        options.AddPolicy(Streams, context => RateLimitPartition.GetConcurrencyLimiter(
            ClientOf(context), _ => new ConcurrencyLimiterOptions { PermitLimit = IsNear(context) ? 100 : 12, QueueLimit = 0 }));
    }

    /// <summary>Attempts to sign in from one address: ten, and then one in six seconds.</summary>
    public static PartitionedRateLimiter<IPAddress?> Attempts() => PartitionedRateLimiter.Create<IPAddress?, string>(
        from => RateLimitPartition.GetTokenBucketLimiter(NetworkOf(from), _ => BucketOf(10, 1, TimeSpan.FromSeconds(6))));

    public static void SayWait(HttpResponse response, TimeSpan wait) =>
        response.Headers.RetryAfter = ((int)Math.Ceiling(Math.Max(1, wait.TotalSeconds))).ToString(CultureInfo.InvariantCulture);

    /// <summary>The route as it was written, which no stranger has a hand in.</summary>
    public static string RouteOf(HttpContext context) =>
        (context.GetEndpoint() as RouteEndpoint)?.RoutePattern.RawText ?? "what is not there";

    private static RateLimitPartition<string> Bucket(HttpContext context, int burst, int aSecond, int nearBurst, int nearASecond)
    {
        bool isNear = IsNear(context);
        return RateLimitPartition.GetTokenBucketLimiter(
            ClientOf(context), _ => BucketOf(isNear ? nearBurst : burst, isNear ? nearASecond : aSecond, TimeSpan.FromSeconds(1)));
    }

    private static TokenBucketRateLimiterOptions BucketOf(int burst, int more, TimeSpan every) => new()
    {
        TokenLimit = burst,
        TokensPerPeriod = more,
        ReplenishmentPeriod = every,
        QueueLimit = 0,
    };

    private static bool IsNear(HttpContext context) => Caller.Find(context) is { Name: null };

    /// <summary>A person by name, this machine as one, a stranger by address.</summary>
    private static string ClientOf(HttpContext context) => Caller.Find(context) switch
    {
        { Name: { } name } => "person " + name,
        { Name: null } => "this machine",
        null => "address " + NetworkOf(context.Connection.RemoteIpAddress),
    };

    /// <summary>An IPv6 client has 2^64 addresses: its network counts as one.</summary>
    private static string NetworkOf(IPAddress? address)
    {
        byte[] bytes = Door.Plain(address)?.GetAddressBytes() ?? [];
        return Convert.ToHexString(bytes.AsSpan(0, Math.Min(bytes.Length, 8)));
    }

    private static async ValueTask RejectAsync(OnRejectedContext context)
    {
        HttpContext http = context.HttpContext;
        TimeSpan wait = context.Lease.TryGetMetadata(MetadataName.RetryAfter, out TimeSpan said) ? said : WhenAtOnce;
        ILogger logger = http.RequestServices.GetRequiredService<ILoggerFactory>().CreateLogger(AccessLog.Category);
        if (http.RequestServices.GetRequiredService<RefusalLimit>().MaySay(http.Connection.RemoteIpAddress))
        {
            AccessLog.TooOften(logger, ClientOf(http), http.Request.Method, RouteOf(http));
        }

        SayWait(http.Response, wait);
        await Problems.TooOften(wait).ExecuteAsync(http);
    }
}
