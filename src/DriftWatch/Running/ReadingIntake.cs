using System.Collections.Concurrent;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Running;

/// <summary>
/// The front door of a running bench: takes readings from the owner threads of the lines, keeps the newest of each
/// channel for the page, and queues everything for the pipeline. While the store can't write, readings wait here up to
/// a bound; beyond it they are dropped and counted, never silently.
/// </summary>
public sealed class ReadingIntake : IReadingSink
{
    private readonly ConcurrentQueue<EngineInput> _queue = new();
    private readonly ConcurrentDictionary<string, LinkTally> _links = new(StringComparer.Ordinal);
    private readonly int _bound;
    private readonly Func<EngineTime>? _now;
    private Slot[] _slots = [];
    private long _dropped;
    private int _heldByPipeline;

    /// <param name="bound">Most readings held in memory, here and in the pipeline together; ≥ 1.</param>
    /// <param name="now">The engine's clock, for when a line went up or down; without it nobody knows since when.</param>
    public ReadingIntake(int bound, Func<EngineTime>? now = null)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(bound, 1);
        _bound = bound;
        _now = now;
    }

    /// <summary>Readings lost because the bound was reached.</summary>
    public long Dropped => Interlocked.Read(ref _dropped);

    /// <summary>Readings the pipeline has taken and not yet seen journaled; it says so itself.</summary>
    public int HeldByPipeline
    {
        get => Volatile.Read(ref _heldByPipeline);
        set => Volatile.Write(ref _heldByPipeline, value);
    }

    public int Held => _queue.Count + HeldByPipeline;

    public IReadOnlyList<InstrumentNotice> Notices => [.. _links.Values.Select(l => l.Notice).OrderBy(n => n.Instrument, StringComparer.Ordinal)];

    /// <summary>What became of an instrument's line; null before anything was heard of it.</summary>
    internal LinkTally? Link(string instrument) => _links.GetValueOrDefault(instrument);

    /// <summary>What a channel has brought; its rate is that of the last minute before the instant given.</summary>
    internal ReadingTally Tally(int channel, EngineTime now)
    {
        Slot[] slots = Volatile.Read(ref _slots);
        return (uint)channel < (uint)slots.Length ? slots[channel].Tally(now) : ReadingTally.None;
    }

    /// <summary>Makes room for the channels of a bench file; newest readings of channels that stay are kept.</summary>
    public void SetBench(BenchDefinition bench)
    {
        int size = bench.Channels.Count == 0 ? 0 : bench.Channels.Max(c => c.Key) + 1;
        Slot[] old = _slots;
        var slots = new Slot[Math.Max(size, old.Length)];
        for (int i = 0; i < slots.Length; i++)
        {
            slots[i] = i < old.Length ? old[i] : new Slot();
        }

        Volatile.Write(ref _slots, slots);
        foreach (string gone in _links.Keys.Except(bench.Instruments.Select(i => i.Id)).ToList())
        {
            _links.TryRemove(gone, out _);
        }
    }

    public void Post(int channel, EngineTime at, in Reading reading) => Take(EngineInput.OfReading(at, channel, reading));

    public void Post(int channel, EngineTime at, Frame frame) => Take(EngineInput.OfFrame(at, channel, frame));

    public void Promise(int channel, EngineTime nothingBefore)
    {
        Slot[] slots = Volatile.Read(ref _slots);
        if ((uint)channel < (uint)slots.Length)
        {
            slots[channel].Promise(nothingBefore.Nanoseconds);
        }
    }

    public void Report(InstrumentNotice notice) => _links.AddOrUpdate(
        notice.Instrument, _ => LinkTally.First(notice, _now?.Invoke()), (_, link) => link.After(notice, _now?.Invoke()));

    /// <summary>The newest input of a channel, or null before its first.</summary>
    public EngineInput? Newest(int channel)
    {
        Slot[] slots = Volatile.Read(ref _slots);
        return (uint)channel < (uint)slots.Length ? slots[channel].Newest : null;
    }

    /// <summary>The newest frame that was no fault, or null.</summary>
    public EngineInput? NewestFrame(int channel)
    {
        Slot[] slots = Volatile.Read(ref _slots);
        return (uint)channel < (uint)slots.Length ? slots[channel].NewestFrame : null;
    }

    /// <summary>
    /// Moves all that has been posted into the merge. Promises are read before the queue is emptied: what was posted
    /// before a promise is then certainly in the merge when the promise is.
    /// </summary>
    public int DrainInto(InputMerge merge)
    {
        Slot[] slots = Volatile.Read(ref _slots);
        Span<long> promises = slots.Length <= 256 ? stackalloc long[slots.Length] : new long[slots.Length];
        for (int i = 0; i < slots.Length; i++)
        {
            promises[i] = slots[i].Promised;
        }

        int taken = 0;
        while (_queue.TryDequeue(out EngineInput input))
        {
            merge.Offer(input);
            taken++;
        }

        for (int i = 0; i < promises.Length; i++)
        {
            if (promises[i] != long.MinValue)
            {
                merge.Promise(i, new EngineTime(promises[i]));
            }
        }

        return taken;
    }

    private void Take(in EngineInput input)
    {
        Slot[] slots = Volatile.Read(ref _slots);
        if ((uint)input.Channel >= (uint)slots.Length)
        {
            return; // a channel that a reload has just removed
        }

        slots[input.Channel].Show(input);
        if (Held >= _bound)
        {
            Interlocked.Increment(ref _dropped);
            return;
        }

        _queue.Enqueue(input);
    }

    /// <summary>One channel's newest reading, written by its line's owner and read by anyone.</summary>
    private sealed class Slot
    {
        private readonly Lock _gate = new();
        private readonly ReadingCounts _counts = new();
        private EngineInput? _newest;
        private EngineInput? _newestFrame;
        private long _promised = long.MinValue;

        public long Promised => Interlocked.Read(ref _promised);

        public EngineInput? Newest
        {
            get
            {
                lock (_gate)
                {
                    return _newest;
                }
            }
        }

        public EngineInput? NewestFrame
        {
            get
            {
                lock (_gate)
                {
                    return _newestFrame;
                }
            }
        }

        public void Promise(long nanoseconds) => Interlocked.Exchange(ref _promised, nanoseconds);

        public ReadingTally Tally(EngineTime now)
        {
            lock (_gate)
            {
                return _counts.At(now);
            }
        }

        public void Show(in EngineInput input)
        {
            lock (_gate)
            {
                _counts.Count(input);
                if (_newest is null || input.Time >= _newest.Value.Time)
                {
                    _newest = input;
                    _newestFrame = input.Kind == InputKind.Frame ? input : _newestFrame;
                }
            }
        }
    }
}
