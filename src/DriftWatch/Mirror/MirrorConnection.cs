using DriftWatch.Notices.Routes;

namespace DriftWatch.Mirror;

/// <summary>Opens connections to a server, trusting what the system trusts or the issuers of the bench file's.</summary>
internal static class MirrorConnection
{
    /// <summary>Source: common practice, no source.</summary>
    private static readonly TimeSpan ConnectLimit = TimeSpan.FromSeconds(10);

    public static HttpMessageHandler Handler(MirrorSettings settings, TimeProvider time)
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
