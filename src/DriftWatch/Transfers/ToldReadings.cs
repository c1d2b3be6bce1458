using System.Collections.Concurrent;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Transfers;

/// <summary>
/// What the steps of the line-up were told to read over the last hour. Who keeps a value before he turns anything names its instant, and the
/// value is taken from here, not from whoever asked. A restart forgets: a channel's value is in the store then, and a quantity's is worked out again.
/// Safe from any thread.
/// </summary>
internal sealed class ToldReadings
{
    /// <summary>Source: our own choice, longer than a step of a line-up.</summary>
    private const long KeptNanoseconds = 3600L * EngineTime.NanosecondsPerSecond;

    private readonly ConcurrentDictionary<(string Step, string By), Queue<(long AtMilliseconds, double Value)>> _told = new();

    /// <summary>Nothing where it could not be told.</summary>
    public void Add(string step, PresentReading now)
    {
        if (now is not { By: { } by, Value: { } value, AtUtc: { } at })
        {
            return;
        }

        Queue<(long AtMilliseconds, double Value)> queue = _told.GetOrAdd((step, by), _ => new Queue<(long, double)>());
        lock (queue)
        {
            if (queue.Count == 0 || queue.Last().AtMilliseconds < Milliseconds(at))
            {
                queue.Enqueue((Milliseconds(at), value));
            }

            while (queue.Peek().AtMilliseconds < Milliseconds(at - KeptNanoseconds))
            {
                queue.Dequeue();
            }
        }
    }

    /// <summary>What it was told to read at an instant, to the millisecond, in the step's unit; null where that is not known.</summary>
    public double? At(string step, string by, long utc)
    {
        if (!_told.TryGetValue((step, by), out Queue<(long AtMilliseconds, double Value)>? queue))
        {
            return null;
        }

        lock (queue)
        {
            foreach ((long at, double value) in queue)
            {
                if (at == Milliseconds(utc))
                {
                    return value;
                }
            }

            return null;
        }
    }

    private static long Milliseconds(long utc) => utc / EngineTime.NanosecondsPerMillisecond;
}
