using DriftWatch.Notices.Routes;

namespace DriftWatch.Notices.Alive;

/// <summary>
/// A sign of life to a URL (GET) or a topic, at a steady pace, and only while judging and storing go on: whoever waits
/// for it knows by its absence what no notice from here could tell. One that fails is not kept: the next one is the retry.
/// </summary>
internal sealed class Heartbeat : IAsyncDisposable
{
    private static readonly TimeSpan LookEvery = TimeSpan.FromDays(1);

    private readonly HeartbeatSettings _settings;
    private readonly string _bench;
    private readonly Func<string?> _whyNot;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly CertificateJudge _judge;
    private readonly HttpClient? _client;
    private readonly MqttRoute? _broker;
    private readonly CancellationTokenSource _stop = new();
    private Task _running = Task.CompletedTask;
    private bool _isFailing;
    private bool _isHeldBack;
    private long _lookedAt;

    /// <param name="settings">Where to and how often.</param>
    /// <param name="bench">The bench's id.</param>
    /// <param name="whyNot">Why no sign of life may be given now; null while judging and storing go on.</param>
    /// <param name="time">For the pace.</param>
    /// <param name="logger">Told once when it begins to fail, and once when it is over.</param>
    public Heartbeat(HeartbeatSettings settings, string bench, Func<string?> whyNot, TimeProvider time, ILogger logger)
    {
        _settings = settings;
        _bench = bench;
        _whyNot = whyNot;
        _time = time;
        _logger = logger;
        _judge = new CertificateJudge(settings.TrustFile, time);
        _client = settings.Url is null ? null : WebhookRoute.NewClient(_judge);
        _broker = settings.Mqtt is null ? null : new MqttRoute(settings.Mqtt, $"driftwatch-{bench}-heartbeat", time);
    }

    public void Start() => _running = Task.Run(RunAsync);

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        await _running;
        _client?.Dispose();
        if (_broker is not null)
        {
            await _broker.DisposeAsync();
        }

        _stop.Dispose();
    }

    /// <summary>Beats once; for a check it goes as far as it can without beating.</summary>
    internal async Task<RouteAnswer> BeatAsync(CancellationToken cancel)
    {
        if (_settings.Trouble is { } trouble)
        {
            return new RouteAnswer(false, trouble);
        }

        if (_broker is not null)
        {
            string at = Measurement.Time.UtcText.FromNanoseconds(Measurement.Time.UtcText.ToNanoseconds(_time.GetUtcNow()));
            return await _broker.SendAsync(System.Text.Encoding.UTF8.GetBytes($$"""{"format":"driftwatch.heartbeat/1","bench":"{{_bench}}","at":"{{at}}"}"""), cancel);
        }

        return await AskAsync(HttpMethod.Get, cancel);
    }

    internal Task<RouteAnswer> CheckAsync(CancellationToken cancel) =>
        _settings.Trouble is { } trouble ? Task.FromResult(new RouteAnswer(false, trouble))
        : _broker is not null ? _broker.CheckAsync(cancel)
        : AskAsync(HttpMethod.Options, cancel);

    private async Task<RouteAnswer> AskAsync(HttpMethod method, CancellationToken cancel)
    {
        try
        {
            using var request = new HttpRequestMessage(method, _settings.Url!.Read());
            using HttpResponseMessage answer = await _client!.SendAsync(request, HttpCompletionOption.ResponseHeadersRead, cancel);
            int status = (int)answer.StatusCode;
            if (method == HttpMethod.Get)
            {
                return new RouteAnswer(answer.IsSuccessStatusCode, $"the server answers {status}") { Remedy = "look at the URL" };
            }

            // A certificate that is still good lets a beat through; only a look at it tells that it soon will not.
            return new RouteAnswer(status < 500 && status != 404 && _judge.Warning.Length == 0, $"the server answers {status}{_judge.Warning}")
            {
                Remedy = _judge.Warning.Length == 0 ? "look at the URL" : "renew the certificate",
            };
        }
        catch (Exception exception) when (exception is not OperationCanceledException || !cancel.IsCancellationRequested)
        {
            return RouteWords.Of(exception, _judge);
        }
    }

    private async Task RunAsync()
    {
        using var timer = new PeriodicTimer(_settings.Every, _time);
        try
        {
            await Task.Delay(TimeSpan.FromSeconds(1), _time, _stop.Token); // the first second is not judged yet
            do
            {
                if (_whyNot() is { } why)
                {
                    if (!_isHeldBack)
                    {
                        NoticeLog.SignHeldBack(_logger, why);
                    }

                    _isHeldBack = true;
                    continue;
                }

                _isHeldBack = false;
                await LookAsync();
                Tell(await RouteMaker.TryAsync(BeatAsync, _time, _stop.Token));
            }
            while (await timer.WaitForNextTickAsync(_stop.Token));
        }
        catch (OperationCanceledException)
        {
            // Told to stop.
        }
    }

    /// <summary>At the start and daily as far as it goes without beating, so that a certificate that runs out is told before.</summary>
    private async Task LookAsync()
    {
        if (_lookedAt != 0 && _time.GetElapsedTime(_lookedAt) < LookEvery)
        {
            return;
        }

        _lookedAt = _time.GetTimestamp();
        RouteAnswer answer = await RouteMaker.TryAsync(CheckAsync, _time, _stop.Token);
        if (!answer.Done)
        {
            NoticeLog.Check(_logger, $"{_settings.File}({_settings.Line},1)", $"heartbeat: {answer.Said}", answer.Remedy ?? "look at where it goes");
        }
    }

    private void Tell(RouteAnswer answer)
    {
        if (!answer.Done && !_isFailing)
        {
            NoticeLog.HeartbeatFailing(_logger, answer.Said, answer.Remedy ?? "look at where it goes");
        }
        else if (answer.Done && _isFailing)
        {
            NoticeLog.HeartbeatRecovered(_logger);
        }

        _isFailing = !answer.Done;
    }
}
