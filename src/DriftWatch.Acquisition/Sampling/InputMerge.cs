using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Acquisition.Sampling;

/// <summary>
/// Puts the inputs of many lines into the one order in which they are judged, and numbers them.
/// <para>
/// Each channel promises 'nothing before t'. Everything before the least promise is released at once; a channel that
/// promises nothing is waited for no longer than the lateness bound. What arrives for an instant that was already
/// released is late: it takes the next number, is stored and shown, and is not judged. That is decided here, once,
/// and travels with the input, so a replay obeys it instead of deciding again.
/// </para>
/// Ticks fall on the 100 ms grid of engine time and come after every reading of their instant. Not thread-safe: the
/// pipeline's thread owns it.
/// </summary>
public sealed class InputMerge
{
    private readonly TimeSpan _latenessBound;
    private readonly List<EngineInput> _pending = [];
    private readonly Dictionary<int, EngineTime> _promises = [];
    private readonly Dictionary<int, EngineTime> _lastReleased = [];
    private long _arrivals;
    private EngineTime _frontier;
    private EngineTime _nextTick;

    /// <param name="lastNumber">The number of the last input already in the log; 0 for a new log.</param>
    /// <param name="startsAt">Engine time at which this process begins; nothing is released before it.</param>
    /// <param name="latenessBound">Longest wait for a silent channel; ≥ 0.</param>
    public InputMerge(long lastNumber, EngineTime startsAt, TimeSpan latenessBound)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(lastNumber);
        ArgumentOutOfRangeException.ThrowIfLessThan(latenessBound, TimeSpan.Zero);
        LastNumber = lastNumber;
        _latenessBound = latenessBound;
        _frontier = startsAt;
        _nextTick = startsAt.NextTick();
    }

    /// <summary>The number given last.</summary>
    public long LastNumber { get; private set; }

    /// <summary>Everything before this instant has been released.</summary>
    public EngineTime Frontier => _frontier;

    public int PendingCount => _pending.Count;

    public long LateCount { get; private set; }

    /// <summary>
    /// The channels whose promises are waited for. One that is new promises nothing yet; one that is gone is no longer
    /// waited for.
    /// </summary>
    public void SetChannels(IEnumerable<int> channels)
    {
        var wanted = channels.ToHashSet();
        foreach (int gone in _promises.Keys.Where(c => !wanted.Contains(c)).ToList())
        {
            _promises.Remove(gone);
        }

        foreach (int channel in wanted)
        {
            _promises.TryAdd(channel, EngineTime.MinValue);
        }
    }

    /// <summary>The channel posts nothing measured before <paramref name="nothingBefore"/>; a promise never goes back.</summary>
    public void Promise(int channel, EngineTime nothingBefore)
    {
        if (_promises.TryGetValue(channel, out EngineTime promised) && nothingBefore > promised)
        {
            _promises[channel] = nothingBefore;
        }
    }

    /// <summary>
    /// Takes one input. Clock events, bench files, calibrations and commands happen when they are entered: one that
    /// would fall before the frontier is moved up to it. A reading is never moved.
    /// </summary>
    public void Offer(in EngineInput input)
    {
        bool isReading = input.Kind is InputKind.Sample or InputKind.Fault or InputKind.Frame;
        EngineTime time = !isReading && input.Time < _frontier ? _frontier : input.Time;
        // Number holds the arrival until release: it breaks ties of inputs that share time, kind and channel.
        _pending.Add(input with { Time = time, Number = ++_arrivals });
    }

    /// <summary>
    /// Appends to <paramref name="released"/> all that may be judged at <paramref name="now"/>, numbered and in order,
    /// ticks included.
    /// </summary>
    public void Release(EngineTime now, List<EngineInput> released)
    {
        EngineTime least = EngineTime.MaxValue;
        foreach (EngineTime promised in _promises.Values)
        {
            least = promised < least ? promised : least;
        }

        EngineTime waited = now - _latenessBound;
        EngineTime frontier = least > waited ? least : waited;
        ReleaseBefore(frontier < now ? frontier : now, released);
    }

    /// <summary>Releases all there is up to and including <paramref name="end"/>: the lines have stopped, nobody will post again.</summary>
    public void ReleaseAll(EngineTime end, List<EngineInput> released) =>
        ReleaseBefore(new EngineTime(end.Nanoseconds + 1), released);

    private void ReleaseBefore(EngineTime frontier, List<EngineInput> released)
    {
        if (_pending.Count > 0)
        {
            _pending.Sort(CompareWithArrival);
        }

        EngineTime old = _frontier;
        _frontier = frontier > old ? frontier : old;
        int taken = 0;
        while (taken < _pending.Count && _pending[taken].Time < _frontier)
        {
            EngineInput input = _pending[taken++];
            bool late = IsLate(input, old);
            if (!late)
            {
                ReleaseTicksBefore(input.Time, released);
            }

            Give(input, late, released);
        }

        _pending.RemoveRange(0, taken);
        ReleaseTicksBefore(_frontier, released);
    }

    private bool IsLate(in EngineInput input, EngineTime alreadyReleasedBefore)
    {
        if (input.Kind is not (InputKind.Sample or InputKind.Fault or InputKind.Frame))
        {
            return false;
        }

        if (input.Time < alreadyReleasedBefore)
        {
            return true;
        }

        // Two readings of one channel at one instant have no order of their own: the second is kept, not judged.
        if (_lastReleased.TryGetValue(input.Channel, out EngineTime last) && input.Time <= last)
        {
            return true;
        }

        _lastReleased[input.Channel] = input.Time;
        return false;
    }

    /// <summary>A tick at an instant comes after the readings of that instant, so it is due once a later one is released.</summary>
    private void ReleaseTicksBefore(EngineTime time, List<EngineInput> released)
    {
        while (_nextTick < time)
        {
            Give(EngineInput.OfTick(_nextTick), late: false, released);
            _nextTick = new EngineTime(_nextTick.Nanoseconds + EngineTime.TickGridNanoseconds);
        }
    }

    private void Give(in EngineInput input, bool late, List<EngineInput> released)
    {
        LateCount += late ? 1 : 0;
        released.Add(input with { Number = ++LastNumber, IsLate = late });
    }

    private static int CompareWithArrival(EngineInput left, EngineInput right)
    {
        int order = EngineInput.CompareForJudging(left, right);
        return order != 0 ? order : left.Number.CompareTo(right.Number);
    }
}
