using DriftWatch.Notices.Routes;
using DriftWatch.Storage.Mirror;

namespace DriftWatch.Mirror;

/// <summary>Opens connections to a server, trusting what the system trusts or the issuers of the bench file's.</summary>
internal static class MirrorConnection
{
    /// <summary>Source: common practice, no source.</summary>
    private static readonly TimeSpan ConnectLimit = TimeSpan.FromSeconds(10);

    /// <exception cref="SecretException">The URL can't be had.</exception>
    public static LineServer Open(MirrorSettings settings, TimeProvider time, Func<MirrorSettings, HttpMessageHandler>? handler) => new(
        new LineServerOptions
        {
            Url = settings.Url?.Read() ?? throw new SecretException("what the bench file writes as url is no URL of a web server", "write one, such as https://series.example.org:8428"),
            Way = settings.Way,
            Bucket = settings.Bucket,
            Organisation = settings.Organisation,
            User = settings.User,
            Key = settings.Key is { } place ? () => Secrets.Read(place) : null,
        },
        handler?.Invoke(settings) ?? Handler(settings, time));

    private static SocketsHttpHandler Handler(MirrorSettings settings, TimeProvider time)
    {
        var judge = new CertificateJudge(settings.TrustFile, time);
        return new SocketsHttpHandler
        {
            AllowAutoRedirect = false, // a redirection would carry the key to a place that nobody wrote down
            ConnectTimeout = ConnectLimit,
            PooledConnectionLifetime = TimeSpan.FromMinutes(15), // a renamed or moved server is found
            SslOptions = new() { RemoteCertificateValidationCallback = judge.Accept },
        };
    }
}
