using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Acquisition.Sampling;

/// <summary>
/// The last stretch of a channel's way into the sink: applies the channel's rules, keeps its instants rising strictly
/// on whole milliseconds and never before what it has promised. Lines that share one arrival are set one millisecond
/// apart, and no reading moves further than its neighbours force it to. One thread.
/// </summary>
public sealed class ChannelFeed
{
    private readonly IReadingSink _sink;
    private readonly ReadingRules _rules;
    private EngineTime _promised = EngineTime.MinValue;

    public ChannelFeed(ChannelDefinition channel, IReadingSink sink)
    {
        Channel = channel;
        _sink = sink;
        _rules = new ReadingRules(channel.Faults, channel.Period);
    }

    public ChannelDefinition Channel { get; }

    /// <summary>The instant of the last reading posted; null before the first.</summary>
    public EngineTime? Last { get; private set; }

    /// <summary>The last reading posted, after the rules.</summary>
    public Reading LastReading { get; private set; }

    public Reading Post(EngineTime at, in Reading reading)
    {
        at = Rising(at);
        LastReading = _rules.Apply(at, reading);
        _sink.Post(Channel.Key, at, LastReading);
        return LastReading;
    }

    public void Post(EngineTime at, Frame frame)
    {
        if (_rules.Apply(frame) is FaultCode fault)
        {
            Fail(at, fault);
            return;
        }

        _sink.Post(Channel.Key, Rising(at), frame);
    }

    public void Fail(EngineTime at, FaultCode fault) => Post(at, Reading.Failed(fault));

    /// <summary>Promises that nothing measured before this instant will be posted; a promise never runs back.</summary>
    public void Promise(EngineTime nothingBefore)
    {
        if (nothingBefore > _promised)
        {
            _promised = nothingBefore;
            _sink.Promise(Channel.Key, nothingBefore);
        }
    }

    private EngineTime Rising(EngineTime at)
    {
        at = at.FloorToMillisecond();
        if (at < _promised)
        {
            at = (_promised + TimeSpan.FromTicks(TimeSpan.TicksPerMillisecond - 1)).FloorToMillisecond();
        }

        if (Last is EngineTime last && at <= last)
        {
            at = new EngineTime(last.Nanoseconds + EngineTime.NanosecondsPerMillisecond);
        }

        Last = at;
        return at;
    }
}
