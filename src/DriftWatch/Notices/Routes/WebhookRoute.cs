using System.Globalization;
using System.Net;
using System.Net.Http.Headers;
using System.Security.Cryptography;
using System.Text;

namespace DriftWatch.Notices.Routes;

/// <summary>
/// A webhook: the notice as JSON by POST. Each sending of a notice has the same <c>Idempotency-Key</c>; with a secret it
/// is signed, as <see cref="SignatureOf"/> says. Anything but 2xx is a failure; redirections are not followed.
/// </summary>
internal sealed class WebhookRoute : INoticeRoute
{
    public const string TimestampHeader = "DriftWatch-Timestamp";
    public const string SignatureHeader = "DriftWatch-Signature";

    private readonly WebhookSettings _settings;
    private readonly TimeProvider _time;
    private readonly CertificateJudge _judge;
    private readonly HttpClient _client;

    public WebhookRoute(WebhookSettings settings, TimeProvider time)
    {
        _settings = settings;
        _time = time;
        _judge = new CertificateJudge(settings.TrustFile, time);
        _client = NewClient(_judge);
    }

    /// <summary>
    /// <c>v1=</c> and, in lower-case hex, HMAC-SHA-256 (RFC 2104) under the secret's UTF-8 bytes over the timestamp as
    /// it stands in its header, a full stop, and the body. A receiver compares in constant time and refuses a timestamp more than five minutes
    /// from its own clock, so that a recorded request is of no use later.
    /// </summary>
    public static string SignatureOf(string secret, string timestamp, ReadOnlySpan<byte> body)
    {
        byte[] signed = [.. Encoding.ASCII.GetBytes(timestamp + "."), .. body];
        return "v1=" + Convert.ToHexStringLower(HMACSHA256.HashData(Encoding.UTF8.GetBytes(secret), signed));
    }

    public async Task<RouteAnswer> SendAsync(AlarmNotice notice, int tries, CancellationToken cancel)
    {
        byte[] body = NoticeJson.ToUtf8(notice);
        try
        {
            using var request = new HttpRequestMessage(HttpMethod.Post, _settings.Url!.Read()) { Content = new ByteArrayContent(body) };
            request.Content.Headers.ContentType = new MediaTypeHeaderValue("application/json", "utf-8");
            request.Headers.Add("Idempotency-Key", notice.Id);
            if (_settings.Secret is { } place)
            {
                string timestamp = _time.GetUtcNow().ToUnixTimeSeconds().ToString(CultureInfo.InvariantCulture);
                request.Headers.Add(TimestampHeader, timestamp);
                request.Headers.Add(SignatureHeader, SignatureOf(Secrets.Read(place), timestamp, body));
            }

            using HttpResponseMessage answer = await _client.SendAsync(request, HttpCompletionOption.ResponseHeadersRead, cancel);
            return Judge(answer);
        }
        catch (Exception exception) when (exception is not OperationCanceledException || !cancel.IsCancellationRequested)
        {
            return RouteWords.Of(exception, _judge);
        }
    }

    /// <summary>Asks what the resource allows (OPTIONS, safe by RFC 9110): any answer that is no server's error shows that the way is there.</summary>
    public async Task<RouteAnswer> CheckAsync(CancellationToken cancel)
    {
        if (_settings.Secret is { } place && Secrets.WhyNot(place) is { } whyNot)
        {
            return new RouteAnswer(false, whyNot.What) { Remedy = whyNot.Remedy };
        }

        try
        {
            using var request = new HttpRequestMessage(HttpMethod.Options, _settings.Url!.Read());
            using HttpResponseMessage answer = await _client.SendAsync(request, HttpCompletionOption.ResponseHeadersRead, cancel);
            int status = (int)answer.StatusCode;
            return answer.StatusCode switch
            {
                HttpStatusCode.NotFound or HttpStatusCode.Gone => new RouteAnswer(false, $"the server has no such path ({status})") { Remedy = "look at the URL's path" },
                HttpStatusCode.Unauthorized or HttpStatusCode.Forbidden => new RouteAnswer(false, $"the server lets nobody in there ({status})") { Remedy = "look at the URL, and at what its owner allows" },
                >= HttpStatusCode.InternalServerError and not HttpStatusCode.NotImplemented => new RouteAnswer(false, $"the server is in trouble ({status})") { Remedy = "look at the receiver" },
                >= HttpStatusCode.Ambiguous and < HttpStatusCode.BadRequest => Redirected(answer),
                _ => new RouteAnswer(_judge.Warning.Length == 0, $"the server answers ({status}){_judge.Warning}"),
            };
        }
        catch (Exception exception) when (exception is not OperationCanceledException || !cancel.IsCancellationRequested)
        {
            return RouteWords.Of(exception, _judge);
        }
    }

    public ValueTask DisposeAsync()
    {
        _client.Dispose();
        return ValueTask.CompletedTask;
    }

    internal static HttpClient NewClient(CertificateJudge judge)
    {
        var handler = new SocketsHttpHandler
        {
            AllowAutoRedirect = false,
            UseCookies = false,
            ConnectTimeout = TimeSpan.FromSeconds(10),
            PooledConnectionLifetime = TimeSpan.FromMinutes(5), // so that a changed address is found
        };
        handler.SslOptions.RemoteCertificateValidationCallback = judge.Accept;
        var client = new HttpClient(handler) { Timeout = TimeSpan.FromSeconds(15), MaxResponseContentBufferSize = 64 * 1024 };
        client.DefaultRequestHeaders.UserAgent.Add(new ProductInfoHeaderValue("DriftWatch", typeof(WebhookRoute).Assembly.GetName().Version?.ToString(3)));
        return client;
    }

    // The host only: where the URL is a key, so is where it leads.
    private static RouteAnswer Redirected(HttpResponseMessage answer)
    {
        string host = answer.Headers.Location is { IsAbsoluteUri: true } there ? $", to {there.Host}" : "";
        return new(false, $"the server sends us elsewhere ({(int)answer.StatusCode}{host})") { Remedy = "ask whoever runs it for the URL that holds now" };
    }

    private RouteAnswer Judge(HttpResponseMessage answer)
    {
        int status = (int)answer.StatusCode;
        string said = $"{status} {answer.ReasonPhrase}".TrimEnd();
        if (answer.IsSuccessStatusCode)
        {
            return new RouteAnswer(true, said);
        }

        if (status is >= 300 and < 400)
        {
            return Redirected(answer);
        }

        TimeSpan? wait = answer.Headers.RetryAfter is { } after
            ? after.Delta ?? (after.Date is { } date ? date - _time.GetUtcNow() : null)
            : null;
        return new RouteAnswer(false, said)
        {
            RetryAfter = wait > TimeSpan.Zero ? wait : null,
            Refused = status is 400 or 413 or 415 or 422,
            Remedy = status is 401 or 403 or 404 ? "look at the URL and at the secret" : null,
        };
    }
}
