using System.Globalization;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Storage;

/// <summary>
/// Says where the log is cut into segments: each minute of event time, each month of UTC, each new calibration or bench,
/// each step of the clock and each start of a process. A copy runs ahead of the commit; it is thrown away if that fails.
/// </summary>
internal sealed class SegmentCutter
{
    private const long Minute = 60 * EngineTime.NanosecondsPerSecond;

    private TimeAnchor? _anchor;
    private long _monthEnd = long.MaxValue;
    private long _minuteEnd;
    private bool _hasData;

    /// <summary>The month file's name for what comes next, such as <c>2026-03</c>; null before the first input.</summary>
    public string? Month { get; private set; }

    public long Stretch { get; private set; }

    /// <summary>Calibration version by channel key where it is not 1; never changed in place.</summary>
    public IReadOnlyDictionary<int, int> Versions { get; private set; } = new Dictionary<int, int>();

    /// <summary>The end of the minute now open, in engine nanoseconds; null when nothing waits to be sealed.</summary>
    public long? MinuteEnd => _hasData ? _minuteEnd : null;

    public SegmentCutter Copy() => (SegmentCutter)MemberwiseClone();

    public void Begin(TimeAnchor? anchor, long stretch, IReadOnlyDictionary<int, int> versions, string? month)
    {
        _anchor = anchor;
        Stretch = stretch;
        Versions = versions;
        if (month is not null)
        {
            SetMonth(month);
        }
    }

    /// <summary>The month an input belongs to when it is not the one now open; else null.</summary>
    public string? Rolls(in EngineInput input, TimeProvider timeProvider)
    {
        if (input.IsLate)
        {
            return null;
        }

        bool moved = LogState.BeginsStretch(input);
        if (Month is not null && !moved && input.Time.Nanoseconds < _monthEnd)
        {
            return null;
        }

        TimeAnchor? anchor = moved ? input.ClockEvent.Anchor : _anchor;
        DateTimeOffset utc = anchor is { } known
            ? UtcText.ToDateTimeOffset(known.UtcNanoseconds + (input.Time.Nanoseconds - known.Engine.Nanoseconds))
            : timeProvider.GetUtcNow();
        string month = utc.ToString("yyyy-MM", CultureInfo.InvariantCulture);
        return month == Month ? null : month;
    }

    /// <summary>True when a segment ends before this input.</summary>
    public bool Cuts(in EngineInput input) =>
        _hasData && !input.IsLate
        && (input.Time.Nanoseconds >= _minuteEnd
            || input.Kind is InputKind.Calibration or InputKind.Bench
            || LogState.BeginsStretch(input));

    public void Cut() => _hasData = false;

    public void Observe(in EngineInput input)
    {
        switch (input.Kind)
        {
            case InputKind.Clock:
                _anchor = input.ClockEvent.Anchor;
                Stretch = LogState.BeginsStretch(input) ? input.Number : Stretch;
                SetMonth(Month);
                break;
            case InputKind.Bench:
                var all = new Dictionary<int, int>(Versions);
                foreach (ChannelDefinition channel in input.Bench.Channels)
                {
                    all[channel.Key] = Math.Max(channel.Calibration.Version, all.GetValueOrDefault(channel.Key)); // as LogState.SetVersion
                }

                Versions = all;
                break;
            case InputKind.Calibration:
                Versions = new Dictionary<int, int>(Versions)
                {
                    [input.Channel] = Math.Max(input.Calibration.Version, Versions.GetValueOrDefault(input.Channel)),
                };
                break;
            case InputKind.Command:
                break;
            default:
                if (!_hasData && !input.IsLate)
                {
                    _hasData = true;
                    _minuteEnd = (Months.RollupColumn.FloorDivide(input.Time.Nanoseconds, Minute) + 1) * Minute;
                }

                break;
        }
    }

    public void SetMonth(string? month)
    {
        Month = month;
        _monthEnd = long.MaxValue;
        if (month is not null && _anchor is { } anchor)
        {
            DateTimeOffset end = DateTimeOffset.ParseExact(
                month + "-01", "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.AssumeUniversal).AddMonths(1);
            _monthEnd = anchor.Engine.Nanoseconds + (UtcText.ToNanoseconds(end) - anchor.UtcNanoseconds);
        }
    }
}
