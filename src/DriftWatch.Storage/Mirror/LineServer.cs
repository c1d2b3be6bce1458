using System.Net;
using System.Net.Http.Headers;
using System.Text;
using InfluxDB.Client;
using InfluxDB.Client.Api.Domain;
using InfluxDB.Client.Core.Exceptions;
using InfluxDB.Client.Core.Flux.Domain;
using InfluxDB.Client.Core.Flux.Exceptions;

namespace DriftWatch.Storage.Mirror;

/// <summary>
/// One server that takes the line protocol, written to through the client's <see cref="WriteApiAsync"/>: one request for a batch, no
/// retry and no queue of its own. Its other way to write drops a batch after its retries, and drops its queue when it is disposed
/// of while the server is away (measured), so it is never used.
/// </summary>
public sealed class LineServer : IDisposable
{
    private const int LongestSaid = 300;

    private readonly LineServerOptions _options;
    private readonly HttpClient _http;
    private readonly SignedHandler _handler;
    private readonly InfluxDBClient _client;
    private readonly WriteApiAsync _writer;

    /// <param name="options">Where to and how.</param>
    /// <param name="inner">What opens the connection: it decides which certificates are trusted.</param>
    public LineServer(LineServerOptions options, HttpMessageHandler inner)
    {
        ArgumentNullException.ThrowIfNull(options);
        _options = options;
        _handler = new SignedHandler(options) { InnerHandler = inner };
        _http = new HttpClient(_handler) { Timeout = options.Timeout };
        _client = new InfluxDBClient(new InfluxDBClientOptions(options.Url.ToString())
        {
            HttpClient = _http,
            Token = "-", // the client wants one; the handler signs each request
            Org = options.Organisation ?? "-",
            Bucket = options.Bucket,
            Timeout = options.Timeout,
        });
        _client.EnableGzip();
        _writer = _client.GetWriteApiAsync();
    }

    /// <summary>Sends lines, each ended by a line feed, with times in milliseconds. What is said never holds the address, which may be a key itself.</summary>
    public async Task<SendAnswer> SendAsync(string lines, CancellationToken cancel)
    {
        _handler.ServerUtc = null;
        _handler.Page = null;
        try
        {
            await _writer.WriteRecordAsync(lines, WritePrecision.Ms, _options.Bucket, _options.Organisation ?? "-", cancel);
            return _handler.Page is { } page
                ? Answer(SendResult.NoSuchPlace, $"what answers at its address is no server for this: it says {page}")
                : Answer(SendResult.Taken, "");
        }
        catch (HttpException exception)
        {
            return Answer(ResultOf(exception.Status), exception.Message, exception.RetryAfter is { } seconds and > 0 ? TimeSpan.FromSeconds(seconds) : null);
        }
        catch (Exception exception) when (exception is HttpRequestException or IOException or TaskCanceledException && !cancel.IsCancellationRequested)
        {
            return Answer(SendResult.Unreachable, exception is TaskCanceledException ? $"it did not answer within {_options.Timeout.TotalSeconds:0} s" : exception.Message);
        }
    }

    /// <summary>Asks a question of the server, signed as a batch is.</summary>
    /// <param name="path">Below the base address.</param>
    /// <param name="cancel">Gives up.</param>
    /// <returns>The answer's text.</returns>
    /// <exception cref="HttpRequestException">It can't be asked, or says no.</exception>
    public async Task<string> AskAsync(string path, CancellationToken cancel)
    {
        using HttpResponseMessage answer = await _http.GetAsync(new Uri(Place + path), cancel);
        string text = await answer.Content.ReadAsStringAsync(cancel);
        return answer.IsSuccessStatusCode ? text : throw new HttpRequestException($"{(int)answer.StatusCode}: {OneLine(text)}", null, answer.StatusCode);
    }

    /// <summary>Asks a question in Flux, signed as a batch is.</summary>
    /// <param name="flux">The whole question.</param>
    /// <param name="cancel">Gives up.</param>
    /// <returns>The rows of all tables of the answer, each by the names of its columns.</returns>
    /// <exception cref="HttpRequestException">It can't be asked, or says no.</exception>
    /// <exception cref="FormatException">It answers what is no table.</exception>
    public async Task<IReadOnlyList<IReadOnlyDictionary<string, object>>> AskFluxAsync(string flux, CancellationToken cancel)
    {
        try
        {
            List<FluxTable> tables = await _client.GetQueryApi().QueryAsync(flux, _options.Organisation ?? "-", cancel);
            return [.. tables.SelectMany(t => t.Records).Select(r => r.Values)];
        }
        catch (HttpException exception)
        {
            throw new HttpRequestException($"{exception.Status}: {OneLine(exception.Message)}", exception, (HttpStatusCode?)exception.Status);
        }
        catch (Exception exception) when (exception is FluxCsvParserException or FluxQueryException or ArgumentException or FormatException or CsvHelper.CsvHelperException)
        {
            throw new FormatException($"the server answers with what is no table: {OneLine(exception.Message)}", exception);
        }
    }

    public void Dispose()
    {
        _client.Dispose();
        _http.Dispose();
    }

    private string Place => _options.Url.ToString().TrimEnd('/');

    private SendAnswer Answer(SendResult result, string said, TimeSpan? retryAfter = null) => new(result, OneLine(said), retryAfter, _handler.ServerUtc);

    /// <summary>0 is the client's word for no answer.</summary>
    private static SendResult ResultOf(int? status) => status switch
    {
        400 or 422 => SendResult.Refused,
        401 or 403 => SendResult.Unwelcome,
        404 or 405 => SendResult.NoSuchPlace,
        413 => SendResult.TooLarge,
        429 => SendResult.Busy,
        >= 500 => SendResult.Failing,
        null or 0 => SendResult.Unreachable,
        _ => SendResult.NoSuchPlace, // a redirection, or something that no such server says
    };

    private static string OneLine(string text)
    {
        string line = string.Join(' ', text.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));
        return line.Length <= LongestSaid ? line : line[..LongestSaid] + "…";
    }

    /// <summary>Signs each request, turns it to the older way where the server speaks that, and notes the server's clock.</summary>
    private sealed class SignedHandler(LineServerOptions options) : DelegatingHandler
    {
        public DateTimeOffset? ServerUtc { get; set; }

        /// <summary>What came instead of the empty answer of a server that took a batch; null where that came.</summary>
        public string? Page { get; set; }

        protected override async Task<HttpResponseMessage> SendAsync(HttpRequestMessage request, CancellationToken cancellationToken)
        {
            string? key = options.Key?.Invoke();
            request.Headers.Authorization = key is null ? null
                : options.User is { } user ? new AuthenticationHeaderValue("Basic", Convert.ToBase64String(Encoding.UTF8.GetBytes($"{user}:{key}")))
                : new AuthenticationHeaderValue("Token", key);
            bool writes = request.RequestUri!.AbsolutePath.EndsWith("/write", StringComparison.Ordinal);
            if (writes && options.Way == WriteWay.V1)
            {
                request.RequestUri = new Uri($"{options.Url.ToString().TrimEnd('/')}/write?db={Uri.EscapeDataString(options.Bucket)}&precision=ms");
            }

            HttpResponseMessage answer = await base.SendAsync(request, cancellationToken);
            ServerUtc = answer.Headers.Date;
            if (writes && answer.IsSuccessStatusCode && answer.StatusCode != HttpStatusCode.NoContent)
            {
                Page = $"{(int)answer.StatusCode} with {answer.Content.Headers.ContentType?.MediaType ?? "no content"}";
            }

            return answer;
        }
    }
}
