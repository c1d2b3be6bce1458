using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports;
using DriftWatch.Running;
using DriftWatch.Storage.Mirror;
using DriftWatch.Storage.Queries;

namespace DriftWatch.Mirror;

/// <summary>What lines of readings need of a log that is followed from anywhere: values in engineering units, wall time, and what stands before the fields.</summary>
/// <param name="measurement">Of the lines.</param>
/// <param name="tags">Tags of the site, written behind bench, channel and unit.</param>
internal sealed class FollowedLog(string measurement, IReadOnlyList<(string Name, string? Value)> tags)
{
    private readonly EngineeringValues _values = new([]);
    private readonly Dictionary<int, string> _heads = [];

    /// <summary>Takes what a stretch from the middle of the log needs to be read: clock, bench and calibrations of then.</summary>
    /// <param name="first">The stretch's first input.</param>
    /// <param name="reader">Of the store.</param>
    public void BeginAt(in EngineInput first, BenchReader reader)
    {
        foreach (EngineInput lent in LentStart.Before(first, reader))
        {
            Follow(lent);
        }

        long number = first.Number;
        foreach (StoredCalibration entered in reader.Calibrations().Where(c => c.Number < number))
        {
            Follow(EngineInput.OfCalibration(first.Time, entered.Channel, entered.Calibration)); // a process that starts enters its bench file's only
        }
    }

    public void Follow(in EngineInput input)
    {
        _values.Follow(input);
        if (input.Kind == InputKind.Bench)
        {
            _heads.Clear();
        }
    }

    /// <summary>False for what is no value: a fault, or what converts to nothing finite.</summary>
    public bool TryConvert(int channel, in Reading reading, out double value, out double minimum, out double maximum) =>
        _values.TryConvert(channel, reading, out value, out minimum, out maximum);

    public long UtcMillisecondsOf(EngineTime at) => _values.UtcOf(at) / EngineTime.NanosecondsPerMillisecond;

    /// <summary>What stands before the fields of a channel's lines; null for one that the bench has not.</summary>
    public string? HeadOf(int key)
    {
        if (_heads.TryGetValue(key, out string? head))
        {
            return head;
        }

        if (_values.Bench is not { } bench || _values.ChannelOf(key) is not { } channel)
        {
            return null;
        }

        return _heads[key] = LineText.Head(measurement, [("bench", bench.Id), ("channel", channel.Id), ("unit", channel.Unit), .. tags]);
    }
}
