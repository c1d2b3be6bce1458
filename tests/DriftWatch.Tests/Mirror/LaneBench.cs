using System.Collections.Concurrent;
using System.Globalization;
using System.IO.Compression;
using System.Net;
using System.Text;
using System.Text.RegularExpressions;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Mirror;
using DriftWatch.Notices.Routes;
using DriftWatch.Storage;
using DriftWatch.Storage.Mirror;
using DriftWatch.Tests.Storage;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Time.Testing;
using Xunit;

namespace DriftWatch.Tests.Mirror;

/// <summary>A store with known readings, a lane that mirrors it, and a server in the test's hand; time goes as fast as it is asked to.</summary>
internal sealed class LaneBench : IAsyncDisposable
{
    public const int Channels = 3;

    private static readonly DateTimeOffset Begin = new(2026, 4, 5, 6, 0, 0, TimeSpan.Zero);

    private readonly StoreFolder _folder = new();
    private readonly LogMaker _log = new();
    private readonly Random _random = new(29);
    private readonly List<(EngineTime At, TimeSpan By)> _steps = [];
    private int _stored;
    private MirrorLane? _lane;

    public LaneBench()
    {
        Time = new FakeTimeProvider(Begin);
        Wall = new SteppedTime(Time);
        Store = _folder.Open(new BenchStoreOptions { BallastBytes = 0, TimeProvider = Time });
        _log.Start(EngineTime.FromSeconds(0), Begin, LogMaker.Bench(Channels));
        Server = new StubServer();
    }

    public BenchStore Store { get; private set; }

    public FakeTimeProvider Time { get; }

    /// <summary>What the lane goes by: the same, with a wall clock that can be set.</summary>
    public SteppedTime Wall { get; }

    public StubServer Server { get; }

    public MirrorSettings Settings { get; set; } = new()
    {
        Id = "annex", File = "bench.toml", Line = 1, Url = new WebAddress(new Uri("http://series.example.org:8428")), Way = WriteWay.V2, Counts = CountWay.Influxql, Bucket = "driftwatch", Site = "annex",
    };

    public MirrorReport Report => _lane!.Report;

    /// <summary>What the lane said of itself.</summary>
    public ConcurrentQueue<Command> Said { get; } = new();

    /// <summary>By what the bench has judged that the mirror fails; where a test does not say, by what the lane said last.</summary>
    public string? SaidTrouble { get; set; }

    /// <summary>How many readings the log holds.</summary>
    public int Readings { get; private set; }

    /// <summary>Readings go on for so long; they are stored and the clock is where they end.</summary>
    public void Run(double seconds, double faults = 0.05, bool extremes = false)
    {
        EngineTime from = _log.Inputs[^1].Time;
        _log.Run(from, seconds, Channels, _random, extremes, faults);
        Store.Append([.. _log.Inputs.Skip(_stored)]);
        Readings += _log.Inputs.Skip(_stored).Count(i => i.Kind is InputKind.Sample or InputKind.Fault);
        _stored = _log.Inputs.Count;
        DateTimeOffset now = Begin + TimeSpan.FromSeconds(_log.Inputs[^1].Time.Seconds);
        if (now > Time.GetUtcNow())
        {
            Time.SetUtcNow(now);
        }
    }

    /// <summary>The wall clock is set forward.</summary>
    public void StepClock(TimeSpan by)
    {
        EngineTime at = _log.Inputs[^1].Time;
        _steps.Add((at, by));
        _log.Start(at, Begin + TimeSpan.FromSeconds(at.Seconds) + _steps.Aggregate(TimeSpan.Zero, (all, step) => all + step.By), kind: ClockEventKind.WallStep);
        Store.Append([.. _log.Inputs.Skip(_stored)]);
        _stored = _log.Inputs.Count;
    }

    /// <summary>Every reading of the log: what the schema's README says of it, worked out apart from the code; without a value where it is a fault.</summary>
    public IEnumerable<(string Channel, long UtcMilliseconds, double? Value, double? Least, double? Greatest)> Measured()
    {
        foreach (EngineInput input in _log.Inputs.Where(i => i.Kind is InputKind.Sample or InputKind.Fault))
        {
            long utc = Begin.ToUnixTimeMilliseconds() + (input.Time.Nanoseconds / 1_000_000) + (long)_steps.Where(s => s.At < input.Time).Sum(s => s.By.TotalMilliseconds);
            if (input.Kind == InputKind.Fault)
            {
                yield return ($"channel-{input.Channel}", utc, null, null, null);
                continue;
            }

            (double least, double greatest) = input.Reading.HasExtremes ? (input.Reading.Minimum, input.Reading.Maximum) : (input.Reading.Raw, input.Reading.Raw);
            yield return ($"channel-{input.Channel}", utc, (12.5 * input.Reading.Raw) - 1.25, (12.5 * least) - 1.25, (12.5 * greatest) - 1.25);
        }
    }

