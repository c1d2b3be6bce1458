namespace DriftWatch.Acquisition.Lines;

/// <summary>
/// A link over something that only knows how to block. A pump thread reads without any timeout (a timeout that fires
/// as data arrives loses bytes in the portable serial class) and queues what came with its stamp; the owner waits on
/// the queue, which can be woken.
/// </summary>
internal abstract class PumpedLink : IByteLink
{
    /// <summary>Beyond this the pump waits for the owner, so that a flood can't eat the memory.</summary>
    private const int QueueLimit = 1 << 20;

    private readonly object _gate = new();
    private readonly Queue<(byte[] Bytes, long Stamp)> _chunks = new();
    private readonly TimeProvider _time;
    private int _taken;
    private int _queued;
    private bool _woken;
    private bool _closed;
    private LinkException? _death;

    protected PumpedLink(string name, TimeProvider time)
    {
        Name = name;
        _time = time;
    }

    public string Name { get; }

    public long LastArrival { get; private set; }

    public int Read(Span<byte> buffer, TimeSpan timeout)
    {
        lock (_gate)
        {
            if (_chunks.Count == 0 && _death is null && !_woken && !_closed && timeout != TimeSpan.Zero)
            {
                // A spurious early return is harmless: the caller keeps its own deadline.
                Monitor.Wait(_gate, timeout == Timeout.InfiniteTimeSpan
                    ? timeout
                    : TimeSpan.FromMilliseconds(Math.Min(Math.Ceiling(timeout.TotalMilliseconds), int.MaxValue)));
            }

            _woken = false;
            if (_chunks.TryPeek(out (byte[] Bytes, long Stamp) chunk))
            {
                int count = Math.Min(buffer.Length, chunk.Bytes.Length - _taken);
                chunk.Bytes.AsSpan(_taken, count).CopyTo(buffer);
                _taken += count;
                _queued -= count;
                if (_taken == chunk.Bytes.Length)
                {
                    _chunks.Dequeue();
                    _taken = 0;
                }

                LastArrival = chunk.Stamp;
                Monitor.PulseAll(_gate);
                return count;
            }

            if (_closed)
            {
                throw LinkErrors.Died(Name, "it was closed");
            }

            return _death is null ? 0 : throw LinkErrors.Died(Name, _death.Message, _death);
        }
    }

    public abstract void Write(ReadOnlySpan<byte> bytes);

    public void Wake()
    {
        lock (_gate)
        {
            _woken = true;
            Monitor.PulseAll(_gate);
        }
    }

    public void Dispose()
    {
        lock (_gate)
        {
            if (_closed)
            {
                return;
            }

            _closed = true;
            Monitor.PulseAll(_gate);
        }

        Close();
        GC.SuppressFinalize(this);
    }

    /// <summary>Blocks until bytes come; 0 means that the other end closed. Throws when the line dies or is closed here.</summary>
    protected abstract int ReadBlocking(byte[] buffer);

    /// <summary>Closes and so ends a <see cref="ReadBlocking"/> under way. May hang on a dead port: called on a throwaway task.</summary>
    protected abstract void Close();

    protected void StartPump()
    {
        new Thread(Pump) { IsBackground = true, Name = "link " + Name }.Start();
    }

    private void Pump()
    {
        var buffer = new byte[4096];
        while (true)
        {
            int count;
            try
            {
                count = ReadBlocking(buffer);
            }
            catch (Exception error) when (error is IOException or ObjectDisposedException or InvalidOperationException
                or UnauthorizedAccessException or System.Net.Sockets.SocketException)
            {
                Die(new LinkException(error.Message, "", error));
                return;
            }

            long stamp = _time.GetTimestamp();
            if (count == 0)
            {
                Die(new LinkException("the other end closed the connection", ""));
                return;
            }

            lock (_gate)
            {
                while (_queued > QueueLimit && !_closed)
                {
                    Monitor.Wait(_gate);
                }

                if (_closed)
                {
                    return;
                }

                _chunks.Enqueue((buffer[..count], stamp));
                _queued += count;
                Monitor.PulseAll(_gate);
            }
        }
    }

    private void Die(LinkException why)
    {
        lock (_gate)
        {
            _death = why;
            Monitor.PulseAll(_gate);
        }
    }
}
