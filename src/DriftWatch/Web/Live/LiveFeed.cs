using System.Data.Common;
using System.Threading.Channels;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Web.Api;

namespace DriftWatch.Web.Live;

/// <summary>
/// One for each bench: looks at the view ten times a second while anybody listens, writes what changed once, and hands
/// the same bytes to every client. A client that can't keep up is let go and comes back by itself: its Last-Event-ID
/// brings it the lines it missed, and numbers are only worth having fresh.
/// </summary>
internal sealed partial class LiveFeed(
    IBenchView view, WebSettings settings, TimeProvider time, ILogger logger, CancellationToken stopping)
{
    private const int SlowEvery = 5; // ticks between looks at findings and lines: 2 a second
    private const int HealthEvery = 20; // ticks between health events: one in 2 s
    private const int HeartbeatEvery = 10; // ticks after which numbers are sent even when none changed
    private const int MostLinesAtOnce = 200;
    private const int MostWaiting = 100; // messages a client may lag: some ten seconds
    private static readonly TimeSpan Tick = TimeSpan.FromMilliseconds(100);

    private readonly Lock _gate = new();
    private readonly List<LiveClient> _clients = [];
    private readonly List<int> _changed = [];
    private readonly Dictionary<string, InstrumentNotice> _links = new(StringComparer.Ordinal);
    private EngineTime?[] _seen = [];
    private string[] _order = [];
    private MachineState _state;
    private string _benchHash = "";
    private LiveCursor _cursor;
    private DriftTable _drifts = DriftTable.Empty;
    private QuantityTable _quantities = QuantityTable.Empty;
    private long _ticks;
    private int _sinceNumbers;
    private bool _running;

    /// <summary>Joins. The greeting brings a client up to date; lines between its cursors and the feed's are the client's to fetch first.</summary>
    public LiveClient Join(long? afterFinding, long? afterAlarm)
    {
        lock (_gate)
        {
            if (!_running)
            {
                Begin();
                _running = true;
                _ = Task.Run(RunAsync, CancellationToken.None);
            }

            IReadOnlyList<ChannelNow> channels = view.Channels;
            EngineTime now = view.Now;
            var from = new LiveCursor(Math.Min(afterFinding ?? _cursor.Finding, _cursor.Finding), Math.Min(afterAlarm ?? _cursor.Alarm, _cursor.Alarm));
            var client = new LiveClient(MostWaiting, from, _cursor);
            client.Offer(LiveMessages.Hello(view, channels, client.From));
            client.Offer(LiveMessages.Numbers(view, now, channels, [.. Enumerable.Range(0, channels.Count)]));
            foreach (InstrumentNotice notice in _links.Values)
            {
                client.Offer(LiveMessages.Link(notice));
            }

            SendTables(client.Offer);
            client.Offer(LiveMessages.Health(HealthEndpoints.Judge(view, settings)));
            _clients.Add(client);
            return client;
        }
    }

    public void Leave(LiveClient client)
    {
        lock (_gate)
        {
            _clients.Remove(client);
        }
    }

    private void Begin()
    {
        _cursor = new LiveCursor(view.LatestFindings(1).NextCursor, view.LatestAlarms(1).NextCursor);
        _state = view.State;
        _benchHash = view.Bench.SourceHash;
        _links.Clear();
        foreach (InstrumentNotice notice in view.Instruments)
        {
            _links[notice.Instrument] = notice;
        }

        IReadOnlyList<ChannelNow> channels = view.Channels;
        _seen = [.. channels.Select(c => c.At)];
        _order = [.. channels.Select(c => c.Channel.Id)];
        _ticks = 0;
        _sinceNumbers = 0;
    }

    private async Task RunAsync()
    {
        try
        {
            using var timer = new PeriodicTimer(Tick, time);
            while (await timer.WaitForNextTickAsync(stopping))
            {
                if (!Step())
                {
                    return;
                }
            }
        }
        catch (OperationCanceledException)
        {
            EndAll();
        }
        catch (Exception exception) // nobody awaits this task: say it, and let the clients come again
        {
            FeedFailed(logger, exception, view.Bench.Id);
            EndAll();
        }
    }

    private void EndAll()
    {
        lock (_gate)
        {
            _running = false;
            _clients.ForEach(client => client.End());
            _clients.Clear();
        }
    }

    /// <summary>One look; false when nobody listens any more.</summary>
    private bool Step()
    {
        lock (_gate)
        {
            if (_clients.Count == 0)
            {
                _running = false;
                return false;
            }

            _ticks++;
            SendNumbers();
            if (view.State is var state && state != _state)
            {
                _state = state;
                Send(LiveMessages.State(state));
            }

            if (_ticks % SlowEvery == 0)
            {
                SendLinks();
                SendChangedTables();
                SendLines();
            }

            if (_ticks % HealthEvery == 0)
            {
                Send(LiveMessages.Health(HealthEndpoints.Judge(view, settings)));
            }

            return true;
        }
    }

    /// <summary>
    /// Looked at after the channels are read and before they are sent: rows name channels by their place, so that no row
    /// may go out under an order that its reader was not told.
    /// </summary>
    private void SendBench(IReadOnlyList<ChannelNow> channels)
    {
        string hash = view.Bench.SourceHash;
        bool sameOrder = channels.Count == _order.Length;
        for (int i = 0; sameOrder && i < channels.Count; i++)
        {
            sameOrder = string.Equals(channels[i].Channel.Id, _order[i], StringComparison.Ordinal);
        }

        if (hash == _benchHash && sameOrder)
        {
            return;
        }

        _benchHash = hash;
        Send(LiveMessages.Bench(hash));
        if (!sameOrder)
        {
            _order = [.. channels.Select(c => c.Channel.Id)];
            _seen = new EngineTime?[channels.Count];
            _clients.ForEach(client => client.End()); // they come again and are greeted with the new order
            _clients.Clear();
        }
    }

    private void SendNumbers()
    {
        IReadOnlyList<ChannelNow> channels = view.Channels;
        SendBench(channels);
        _changed.Clear();
        for (int i = 0; i < channels.Count; i++)
        {
            if (channels[i].At != _seen[i])
            {
                _seen[i] = channels[i].At;
                _changed.Add(i);
            }
        }

        if (_changed.Count > 0 || ++_sinceNumbers >= HeartbeatEvery)
        {
            _sinceNumbers = 0;
            Send(LiveMessages.Numbers(view, view.Now, channels, _changed));
        }
    }

    private void SendLinks()
    {
        foreach (InstrumentNotice notice in view.Instruments)
        {
            if (!_links.TryGetValue(notice.Instrument, out InstrumentNotice? known) || known != notice)
            {
                _links[notice.Instrument] = notice;
                Send(LiveMessages.Link(notice));
            }
        }
    }

    private void SendChangedTables()
    {
        bool drifts = !ReferenceEquals(view.Drifts, _drifts), quantities = !ReferenceEquals(view.Quantities, _quantities);
        (_drifts, _quantities) = (view.Drifts, view.Quantities);
        SendTables(message =>
        {
            Send(message);
            return true;
        }, drifts, quantities);
    }

    /// <summary>What is derived from the channels and how it drifts, as far as there is any yet.</summary>
    private void SendTables(Func<byte[], bool> send, bool drifts = true, bool quantities = true)
    {
        if (quantities && view.Quantities is { At: not null } table)
        {
            send(LiveMessages.Quantities(table));
        }

        if (drifts && view.Drifts.At is not null)
        {
            send(LiveMessages.Drifts(view));
        }
    }

    private void SendLines()
    {
        try
        {
            foreach (FindingRow row in view.Findings(_cursor.Finding, MostLinesAtOnce).Rows)
            {
                _cursor = _cursor with { Finding = row.Cursor };
                Send(LiveMessages.Finding(row, _cursor));
            }

            foreach (AlarmRow row in view.Alarms(_cursor.Alarm, MostLinesAtOnce).Rows)
            {
                _cursor = _cursor with { Alarm = row.Cursor };
                Send(LiveMessages.Alarm(row, _cursor));
            }
        }
        catch (Exception exception) when (exception is IOException or DbException)
        {
            FindingsUnread(logger, exception, view.Bench.Id); // the cursor stands: they come with a later look
        }
    }

    private void Send(byte[] message)
    {
        for (int i = _clients.Count - 1; i >= 0; i--)
        {
            if (!_clients[i].Offer(message))
            {
                ClientTooSlow(logger, view.Bench.Id);
                _clients[i].End();
                _clients.RemoveAt(i);
            }
        }
    }

    [LoggerMessage(2010, LogLevel.Error, "Bench {Bench}: the live feed failed and begins anew with the next client")]
    private static partial void FeedFailed(ILogger logger, Exception exception, string bench);

    [LoggerMessage(2011, LogLevel.Warning, "Bench {Bench}: findings and alarms can't be read for the live feed")]
    private static partial void FindingsUnread(ILogger logger, Exception exception, string bench);

    [LoggerMessage(2012, LogLevel.Information, "Bench {Bench}: a live client read too slowly and was let go")]
    private static partial void ClientTooSlow(ILogger logger, string bench);
}

/// <summary>One listener: the messages that wait for it, and the span of lines it must be given first.</summary>
internal sealed class LiveClient(int mostWaiting, LiveCursor from, LiveCursor joinedAt)
{
    private readonly Channel<byte[]> _waiting = Channel.CreateBounded<byte[]>(
        new BoundedChannelOptions(mostWaiting) { SingleReader = true, FullMode = BoundedChannelFullMode.Wait });

    /// <summary>The newest lines the client has.</summary>
    public LiveCursor From => from;

    /// <summary>Lines up to here are not among the waiting messages.</summary>
    public LiveCursor JoinedAt => joinedAt;

    public ChannelReader<byte[]> Waiting => _waiting.Reader;

    public bool Offer(byte[] message) => _waiting.Writer.TryWrite(message);

    public void End() => _waiting.Writer.TryComplete();
}