    /// <summary>An entry of the book of transfers, a second after the last input.</summary>
    public void Enter(EntryBody body, Guid? transfer, Guid? pass)
    {
        EngineTime at = _log.Inputs[^1].Time + TimeSpan.FromSeconds(1);
        long utc = (Begin - DateTimeOffset.UnixEpoch).Ticks * 100 + at.Nanoseconds;
        _log.Add(EngineInput.OfCommand(at, new EntryCommand { Id = Guid.CreateVersion7(), By = "Ida Wren", Note = "the wheel is out", EnteredUtc = utc, AboutUtc = utc, Transfer = transfer, Pass = pass, Body = body }));
        Store.Append([.. _log.Inputs.Skip(_stored)]);
        _stored = _log.Inputs.Count;
    }

    /// <summary>So many lines of the book of alarms.</summary>
    public void Book(int lines) =>
        Store.CommitJudged(_stored, [1], "build", [], [.. Enumerable.Range(0, lines).Select(i => AlarmStoreTests.Line(_stored, i))]);

    public void Start()
    {
        _lane = new MirrorLane(Store, "west-bench", Settings, new MirrorLaneOptions
        {
            TimeProvider = Wall,
            Logger = NullLogger.Instance,
            Handler = _ => new StubServer.Door(Server),
            Say = Said.Enqueue,
            SaidTrouble = _ => SaidTrouble ?? (Said.LastOrDefault() as MirrorFailsCommand)?.Trouble,
        });
        _lane.Start();
    }

    public async Task StopAsync()
    {
        await _lane!.DisposeAsync();
        _lane = null;
    }

    /// <summary>Lets the lane's time go on, half a second at a time, until something is so.</summary>
    public async Task UntilAsync(Func<bool> isSo, string what, double mostSeconds = 900)
    {
        for (double gone = 0; !isSo(); gone += 0.5)
        {
            if (gone > mostSeconds)
            {
                throw new TimeoutException($"not so after {mostSeconds} s: {what}; {Report}");
            }

            Time.Advance(TimeSpan.FromSeconds(0.5));
            await Task.Delay(TimeSpan.FromMilliseconds(4), TimeProvider.System);
        }
    }

    /// <summary>What the log says a server should hold, by channel and instant: the schema's README worked out here apart from the code.</summary>
    public Dictionary<string, string> Expected()
    {
        var expected = new Dictionary<string, string>(StringComparer.Ordinal);
        long begin = Begin.ToUnixTimeMilliseconds();
        foreach (EngineInput input in _log.Inputs.Where(i => i.Kind is InputKind.Sample or InputKind.Fault))
        {
            string key = string.Create(CultureInfo.InvariantCulture, $"driftwatch_reading,bench=west-bench,channel=channel-{input.Channel},unit=psi,site=annex {begin + (input.Time.Nanoseconds / 1_000_000)}");
            int late = input.IsLate ? 100 : 0;
            expected[key] = input.Kind == InputKind.Fault
                ? string.Create(CultureInfo.InvariantCulture, $"quality={(int)input.Reading.Fault + 1 + late}i")
                : string.Create(
                    CultureInfo.InvariantCulture,
                    $"value={(12.5 * input.Reading.Raw) - 1.25}{(input.Reading.HasExtremes ? $",min={(12.5 * input.Reading.Minimum) - 1.25},max={(12.5 * input.Reading.Maximum) - 1.25}" : "")},quality={late}i");
        }

        return expected;
    }

    public async ValueTask DisposeAsync()
    {
        if (_lane is not null)
        {
            await _lane.DisposeAsync();
        }

        Store.Dispose();
        _folder.Dispose();
    }

}

/// <summary>A time whose wall clock can be set, and whose durations go on as they were.</summary>
internal sealed class SteppedTime(FakeTimeProvider inner) : TimeProvider
{
    public TimeSpan Ahead { get; set; }

    public override long TimestampFrequency => inner.TimestampFrequency;

    public override DateTimeOffset GetUtcNow() => inner.GetUtcNow() + Ahead;

    public override long GetTimestamp() => inner.GetTimestamp();

    public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period) => inner.CreateTimer(callback, state, dueTime, period);
}

/// <summary>A server in the test's hand: it keeps what it takes by series and instant, and says what the test wants it to.</summary>
internal sealed partial class StubServer
{
    private readonly Lock _gate = new();

    /// <summary>By measurement, tags and instant; a second sending overwrites.</summary>
    public Dictionary<string, string> Held { get; } = new(StringComparer.Ordinal);

    /// <summary>How often each line was sent.</summary>
    public Dictionary<string, int> Sent { get; } = new(StringComparer.Ordinal);

