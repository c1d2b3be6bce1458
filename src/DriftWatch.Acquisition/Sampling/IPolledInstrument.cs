using DriftWatch.Measurement.Samples;

namespace DriftWatch.Acquisition.Sampling;

/// <summary>
/// A line whose instruments answer when asked: a serial port, a TCP connection, an I²C bus, an SPI device. Opened on a
/// throwaway task, used on the owner's thread only.
/// </summary>
public interface IPolledLine : IDisposable
{
    /// <summary>
    /// Told before use: what to call now and then while waiting for a reply, and within what time, so that the faults of
    /// neighbours that are down stay punctual. A line whose readings take a few milliseconds may ignore it.
    /// </summary>
    void WhileWaiting(TimeSpan everyAtMost, Action idle);

    /// <summary>Ends a wait on the line early; called from any thread when the owner must stop.</summary>
    void Wake();
}

/// <summary>An instrument on a polled line. Made anew with each opened line; owner's thread only.</summary>
public interface IPolledInstrument
{
    /// <summary>
    /// Makes sure that the right instrument answers and that no stale reply is on the way: called after the line was
    /// opened, and after every failed scan before readings are trusted again. Returns its identity for people.
    /// </summary>
    /// <exception cref="PollException">It does not answer, or is the wrong one.</exception>
    /// <exception cref="Lines.LinkException">The line died.</exception>
    string Greet();

    /// <summary>Reads inputs by their index in the profile; result i belongs to inputs[i].</summary>
    /// <exception cref="PollException">The whole scan failed: no reading of it is used.</exception>
    /// <exception cref="Lines.LinkException">The line died.</exception>
    void Scan(ReadOnlySpan<int> inputs, Span<PolledReading> results);
}

/// <summary>
/// One input's reading with the <see cref="TimeProvider.GetTimestamp"/> stamps of request and reply; its instant is
/// their midpoint.
/// </summary>
public readonly record struct PolledReading(Reading Reading, long RequestStamp, long ReplyStamp);

/// <summary>An instrument failed to answer properly: what was wrong, as a fault for its channels and as words.</summary>
public sealed class PollException(FaultCode fault, string what, string remedy = "") : Exception(what)
{
    public FaultCode Fault { get; } = fault;

    public string Remedy { get; } = remedy;

    /// <summary>The message, and the remedy if there is one.</summary>
    public string Words => Remedy.Length > 0 ? $"{Message}; {Remedy}" : Message;
}
