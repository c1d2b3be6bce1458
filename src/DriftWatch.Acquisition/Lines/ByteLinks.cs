using DriftWatch.Measurement.Benches;

namespace DriftWatch.Acquisition.Lines;

/// <summary>How a serial port is to be opened.</summary>
internal sealed record SerialSettings(string Port, int Baud, SerialFraming Framing, bool? Dtr = null, bool? Rts = null);

/// <summary>Which code drives serial ports.</summary>
public enum SerialDriver
{
    /// <summary>Direct calls on Linux, System.IO.Ports elsewhere and where a port refuses the direct calls.</summary>
    Automatic,

    /// <summary>System.IO.Ports everywhere: set the environment variable <c>DRIFTWATCH_SERIAL</c> to <c>portable</c>.</summary>
    Portable,
}

/// <summary>Opens the link that a connection asks for.</summary>
public static class ByteLinks
{
    /// <summary>Connecting to a network peer may take this long. Common practice, no source.</summary>
    private static readonly TimeSpan ConnectLimit = TimeSpan.FromSeconds(3);

    public static SerialDriver DefaultDriver { get; } =
        string.Equals(Environment.GetEnvironmentVariable("DRIFTWATCH_SERIAL"), "portable", StringComparison.OrdinalIgnoreCase)
            ? SerialDriver.Portable
            : SerialDriver.Automatic;

    /// <summary>Opens; blocks for up to three seconds (a network peer that does not answer).</summary>
    /// <exception cref="LinkException">With what is wrong and what to do.</exception>
    public static IByteLink Open(ConnectionDefinition connection, TimeProvider time, SerialDriver? driver = null)
    {
        switch (connection.Kind)
        {
            case ConnectionKind.Serial:
                var settings = new SerialSettings(
                    connection.Port ?? throw new LinkException("the connection names no port", "write port = \"…\" in the bench file"),
                    connection.Baud,
                    SerialFraming.Parse(connection.Framing),
                    connection.Dtr,
                    connection.Rts);
                if (OperatingSystem.IsLinux() && (driver ?? DefaultDriver) == SerialDriver.Automatic
                    && TtyLink.TryOpen(settings, time, out TtyLink? tty))
                {
                    return tty!;
                }

                return SerialPortLink.Open(settings, time);

            case ConnectionKind.Tcp:
                return TcpLink.Open(
                    connection.Host ?? throw new LinkException("the connection names no host", "write host = \"…\" in the bench file"),
                    connection.TcpPort ?? throw new LinkException("the connection names no TCP port", "write tcp-port = … in the bench file"),
                    ConnectLimit,
                    time);

            default:
                throw new ArgumentException($"A {connection.Kind} connection carries no bytes.", nameof(connection));
        }
    }

    /// <summary>
    /// What tells one line from another: the port with links resolved, or host and port. Instruments with the same
    /// line share it and queue behind one owner.
    /// </summary>
    public static string LineOf(ConnectionDefinition connection) => connection.Kind switch
    {
        ConnectionKind.Serial => "serial:" + Resolve(connection.Port ?? ""),
        ConnectionKind.Tcp => $"tcp:{connection.Host}:{connection.TcpPort}",
        ConnectionKind.I2c => $"i2c:{connection.Bus}",
        ConnectionKind.Spi => $"spi:{connection.Bus}:{connection.Address}",
        _ => "practice",
    };

    /// <summary>True for a serial port or a peer on this machine: its line is retried quickly.</summary>
    public static bool IsLocal(ConnectionDefinition connection) =>
        connection.Kind != ConnectionKind.Tcp || TcpLink.IsLoopback(connection.Host ?? "");

    private static string Resolve(string port)
    {
        try
        {
            return new FileInfo(port).ResolveLinkTarget(returnFinalTarget: true)?.FullName ?? port;
        }
        catch (Exception error) when (error is IOException or UnauthorizedAccessException or ArgumentException)
        {
            return port;
        }
    }
}