    /// <summary>Every line that it said yes to, kept or dropped.</summary>
    public HashSet<string> Heard { get; } = new(StringComparer.Ordinal);

    public int Requests { get; private set; }

    public string? LastPath { get; private set; }

    public string? LastKey { get; private set; }

    /// <summary>What it says to a batch; null takes it.</summary>
    public Func<string[], HttpResponseMessage?> Says { get; set; } = _ => null;

    /// <summary>What it says the time is; null says nothing.</summary>
    public Func<DateTimeOffset>? Clock { get; set; }

    /// <summary>It never answers when it is asked for a count.</summary>
    public bool CountsHang { get; set; }

    public int CountsAsked { get; private set; }

    /// <summary>Which of the lines that it takes it drops in silence.</summary>
    public Func<string, bool> Drops { get; set; } = _ => false;

    /// <summary>Whether it keeps every sending of a reading and counts it.</summary>
    public bool KeepsDoubles { get; set; }

    /// <summary>What was taken in the last sendings is gone.</summary>
    public void Forget(int lines)
    {
        lock (_gate)
        {
            foreach (string key in Held.Keys.Reverse().Take(lines).ToList())
            {
                Held.Remove(key);
            }
        }
    }

    public int Count()
    {
        lock (_gate)
        {
            return Held.Count;
        }
    }

    /// <summary>What it holds of a measurement.</summary>
    public KeyValuePair<string, string>[] Of(string measurement)
    {
        lock (_gate)
        {
            return [.. Held.Where(h => h.Key.StartsWith(measurement + ",", StringComparison.Ordinal))];
        }
    }

    public int CountHeard()
    {
        lock (_gate)
        {
            return Heard.Count;
        }
    }

    public static HttpResponseMessage Answer(int status, string body = "", string? retryAfter = null)
    {
        var answer = new HttpResponseMessage((HttpStatusCode)status) { Content = new StringContent(body) };
        if (retryAfter is not null)
        {
            answer.Headers.Add("Retry-After", retryAfter);
        }

        return answer;
    }

    private async Task<HttpResponseMessage> AnswerAsync(HttpRequestMessage request, CancellationToken cancel)
    {
        LastPath = request.RequestUri!.PathAndQuery;
        LastKey = request.Headers.Authorization?.ToString();
        if (request.Method == HttpMethod.Get && CountsHang && LastPath.Contains("count", StringComparison.OrdinalIgnoreCase))
        {
            CountsAsked++;
            await Task.Delay(Timeout.InfiniteTimeSpan, TimeProvider.System, cancel);
        }

        if (request.Method == HttpMethod.Get)
        {
            return Answer(200, CountOf(Uri.UnescapeDataString(request.RequestUri.Query)));
        }

        await using Stream body = await request.Content!.ReadAsStreamAsync(cancel);
        Assert.Contains("gzip", request.Content.Headers.ContentEncoding);
        await using Stream text = new GZipStream(body, CompressionMode.Decompress);
        using var reader = new StreamReader(text, Encoding.UTF8);
        string[] lines = (await reader.ReadToEndAsync(cancel)).Split('\n', StringSplitOptions.RemoveEmptyEntries);
        lock (_gate)
        {
            Requests++;
            if (Says(lines) is { } said)
            {
                return said;
            }

            foreach (string line in lines)
            {
                string[] parts = line.Split(' ');
                string key = parts[0] + " " + parts[2];
                Heard.Add(key);
                if (Drops(line))
                {
                    continue;
                }

                Held[key] = parts[1];
                Sent[key] = Sent.GetValueOrDefault(key) + 1;
            }

            HttpResponseMessage taken = Answer(204);
            taken.Headers.Date = Clock?.Invoke();
            return taken;
        }
    }

    private string CountOf(string query)
    {
        Match window = Window().Match(query);
        long from = long.Parse(window.Groups["from"].Value, CultureInfo.InvariantCulture), to = long.Parse(window.Groups["to"].Value, CultureInfo.InvariantCulture);
        lock (_gate)
        {
            long count = Held.Keys.Where(k => long.Parse(k.Split(' ')[1], CultureInfo.InvariantCulture) is { } at && at >= from && at < to).Sum(k => KeepsDoubles ? Sent[k] : 1);
            return $$"""{"results":[{"series":[{"values":[[0,{{count}}]]}]}]}""";
        }
    }

    [GeneratedRegex("time >= (?<from>[0-9]+)ms AND time < (?<to>[0-9]+)ms", RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex Window();

    /// <summary>A connection to it.</summary>
    internal sealed class Door(StubServer server) : HttpMessageHandler
    {
        protected override Task<HttpResponseMessage> SendAsync(HttpRequestMessage request, CancellationToken cancellationToken) => server.AnswerAsync(request, cancellationToken);
    }
}
