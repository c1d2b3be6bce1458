using DriftWatch.Measurement.Inputs;

namespace DriftWatch.Storage;

/// <summary>
/// Inputs that wait in memory while the store can't take them, up to a bound that is stated and counted: when it is
/// reached the new ones are dropped, not the old, because numbers must go on without a gap from what is stored.
/// Not safe for several threads at once.
/// </summary>
public sealed class HeldBatches
{
    private readonly List<EngineInput> _held = [];

    /// <param name="most">The greatest number of inputs held; 600,000 are about 50 MB, 50 minutes of 20 channels at 10 Hz.</param>
    public HeldBatches(int most = 600_000)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(most, 1);
        Most = most;
    }

    public int Most { get; }

    public int Count => _held.Count;

    /// <summary>Inputs dropped since the start because the bound was reached.</summary>
    public long Dropped { get; private set; }

    /// <summary>Holds the inputs, or what there is room for. False when any was dropped: the caller must not use their numbers.</summary>
    public bool Hold(ReadOnlySpan<EngineInput> inputs)
    {
        int room = Math.Min(inputs.Length, Most - _held.Count);
        _held.AddRange(inputs[..room]);
        Dropped += inputs.Length - room;
        return room == inputs.Length;
    }

    /// <summary>Gives what is held to the store, oldest first; what it refuses stays held, and its exception goes on to the caller.</summary>
    /// <exception cref="StoreException">The store still can't take it.</exception>
    public void StoreInto(BenchStore store)
    {
        const int Piece = 20_000;
        int done = 0;
        try
        {
            Span<EngineInput> held = System.Runtime.InteropServices.CollectionsMarshal.AsSpan(_held);
            while (done < held.Length)
            {
                int count = Math.Min(Piece, held.Length - done);
                store.Append(held.Slice(done, count));
                done += count;
            }
        }
        finally
        {
            _held.RemoveRange(0, done);
        }
    }
}
