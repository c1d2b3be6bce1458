using System.Net;
using System.Net.Sockets;

namespace DriftWatch.Acquisition.Lines;

/// <summary>A raw TCP connection: no protocol beneath the instrument's own, as instruments offer on port 5025 and serial servers on theirs.</summary>
internal sealed class TcpLink : PumpedLink
{
    private readonly Socket _socket;

    private TcpLink(Socket socket, string name, TimeProvider time)
        : base(name, time)
    {
        _socket = socket;
    }

    /// <param name="host">Name or address.</param>
    /// <param name="port">1–65535.</param>
    /// <param name="limit">How long connecting may take.</param>
    /// <param name="time">For stamps.</param>
    public static TcpLink Open(string host, int port, TimeSpan limit, TimeProvider time)
    {
        string name = $"{host}:{port}";
        var socket = new Socket(SocketType.Stream, ProtocolType.Tcp) { NoDelay = true, SendTimeout = 1000 };
        try
        {
            using var cancel = new CancellationTokenSource(limit, time);
            socket.ConnectAsync(host, port, cancel.Token).AsTask().GetAwaiter().GetResult();

            // A peer that lost its power says nothing more: without probes a read would wait for ever.
            socket.SetSocketOption(SocketOptionLevel.Socket, SocketOptionName.KeepAlive, optionValue: true);
            socket.SetSocketOption(SocketOptionLevel.Tcp, SocketOptionName.TcpKeepAliveTime, 10);
            socket.SetSocketOption(SocketOptionLevel.Tcp, SocketOptionName.TcpKeepAliveInterval, 5);
            socket.SetSocketOption(SocketOptionLevel.Tcp, SocketOptionName.TcpKeepAliveRetryCount, 3);
        }
        catch (OperationCanceledException error)
        {
            socket.Dispose();
            throw new LinkException(
                $"no answer from {name} within {limit.TotalSeconds:0.#} s",
                "check the instrument's power and network, and host and port in the bench file",
                error);
        }
        catch (SocketException error)
        {
            socket.Dispose();
            throw Explain(host, name, error);
        }

        var link = new TcpLink(socket, name, time);
        link.StartPump();
        return link;
    }

    /// <summary>True where the name is this machine: such a peer is retried as quickly as a local port.</summary>
    public static bool IsLoopback(string host) =>
        string.Equals(host, "localhost", StringComparison.OrdinalIgnoreCase)
        || (IPAddress.TryParse(host, out IPAddress? address) && IPAddress.IsLoopback(address));

    public override void Write(ReadOnlySpan<byte> bytes)
    {
        try
        {
            while (bytes.Length > 0)
            {
                bytes = bytes[_socket.Send(bytes)..];
            }
        }
        catch (SocketException error) when (error.SocketErrorCode is SocketError.TimedOut or SocketError.WouldBlock)
        {
            throw LinkErrors.WriteStalled(Name);
        }
        catch (Exception error) when (error is SocketException or ObjectDisposedException)
        {
            throw LinkErrors.Died(Name, error.Message, error);
        }
    }

    protected override int ReadBlocking(byte[] buffer) => _socket.Receive(buffer);

    protected override void Close() => _socket.Dispose();

    private static LinkException Explain(string host, string name, SocketException error) => error.SocketErrorCode switch
    {
        SocketError.ConnectionRefused => new LinkException(
            $"{name} refuses the connection",
            "check the port in the bench file and that the instrument's network service is on and not in use by another program",
            error),
        SocketError.HostNotFound or SocketError.NoData or SocketError.TryAgain => new LinkException(
            $"host '{host}' is not known",
            "write the instrument's address, or a name that this machine can look up, in the bench file",
            error),
        SocketError.HostUnreachable or SocketError.NetworkUnreachable => new LinkException(
            $"{name} can't be reached",
            "check the network cable and the address",
            error),
        _ => new LinkException(
            $"{name} could not be reached: {error.Message}",
            "check the instrument's power and network, and host and port in the bench file",
            error),
    };
}
