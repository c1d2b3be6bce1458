using DriftWatch.Acquisition.Lines;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using Microsoft.Extensions.Logging;

namespace DriftWatch.Acquisition.Sampling;

/// <summary>
/// The owner of a line on which an instrument sends lines of its own accord. A reading's instant is the arrival of its
/// line's end. Silence is watched on every turn: a channel that gets nothing posts one fault a period, with the reason
/// that is known (line down, lines rejected, or just missing).
/// </summary>
internal sealed class LinesOwner : ILineOwner
{
    /// <summary>The owner wakes at least this often to renew its promises.</summary>
    private static readonly TimeSpan IdleStep = TimeSpan.FromMilliseconds(100);

    /// <summary>No valid line for the longer of this and ten periods: the port is opened anew. Source: measured practice of serial adapters, no published source.</summary>
    private static readonly TimeSpan SuspectAfter = TimeSpan.FromSeconds(5);

    private readonly InstrumentDefinition _instrument;
    private readonly LineFormat _format;
    private readonly EngineClock _clock;
    private readonly IReadingSink _sink;
    private readonly ILogger _logger;
    private readonly Pause _pause;
    private readonly LineKeeper<IByteLink> _keeper;
    private readonly LineFramer _framer;
    private readonly LineParser _parser;
    private readonly List<StreamChannel> _channels = [];
    private readonly List<(RatioFeed Ratio, StreamChannel Stream, StreamChannel Of, StreamChannel Over)> _ratios = [];
    private readonly byte[] _buffer = new byte[4096];
    private readonly TimeSpan _shortest;
    private readonly TimeSpan _longest;
    private LineReject _lastReject;
    private long _rejectsTold;
    private EngineTime _tellRejectsAt;
    private EngineTime _lastValid;
    private EngineTime _partSince;
    private EngineTime _promised = EngineTime.MinValue;
    private bool _talking;
    private string _reason = "";

    public LinesOwner(
        InstrumentDefinition instrument,
        InstrumentProfile profile,
        IReadOnlyList<ChannelDefinition> benchChannels,
        Func<IByteLink> open,
        EngineClock clock,
        IReadingSink sink,
        Backoff backoff,
        ILogger logger,
        Pause? pause = null)
    {
        _instrument = instrument;
        _format = profile.Lines ?? throw new ArgumentException($"Profile '{profile.Name}' does not say how its lines are written.", nameof(profile));
        _clock = clock;
        _sink = sink;
        _logger = logger;
        _pause = pause ?? Pauses.Real;
        _parser = new LineParser(_format, profile.Inputs);
        _framer = new LineFramer(_parser.MaximumLength);
        _keeper = new LineKeeper<IByteLink>(instrument.Id, open, clock, backoff, logger);
        foreach (ChannelDefinition channel in benchChannels.Where(c => c.Instrument == instrument.Id))
        {
            int input = ProfileInputs.IndexOf(profile, channel);
            _channels.Add(new StreamChannel(new ChannelFeed(channel, sink), profile.Inputs[input], input, clock.Now));
        }

        foreach (ChannelDefinition channel in benchChannels.Where(c => c.Ratio is not null))
        {
            StreamChannel? of = _channels.Find(c => c.Id == channel.Ratio!.Of);
            StreamChannel? over = _channels.Find(c => c.Id == channel.Ratio!.Over);
            if (of is not null && over is not null)
            {
                var feed = new ChannelFeed(channel, sink);
                _ratios.Add((new RatioFeed(feed, of.Feed.Channel, over.Feed.Channel), new StreamChannel(feed, null, -1, clock.Now), of, over));
            }
        }

        IEnumerable<TimeSpan> periods = _channels.Select(c => c.Feed.Channel.Period).DefaultIfEmpty(TimeSpan.FromSeconds(1));
        _shortest = periods.Min();
        _longest = periods.Max();
    }

    public string Name => _instrument.Id;

    public LineCounts Counts { get; } = new();

    public IReadOnlyList<InstrumentTally> Tallies => [new(Name, null, LineTally.Of(Counts))];

    public void Run(CancellationToken stop)
    {
        _sink.Report(new InstrumentNotice(Name, LinkState.Connecting, "opening the line"));
        using CancellationTokenRegistration waker = stop.Register(() => _keeper.Line?.Wake());
        try
        {
            while (!stop.IsCancellationRequested)
            {
                if (_keeper.Line is IByteLink link)
                {
                    WhileOpen(link);
                }
                else
                {
                    WhileClosed(stop);
                }
            }
        }
        finally
        {
            _keeper.Stop();
            AcquisitionLog.LineCounts(_logger, Name, Counts.ToString());
        }
    }

    private void WhileClosed(CancellationToken stop)
    {
        try
        {
            if (_keeper.TryOpen())
            {
                _framer.Restart();
                Counts.ForgetSequence();
                _lastReject = LineReject.None;
                _lastValid = _clock.Now;
                return;
            }
        }
        catch (LinkException error)
        {
            GoDown(error.Remedy.Length > 0 ? $"{error.Message}; {error.Remedy}" : error.Message);
        }

        EngineTime now = _clock.Now;
        EngineTime next = WatchSilence(now);
        Promise(now);
        if (_keeper.Opening is null && _keeper.NextTry < next)
        {
            next = _keeper.NextTry;
        }

        _pause(next > now ? next - now : TimeSpan.Zero, _keeper.Opening, stop);
    }

