namespace DriftWatch.Acquisition.Lines;

/// <summary>
/// An open line that carries bytes both ways: a serial port or a raw TCP connection. One thread owns it; only
/// <see cref="Wake"/> and <see cref="IDisposable.Dispose"/> may be called from another.
/// </summary>
public interface IByteLink : IDisposable
{
    /// <summary>For messages: the port or address as the bench file names it.</summary>
    string Name { get; }

    /// <summary>
    /// The <see cref="TimeProvider.GetTimestamp"/> stamp taken right after the bytes of the last <see cref="Read"/>
    /// came out of the system.
    /// </summary>
    long LastArrival { get; }

    /// <summary>
    /// Waits for bytes and returns how many were put into the buffer; 0 when none came within the timeout or
    /// <see cref="Wake"/> was called. Never loses a byte, whatever the timeout.
    /// </summary>
    /// <param name="buffer">At least one byte long.</param>
    /// <param name="timeout">Zero only looks; <see cref="Timeout.InfiniteTimeSpan"/> waits for ever.</param>
    /// <exception cref="LinkException">The line has died; it must be disposed and opened anew.</exception>
    int Read(Span<byte> buffer, TimeSpan timeout);

    /// <summary>Writes all bytes.</summary>
    /// <exception cref="LinkException">The line has died, or took no bytes for a second.</exception>
    void Write(ReadOnlySpan<byte> bytes);

    /// <summary>Ends a <see cref="Read"/> that waits now, or else the next one, early.</summary>
    void Wake();
}
