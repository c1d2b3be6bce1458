using System.IO.Ports;

namespace DriftWatch.Acquisition.Lines;

/// <summary>
/// A serial port through System.IO.Ports: the way on Windows, and on Linux where a driver refuses the direct calls or
/// where it is asked for. After any error but a stalled write the port object is thrown away.
/// </summary>
internal sealed class SerialPortLink : PumpedLink
{
    private readonly SerialPort _port;

    private SerialPortLink(SerialPort port, TimeProvider time)
        : base(port.PortName, time)
    {
        _port = port;
    }

    public static SerialPortLink Open(SerialSettings settings, TimeProvider time)
    {
        var port = new SerialPort(
            settings.Port,
            settings.Baud,
            settings.Framing.PortParity,
            settings.Framing.DataBits,
            settings.Framing.StopBits == 2 ? StopBits.Two : StopBits.One)
        {
            ReadTimeout = SerialPort.InfiniteTimeout,
            WriteTimeout = 1000,
        };
        try
        {
            port.Open();

            // Set only when asked: a pseudo-terminal and some adapters refuse.
            if (settings.Dtr is bool dtr)
            {
                port.DtrEnable = dtr;
            }

            if (settings.Rts is bool rts)
            {
                port.RtsEnable = rts;
            }

            port.DiscardInBuffer();
        }
        catch (Exception error) when (error is IOException or UnauthorizedAccessException or ArgumentException or InvalidOperationException)
        {
            port.Dispose();
            throw Explain(settings.Port, error);
        }

        var link = new SerialPortLink(port, time);
        link.StartPump();
        return link;
    }

    public override void Write(ReadOnlySpan<byte> bytes)
    {
        try
        {
            _port.BaseStream.Write(bytes);
        }
        catch (TimeoutException)
        {
            throw LinkErrors.WriteStalled(Name);
        }
        catch (Exception error) when (error is IOException or ObjectDisposedException or InvalidOperationException)
        {
            throw LinkErrors.Died(Name, error.Message, error);
        }
    }

    protected override int ReadBlocking(byte[] buffer) => _port.BaseStream.Read(buffer, 0, buffer.Length);

    protected override void Close() => _port.Dispose();

    /// <summary>The class says 'denied' for a missing port, too: what the system said is inside.</summary>
    private static LinkException Explain(string port, Exception error)
    {
        bool missing = OperatingSystem.IsWindows()
            ? error is FileNotFoundException
            : !File.Exists(port) || new FileInfo(port) is { LinkTarget: not null } link
                && link.ResolveLinkTarget(returnFinalTarget: true) is not { Exists: true };
        if (missing)
        {
            return LinkErrors.Missing(port);
        }

        return error switch
        {
            UnauthorizedAccessException when OperatingSystem.IsWindows() => LinkErrors.OpenFailed(port, LinkErrors.Busy, ""),
            UnauthorizedAccessException { InnerException: IOException inner } when inner.Message.Contains("busy", StringComparison.OrdinalIgnoreCase)
                => LinkErrors.OpenFailed(port, LinkErrors.Busy, ""),
            UnauthorizedAccessException => LinkErrors.OpenFailed(port, LinkErrors.AccessDenied, ""),
            _ => new LinkException(
                $"port '{port}' could not be opened: {error.Message}",
                "check baud, framing, dtr and rts of the instrument in the bench file"),
        };
    }
}
