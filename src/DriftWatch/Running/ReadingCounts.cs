using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Running;

/// <summary>Counts what one channel brings: values, faults by reason, and how many values a second of late. One at a time.</summary>
internal sealed class ReadingCounts
{
    /// <summary>Whole seconds over which the rate is told: long enough for a channel of one reading in ten seconds, short enough to notice.</summary>
    private const int Window = 60;

    private readonly int[] _bySecond = new int[Window + 1]; // and the one that is not over yet
    private readonly Dictionary<FaultCode, long> _faults = [];
    private long? _first;
    private long _newest;
    private long _values;
    private (FaultCode Fault, EngineTime At)? _lastFault;

    public void Count(in EngineInput input)
    {
        if (input.Kind != InputKind.Frame && input.Reading.IsFault)
        {
            FaultCode fault = input.Reading.Fault;
            _faults[fault] = _faults.GetValueOrDefault(fault) + 1;
            _lastFault = (fault, input.Time);
            Advance(SecondOf(input.Time));
            return;
        }

        _values++;
        long second = SecondOf(input.Time);
        Advance(second);
        if (second > _newest - _bySecond.Length)
        {
            _bySecond[IndexOf(second)]++;
        }
    }

    public ReadingTally At(EngineTime now)
    {
        if (_first is not { } first)
        {
            return ReadingTally.None;
        }

        long present = SecondOf(now);
        long from = Math.Max(first + 1, present - Window); // the first second was not whole
        long values = 0;
        for (long second = Math.Max(from, _newest - Window); second < present && second <= _newest; second++)
        {
            values += _bySecond[IndexOf(second)];
        }

        long seconds = Math.Max(0, present - from);
        return new ReadingTally(_values, seconds == 0 ? null : (double)values / seconds, seconds, new Dictionary<FaultCode, long>(_faults), _lastFault);
    }

    private static long SecondOf(EngineTime time) => (long)Math.Floor(time.Seconds);

    private int IndexOf(long second) => (int)(((second % _bySecond.Length) + _bySecond.Length) % _bySecond.Length);

    /// <summary>Seconds in which nothing came are empty.</summary>
    private void Advance(long second)
    {
        if (_first is null)
        {
            _first = _newest = second;
        }

        for (long empty = Math.Max(_newest + 1, second - Window); empty <= second; empty++)
        {
            _bySecond[IndexOf(empty)] = 0;
        }

        _newest = Math.Max(_newest, second);
    }
}

/// <summary>What one channel has brought since this process began.</summary>
/// <param name="Values">Readings and frames that were no fault.</param>
/// <param name="PerSecond">Of those, how many a second over the last <paramref name="OverSeconds"/>; null before a whole second is over.</param>
/// <param name="OverSeconds">Up to 60.</param>
/// <param name="Faults">How many faults of each reason.</param>
/// <param name="LastFault">The newest; null when none ever came.</param>
internal sealed record ReadingTally(
    long Values, double? PerSecond, double OverSeconds, IReadOnlyDictionary<FaultCode, long> Faults, (FaultCode Fault, EngineTime At)? LastFault)
{
    public static ReadingTally None { get; } = new(0, null, 0, new Dictionary<FaultCode, long>(), null);
}
