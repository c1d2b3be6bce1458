using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage.Mirror;
using DriftWatch.Storage.Queries;

namespace DriftWatch.Mirror;

/// <summary>
/// Writes one line for each channel and second, or minute, of UTC: mean, least, greatest and number of its values, and the number of its faults,
/// for a server that keeps years of many benches. A line is written once, when the newest reading of any channel lies two such bins later;
/// what comes later than that, for a bin that is written, stays in the local store only.
/// <para>
/// Whoever begins in the middle of the log leaves the bin of the first reading out, since it may have begun before; so each batch says where to
/// begin anew (<see cref="Resume"/>), at a bin that is over.
/// </para>
/// </summary>
/// <param name="measurement">Of the lines, by their bin.</param>
/// <param name="bin">Its length.</param>
/// <param name="isWhole">Whether the log begins with what is read first, so that nothing can be missing of the first bin.</param>
/// <param name="tags">Tags of the site.</param>
internal sealed class MeanLines(string measurement, TimeSpan bin, bool isWhole, IReadOnlyList<(string Name, string? Value)> tags) : ILogLines
{
    private const int Behind = 2; // bins that a line waits for stragglers of other channels

    private readonly FollowedLog _log = new(measurement, tags);
    private readonly long _length = (long)bin.TotalMilliseconds;
    private readonly SortedDictionary<(long Bin, int Channel), Tally> _open = [];
    private readonly Queue<(long Bin, long Before)> _begins = new();
    private long _written = long.MinValue; // bins through this one are written, or left out
    private long _newest = long.MinValue;
    private long? _last; // the last bin that is ours, once closed
    private long? _resume;
    private bool _isWhole = isWhole;
    private bool _isClosing;
    private bool _isClosed;

    public long LastUtcMilliseconds { get; private set; }

    public bool Waits => !IsClosed;

    public bool IsClosed => _isClosed || (_last is { } last && _written >= last);

    public void BeginAt(in EngineInput first, BenchReader reader) => _log.BeginAt(first, reader);

    public void Write(in EngineInput input, LineText text, Action<long, long>? each)
    {
        if (input is { Kind: InputKind.Clock, ClockEvent.Kind: ClockEventKind.WallStep })
        {
            End(text); // instants come twice, or leap: what is open is over
        }

        _log.Follow(input);
        if (input.Kind is not (InputKind.Sample or InputKind.Fault) || _log.HeadOf(input.Channel) is not { } head)
        {
            return;
        }

        long at = _log.UtcMillisecondsOf(input.Time) / _length;
        if (_newest == long.MinValue)
        {
            _written = _isWhole ? at - 1 : at;
        }

        if (at > _newest)
        {
            _newest = at;
            _begins.Enqueue((at, input.Number - 1));
            Through(at - Behind, text);
        }

        if (at > _written)
        {
            Take(at, input, head);
        }
    }

    /// <summary>The beginning of the last bin that is written: its own readings are left out there, and no later ones are missing.</summary>
    public long Resume(long read)
    {
        while (_begins.TryPeek(out (long Bin, long Before) begin) && begin.Bin <= _newest - Behind)
        {
            _resume = begin.Before;
            _begins.Dequeue();
        }

        return _resume ?? -1; // nothing is over yet
    }

    public void Close(in EngineInput input)
    {
        _isClosing = true;
        if (input.Kind is InputKind.Sample or InputKind.Fault)
        {
            _last ??= _log.UtcMillisecondsOf(input.Time) / _length; // whoever begins here leaves this bin out
        }
    }

    private void Take(long at, in EngineInput input, string head)
    {
        Tally tally = _open.GetValueOrDefault((at, input.Channel));
        tally.Head = head;
        if (_log.TryConvert(input.Channel, input.Reading, out double value, out double minimum, out double maximum))
        {
            (double low, double high) = input.Reading.HasExtremes ? (minimum, maximum) : (value, value);
            tally.Least = tally.Count == 0 ? low : Math.Min(tally.Least, low);
            tally.Greatest = tally.Count == 0 ? high : Math.Max(tally.Greatest, high);
            tally.Count++;
            tally.Mean += (value - tally.Mean) / tally.Count; // loses no digits beside a large offset
        }
        else
        {
            tally.Faults++;
        }

        _open[(at, input.Channel)] = tally;
    }

    private void Through(long last, LineText text)
    {
        while (_open.Count > 0 && _open.First() is { } first && first.Key.Bin <= last)
        {
            if (_last is null || first.Key.Bin <= _last)
            {
                Write(first.Key.Bin * _length, first.Value, text);
            }

            _open.Remove(first.Key);
        }

        _written = Math.Max(_written, last);
    }

    private void End(LineText text)
    {
        Through(long.MaxValue, text);
        (_written, _newest, _isWhole) = (long.MinValue, long.MinValue, true); // all that comes after the step is seen
        _begins.Clear();
        _isClosed |= _isClosing;
    }

    private void Write(long utcMilliseconds, in Tally tally, LineText text)
    {
        text.Begin(tally.Head);
        if (tally.Count > 0)
        {
            text.Field("mean", tally.Mean);
            text.Field("min", tally.Least);
            text.Field("max", tally.Greatest);
        }

        text.Field("count", tally.Count);
        text.Field("faults", tally.Faults);
        text.End(utcMilliseconds);
        LastUtcMilliseconds = utcMilliseconds;
    }

    private struct Tally
    {
        public string Head;
        public long Count;
        public long Faults;
        public double Mean;
        public double Least;
        public double Greatest;
    }
}