    private void WhileOpen(IByteLink link)
    {
        try
        {
            EngineTime before = _clock.Now;
            EngineTime nextFault = WatchSilence(before);
            TimeSpan wait = nextFault - before < IdleStep ? nextFault - before : IdleStep;
            int count = link.Read(_buffer, wait > TimeSpan.Zero ? wait : TimeSpan.Zero);
            if (count > 0)
            {
                Take(_buffer.AsSpan(0, count), _clock.FromStamp(link.LastArrival));
                Promise(before);
            }
            else
            {
                Promise(before);
                if (_framer.HasPart && before - _partSince > _shortest * 3)
                {
                    _framer.ExpirePart();
                    CountReject(LineReject.PartExpired);
                }
            }

            TellRejects(before);
            TimeSpan limit = _longest * 10 > SuspectAfter ? _longest * 10 : SuspectAfter;
            if (before - _lastValid > limit)
            {
                _keeper.Discard();
                GoDown(_lastReject == LineReject.None
                    ? $"no line for {limit.TotalSeconds:0.#} s; check that the instrument is on and the baud rate is right"
                    : $"no valid line for {limit.TotalSeconds:0.#} s, the last one was rejected ({_lastReject}); check the baud rate and the profile");
            }
        }
        catch (LinkException error)
        {
            _keeper.Discard();
            GoDown($"{error.Message}; {error.Remedy}");
        }
    }

    private void Take(ReadOnlySpan<byte> bytes, EngineTime arrival)
    {
        if (!_framer.HasPart)
        {
            _partSince = arrival;
        }

        long tooLong = _framer.TooLong;
        while (_framer.TryTake(ref bytes, out ReadOnlySpan<byte> line))
        {
            _partSince = arrival;
            if (line.IsEmpty)
            {
                continue;
            }

            switch (_parser.Parse(line))
            {
                case LineKind.Samples:
                    Valid(arrival, _parser.Sequence, _format.Checksum != "none");
                    TakeSamples(arrival);
                    break;
                case LineKind.Frame:
                    Valid(arrival, sequence: null, isChecked: true);
                    TakeFrame(arrival);
                    break;
                default:
                    CountReject(_parser.Reject);
                    break;
            }
        }

        if (_framer.TooLong > tooLong)
        {
            CountReject(LineReject.TooLong, _framer.TooLong - tooLong);
        }
    }

    private void Valid(EngineTime arrival, uint? sequence, bool isChecked)
    {
        // Frames count apart from samples; only the samples' own numbering tells of lines lost.
        Counts.CountValid(sequence, isChecked);
        _lastValid = arrival;
        _lastReject = LineReject.None;
        _keeper.Backoff.Reset();
        if (!_talking)
        {
            _talking = true;
            _reason = "";
            AcquisitionLog.Talking(_logger, Name, "lines come");
            _sink.Report(new InstrumentNotice(Name, LinkState.Talking, "lines come"));
        }
    }

    private void TakeSamples(EngineTime at)
    {
        ReadOnlySpan<double> fields = _parser.Fields;
        foreach (StreamChannel channel in _channels)
        {
            if (channel.Input!.Kind == ChannelKind.Series)
            {
                channel.Take(at, channel.Read(fields));
            }
        }

        foreach ((RatioFeed ratio, StreamChannel stream, StreamChannel of, StreamChannel over) in _ratios)
        {
            stream.Take(at, ratio.Form(of.LastLine, over.LastLine));
        }
    }

    private void TakeFrame(EngineTime at)
    {
        foreach (StreamChannel channel in _channels)
        {
            if (channel.InputIndex == _parser.FrameInput)
            {
                channel.TakeFrame(at, _parser.Frame);
            }
        }
    }

    /// <summary>Posts the faults of channels that are silent too long; returns when the next would be due.</summary>
    private EngineTime WatchSilence(EngineTime now)
    {
        EngineTime next = now + TimeSpan.FromSeconds(1);
        bool down = _keeper.Line is null;
        FaultCode why = down ? FaultCode.LineDown
            : _lastReject != LineReject.None ? LineParser.FaultOf(_lastReject)
            : FaultCode.Missing;
        foreach (StreamChannel channel in _channels)
        {
            EngineTime due = channel.WatchSilence(now, down, why);
            next = due < next ? due : next;
        }

        foreach ((_, StreamChannel stream, _, _) in _ratios)
        {
            EngineTime due = stream.WatchSilence(now, down, why);
            next = due < next ? due : next;
        }

        return next;
    }

    private void Promise(EngineTime now)
    {
        // Once in ten milliseconds is often enough for the merge, whatever the rate of lines.
        if (now < _promised + TimeSpan.FromMilliseconds(10))
        {
            return;
        }

        _promised = now;
        foreach (StreamChannel channel in _channels)
        {
            channel.Promise(now);
        }

        foreach ((_, StreamChannel stream, _, _) in _ratios)
        {
            stream.Promise(now);
        }
    }

    private void CountReject(LineReject reason, long times = 1)
    {
        Counts.CountReject(reason, times);
        _lastReject = reason;
    }

    /// <summary>Rejected lines are worth a line in the log, once a minute at most.</summary>
    private void TellRejects(EngineTime now)
    {
        if (now < _tellRejectsAt)
        {
            return;
        }

        _tellRejectsAt = now + TimeSpan.FromMinutes(1);
        long rejected = Counts.Rejected;
        if (rejected > _rejectsTold)
        {
            _rejectsTold = rejected;
            AcquisitionLog.LineCounts(_logger, Name, Counts.ToString());
        }
    }

    private void GoDown(string reason)
    {
        if (_talking || reason != _reason)
        {
            _talking = false;
            _reason = reason;
            AcquisitionLog.Down(_logger, Name, reason);
            _sink.Report(new InstrumentNotice(Name, LinkState.Down, reason, _keeper.NextTry - _clock.Now));
        }
    }
}
