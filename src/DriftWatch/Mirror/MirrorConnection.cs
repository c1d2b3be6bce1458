using System.Net.Sockets;
using DriftWatch.Notices.Routes;
using DriftWatch.Storage.Mirror;

namespace DriftWatch.Mirror;

/// <summary>The way to one server: the server, and how often a connection to it was opened, since one that was killed needs a new one.</summary>
internal sealed class MirrorConnection : IDisposable
{
    /// <summary>Source: common practice, no source.</summary>
    private static readonly TimeSpan ConnectLimit = TimeSpan.FromSeconds(10);

    private int _opened;

    /// <exception cref="SecretException">The URL can't be had.</exception>
    public MirrorConnection(MirrorSettings settings, TimeProvider time, Func<MirrorSettings, HttpMessageHandler>? handler = null)
    {
        var options = new LineServerOptions
        {
            Url = settings.Url?.Read() ?? throw new SecretException("what the bench file writes as url is no URL of a web server", "write one, such as https://series.example.org:8428"),
            Way = settings.Way,
            Bucket = settings.Bucket,
            Organisation = settings.Organisation,
            User = settings.User,
            Key = settings.Key is { } place ? () => Secrets.Read(place) : null,
        };
        Server = new LineServer(options, handler?.Invoke(settings) ?? Handler(settings, time));
    }

    public LineServer Server { get; }

    /// <summary>How many connections were opened so far.</summary>
    public int Opened => Volatile.Read(ref _opened);

    public void Dispose() => Server.Dispose();

    /// <summary>Trusts what the system trusts, or the issuers of the bench file's.</summary>
    private SocketsHttpHandler Handler(MirrorSettings settings, TimeProvider time)
    {
        var judge = new CertificateJudge(settings.TrustFile, time);
        return new SocketsHttpHandler
        {
            AllowAutoRedirect = false, // a redirection would carry the key to a place that nobody wrote down
            ConnectTimeout = ConnectLimit,
            PooledConnectionLifetime = TimeSpan.FromMinutes(15), // a renamed or moved server is found
            SslOptions = new() { RemoteCertificateValidationCallback = judge.Accept },
            ConnectCallback = async (context, cancel) =>
            {
                var socket = new Socket(SocketType.Stream, ProtocolType.Tcp) { NoDelay = true };
                try
                {
                    await socket.ConnectAsync(context.DnsEndPoint, cancel);
                    Interlocked.Increment(ref _opened);
                    return new NetworkStream(socket, ownsSocket: true);
                }
                catch
                {
                    socket.Dispose();
                    throw;
                }
            },
        };
    }
}
