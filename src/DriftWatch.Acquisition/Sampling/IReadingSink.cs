using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Acquisition.Sampling;

/// <summary>
/// Where instruments put what they measured. Called from the owner thread of each line, any number of threads at
/// once; never blocks on the store. Instants of one channel rise strictly; a driver stamps with
/// <see cref="EngineTime.FloorToMillisecond"/>.
/// </summary>
public interface IReadingSink
{
    void Post(int channel, EngineTime at, in Reading reading);

    void Post(int channel, EngineTime at, Frame frame);

    /// <summary>The channel promises to post nothing measured before this instant; the merge need not wait for it.</summary>
    void Promise(int channel, EngineTime nothingBefore);

    /// <summary>For logs, metrics and the page: what happened to an instrument's line.</summary>
    void Report(InstrumentNotice notice);
}

public enum LinkState
{
    /// <summary>The line is being opened or waits for its next try.</summary>
    Connecting,

    /// <summary>Open and talking: a valid reading has come since it was opened.</summary>
    Talking,

    /// <summary>Down: the last try failed or the line died.</summary>
    Down,
}

/// <summary>A change of an instrument's line, with the reason in words and the time of the next try.</summary>
public sealed record InstrumentNotice(string Instrument, LinkState State, string Reason, TimeSpan? RetryIn = null);
