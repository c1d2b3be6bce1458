using DriftWatch.Acquisition.Lines;
using Microsoft.Extensions.Time.Testing;

namespace DriftWatch.Tests.Acquisition.Sampling;

/// <summary>
/// A line on simulated time: a read with nothing to give moves the clock on by its timeout; bytes written are answered
/// after a delay by whoever simulates the instrument.
/// </summary>
internal sealed class ScriptedLink(FakeTimeProvider time, Func<byte[], IEnumerable<(TimeSpan After, byte[] Bytes)>>? answer = null) : IByteLink
{
    private readonly PriorityQueue<byte[], long> _coming = new();
    private byte[] _here = [];

    public string Name => "scripted";

    public long LastArrival { get; private set; }

    public bool IsDead { get; set; }

    public bool IsDisposed { get; private set; }

    public void Send(TimeSpan after, byte[] bytes) => _coming.Enqueue(bytes, time.GetTimestamp() + after.Ticks);

    public int Read(Span<byte> buffer, TimeSpan timeout)
    {
        if (IsDead)
        {
            throw new LinkException("line 'scripted' went down", "scripted");
        }

        if (_here.Length == 0)
        {
            long now = time.GetTimestamp();
            if (!_coming.TryPeek(out _, out long due) || due > now + timeout.Ticks)
            {
                // Zero only looks; but a loop that only looks must not stand still for ever.
                time.Advance(timeout);
                return 0;
            }

            if (due > now)
            {
                time.Advance(TimeSpan.FromTicks(due - now));
            }

            _here = _coming.Dequeue();
        }

        int count = Math.Min(buffer.Length, _here.Length);
        _here.AsSpan(0, count).CopyTo(buffer);
        _here = _here[count..];
        LastArrival = time.GetTimestamp();
        return count;
    }

    public void Write(ReadOnlySpan<byte> bytes)
    {
        if (IsDead)
        {
            throw new LinkException("line 'scripted' went down", "scripted");
        }

        if (answer is not null)
        {
            foreach ((TimeSpan after, byte[] reply) in answer(bytes.ToArray()))
            {
                Send(after, reply);
            }
        }
    }

    public void Wake()
    {
    }

    public void Dispose() => IsDisposed = true;

    /// <summary>The pause of an owner on the same simulated time.</summary>
    public static DriftWatch.Acquisition.Sampling.Pause PauseOn(FakeTimeProvider time) => (limit, until, _) =>
    {
        if (until is null)
        {
            time.Advance(limit);
        }
        else
        {
            ((IAsyncResult)until).AsyncWaitHandle.WaitOne();
        }
    };
}
