using DriftWatch.Acquisition.Sampling;

namespace DriftWatch.Acquisition.Lines;

/// <summary>
/// A byte link as instruments that are asked use it: a wait for a reply is cut into steps, so that the owner can go
/// on with its neighbours' faults and can be stopped at once.
/// </summary>
internal sealed class PolledByteLine(IByteLink link, TimeProvider time) : IPolledLine, IByteLink
{
    private TimeSpan _step = TimeSpan.MaxValue;
    private Action _idle = static () => { };

    public string Name => link.Name;

    public long LastArrival => link.LastArrival;

    public void WhileWaiting(TimeSpan everyAtMost, Action idle)
    {
        _step = everyAtMost;
        _idle = idle;
    }

    public int Read(Span<byte> buffer, TimeSpan timeout)
    {
        long start = time.GetTimestamp();
        while (true)
        {
            TimeSpan left = timeout - time.GetElapsedTime(start);
            int count = link.Read(buffer, left < _step ? (left > TimeSpan.Zero ? left : TimeSpan.Zero) : _step);
            if (count > 0)
            {
                return count;
            }

            _idle();
            if (time.GetElapsedTime(start) >= timeout)
            {
                return 0;
            }
        }
    }

    public void Write(ReadOnlySpan<byte> bytes) => link.Write(bytes);

    public void Wake() => link.Wake();

    public void Dispose() => link.Dispose();

    /// <summary>Reads and throws away until the line has been quiet for so long. False when it never was within the limit.</summary>
    public bool Drain(TimeSpan quiet, TimeSpan limit)
    {
        Span<byte> waste = stackalloc byte[256];
        long start = time.GetTimestamp();
        while (Read(waste, quiet) > 0)
        {
            if (time.GetElapsedTime(start) > limit)
            {
                return false;
            }
        }

        return true;
    }
}
