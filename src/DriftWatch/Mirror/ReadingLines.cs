using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports;
using DriftWatch.Running;
using DriftWatch.Storage.Mirror;
using DriftWatch.Storage.Queries;

namespace DriftWatch.Mirror;

/// <summary>
/// Follows a log and writes each reading as a line: <c>driftwatch_reading</c> with the tags bench, channel, unit and site, the fields
/// value, min, max and quality, in engineering units by the calibration of its day. The README beside this is the schema; it only grows.
/// </summary>
internal sealed class ReadingLines
{
    public const string Measurement = "driftwatch_reading";
    public const string Quality = "quality";

    /// <summary>Added to the quality of what came after its instant was judged.</summary>
    public const int Late = 100;

    private readonly EngineeringValues _values = new([]);
    private readonly Dictionary<int, string> _heads = [];
    private readonly IReadOnlyList<(string Name, string? Value)> _tags;

    /// <param name="tags">Tags of the site, written behind bench, channel and unit.</param>
    public ReadingLines(IReadOnlyList<(string Name, string? Value)> tags) => _tags = tags;

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

    /// <summary>Takes one input, in the order of the log, and writes a line where it is a reading.</summary>
    /// <returns>Milliseconds since 1970 of the reading; null where no line was written.</returns>
    public long? Write(in EngineInput input, LineText text)
    {
        Follow(input);
        if (input.Kind is not (InputKind.Sample or InputKind.Fault) || HeadOf(input.Channel) is not { } head)
        {
            return null; // frames stay in the local store
        }

        int quality = input.Reading.IsFault ? (int)input.Reading.Fault + 1 : 0;
        text.Begin(head);
        if (_values.TryConvert(input.Channel, input.Reading, out double value, out double minimum, out double maximum))
        {
            text.Field("value", value);
            if (input.Reading.HasExtremes)
            {
                text.Field("min", minimum);
                text.Field("max", maximum);
            }
        }
        else if (quality == 0)
        {
            quality = (int)FaultCode.NotANumber + 1; // converts to nothing finite
        }

        text.Field(Quality, quality + (input.IsLate ? Late : 0));
        long utcMilliseconds = _values.UtcOf(input.Time) / EngineTime.NanosecondsPerMillisecond;
        text.End(utcMilliseconds);
        return utcMilliseconds;
    }

    private void Follow(in EngineInput input)
    {
        _values.Follow(input);
        if (input.Kind == InputKind.Bench)
        {
            _heads.Clear();
        }
    }

    private string? HeadOf(int key)
    {
        if (_heads.TryGetValue(key, out string? head))
        {
            return head;
        }

        if (_values.Bench is not { } bench || _values.ChannelOf(key) is not { } channel)
        {
            return null;
        }

        return _heads[key] = LineText.Head(Measurement, [("bench", bench.Id), ("channel", channel.Id), ("unit", channel.Unit), .. _tags]);
    }
}
