using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;

namespace DriftWatch.Reports;

/// <summary>
/// Follows a log of inputs and tells, for each reading, its channel, its UTC and its value in engineering units, by the
/// bench, the calibrations and the clock in force at that point of the log.
/// </summary>
/// <param name="shown">
/// The channels to be shown, in whose units their values are given: one column and one axis have one unit, though the
/// bench file had another before.
/// </param>
internal sealed class EngineeringValues(IReadOnlyList<ChannelDefinition> shown)
{
    private readonly Dictionary<int, ChannelDefinition> _channels = [];
    private readonly Dictionary<int, Calibration> _calibrations = [];
    private readonly Dictionary<int, Calibration> _conversions = [];

    /// <summary>The bench in force; null before the log's first.</summary>
    public BenchDefinition? Bench { get; private set; }

    public AnchorTable Anchors { get; } = new();

    /// <summary>The key under which a bench of the log has a channel that may have been renamed before or after.</summary>
    public static int KeyOf(ChannelDefinition channel, BenchDefinition bench) =>
        (bench.Channels.FirstOrDefault(c => c.Key == channel.Key)
            ?? bench.Channels.FirstOrDefault(c => c.Id == channel.Id || c.Aliases.Contains(channel.Id) || channel.Aliases.Contains(c.Id)))?.Key
        ?? channel.Key;

    /// <summary>Takes an input that changes how the next ones are read; call it with every input.</summary>
    public void Follow(in EngineInput input)
    {
        switch (input.Kind)
        {
            case InputKind.Clock:
                Anchors.Add(input.ClockEvent.Anchor);
                break;
            case InputKind.Bench:
                Bench = input.Bench;
                foreach (ChannelDefinition channel in input.Bench.Channels)
                {
                    _channels[channel.Key] = channel;
                    if (!_calibrations.TryGetValue(channel.Key, out Calibration? known) || known.Version <= channel.Calibration.Version)
                    {
                        _calibrations[channel.Key] = channel.Calibration;
                    }
                }

                FindConversions();
                break;
            case InputKind.Calibration:
                if (!_calibrations.TryGetValue(input.Channel, out Calibration? before) || before.Version <= input.Calibration.Version)
                {
                    _calibrations[input.Channel] = input.Calibration;
                    FindConversions();
                }

                break;
        }
    }

    /// <summary>By which a channel's readings are turned at this point of the log; null before its first bench.</summary>
    public Calibration? CalibrationOf(int key) => _calibrations.GetValueOrDefault(key);

    public ChannelDefinition? ChannelOf(int key) => _channels.GetValueOrDefault(key);

    public long UtcOf(EngineTime time) => Anchors.ToUtcNanoseconds(time);

    /// <summary>
    /// The value and its extremes. The extremes of a rising or falling calibration are exact; of any other they are
    /// those of the two converted ends and the value.
    /// </summary>
    /// <returns>False for a fault, and for a number that converts to nothing finite.</returns>
    public bool TryConvert(int channel, in Reading reading, out double value, out double minimum, out double maximum)
    {
        (value, minimum, maximum) = (0, 0, 0);
        if (reading.IsFault)
        {
            return false;
        }

        value = Convert(channel, reading.Raw);
        if (!reading.HasExtremes)
        {
            (minimum, maximum) = (value, value);
            return double.IsFinite(value);
        }

        double one = Convert(channel, reading.Minimum);
        double other = Convert(channel, reading.Maximum);
        minimum = Math.Min(value, Math.Min(one, other));
        maximum = Math.Max(value, Math.Max(one, other));
        return double.IsFinite(value) && double.IsFinite(minimum) && double.IsFinite(maximum);
    }

    public double Convert(int channel, double raw) =>
        _conversions.TryGetValue(channel, out Calibration? conversion) ? conversion.Convert(raw) : raw;

    private void FindConversions()
    {
        _conversions.Clear();
        foreach ((int key, Calibration calibration) in _calibrations)
        {
            _conversions[key] = calibration;
        }

        foreach (ChannelDefinition channel in shown)
        {
            int key = Bench is null ? channel.Key : KeyOf(channel, Bench);
            if (_channels.TryGetValue(key, out ChannelDefinition? then) && _calibrations.TryGetValue(key, out Calibration? calibration))
            {
                _conversions[key] = UnitChange.Shown(calibration, then.Unit, then.RawUnit, channel);
            }
        }
    }
}
