using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;

namespace DriftWatch.Reports;

/// <summary>
/// A stretch of a bench's store, read while a service may go on writing to it. The clock and the bench in force then come
/// first, as where the beginning of a store has expired.
/// </summary>
internal sealed class SpanSource : IInputSource
{
    private readonly BenchReader _reader;
    private readonly IEnumerator<EngineInput> _inputs;
    private readonly EngineTime _from;
    private readonly EngineTime _to;
    private readonly long? _after;
    private long _at;

    /// <param name="folder">The bench's store.</param>
    /// <param name="from">The first instant, or as much later as there is something.</param>
    /// <param name="to">The instant before which it ends.</param>
    /// <exception cref="StoreException">The folder holds no store, or can't be read.</exception>
    public SpanSource(string folder, EngineTime from, EngineTime to)
    {
        (_from, _to) = (from, to);
        _reader = new BenchReader(folder);
        _at = from.Nanoseconds;
        _inputs = Inputs().GetEnumerator();
    }

    /// <summary>What comes after an input that the reader knows all about; nothing is lent.</summary>
    /// <param name="folder">The bench's store.</param>
    /// <param name="after">Number of that input.</param>
    /// <param name="to">The instant before which it ends.</param>
    /// <exception cref="StoreException">The folder holds no store, or can't be read.</exception>
    public SpanSource(string folder, long after, EngineTime to)
        : this(folder, default(EngineTime), to) => _after = after;

    public double Progress => _to <= _from ? 1 : Math.Clamp((double)(_at - _from.Nanoseconds) / (_to.Nanoseconds - _from.Nanoseconds), 0, 1);

    public IReadOnlyList<string> Notices => [];

    /// <summary>Number of the first input that was recorded in the stretch; what comes before it was lent. Known once it was read.</summary>
    public long FirstNumber { get; private set; } = long.MaxValue;

    /// <summary>The calibrations that were applied back to past readings of the store.</summary>
    public IReadOnlyList<(int Channel, Calibration Calibration, EngineTime From)> AppliedBack() => Running.AppliedBack.In(_reader);

    public bool TryRead(out EngineInput input)
    {
        if (!_inputs.MoveNext())
        {
            input = default;
            return false;
        }

        input = _inputs.Current;
        _at = input.Time.Nanoseconds;
        return true;
    }

    public void Dispose()
    {
        _inputs.Dispose();
        _reader.Dispose();
    }

    private IEnumerable<EngineInput> Inputs()
    {
        bool first = _after is null;
        foreach (EngineInput input in _reader.ReadInputs(_after ?? LastBefore(_from)))
        {
            if (first && input.Time < _from)
            {
                continue;
            }

            if (!input.IsLate && input.Time >= _to)
            {
                yield break;
            }

            if (first)
            {
                FirstNumber = input.Number;
                foreach (EngineInput lent in LentStart.Before(input, _reader))
                {
                    yield return lent;
                }
            }

            first = false;
            yield return input;
        }
    }

    /// <summary>A number at or a little before the last input ahead of an instant. Numbers and times rise together, so it is halved for.</summary>
    private long LastBefore(EngineTime time)
    {
        const long near = 10_000; // read over faster than looked for
        IReadOnlyList<StoredSpan> spans = _reader.StoredSpans();
        long low = _reader.ExpiredThrough();
        long high = spans.Count == 0 ? low : spans[^1].LastNumber;
        while (high - low > near)
        {
            long middle = low + ((high - low) / 2);
            bool isBefore = _reader.ReadInputs(middle).Select(i => (EngineTime?)i.Time).FirstOrDefault() is { } there && there < time;
            (low, high) = isBefore ? (middle, high) : (low, middle);
        }

        return low;
    }
}
