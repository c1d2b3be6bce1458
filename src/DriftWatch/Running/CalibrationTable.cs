using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;

namespace DriftWatch.Running;

/// <summary>
/// The calibrations of each channel key, for what screens show: the one in force, and earlier versions for what was
/// measured under them. Immutable: each change makes a new table.
/// </summary>
internal sealed class CalibrationTable
{
    private readonly Dictionary<int, Calibration> _inForce;
    private readonly Dictionary<(int Key, int Version), Calibration> _known;

    private CalibrationTable(Dictionary<int, Calibration> inForce, Dictionary<(int, int), Calibration> known)
    {
        _inForce = inForce;
        _known = known;
    }

    public static CalibrationTable Empty { get; } = new([], []);

    public Calibration this[int key] => _inForce.GetValueOrDefault(key, LineCalibration.Identity);

    /// <summary>The version a reading was taken under; the one in force where that version is not known any more.</summary>
    public Calibration Of(int key, int version) => _known.TryGetValue((key, version), out Calibration? known) ? known : this[key];

    /// <summary>The table after an input: a bench brings its first versions, keeping later ones; a calibration replaces its channel's.</summary>
    public CalibrationTable After(in EngineInput input) => input.Kind switch
    {
        InputKind.Bench => WithBench(input.Bench),
        InputKind.Calibration => With(input.Channel, input.Calibration),
        _ => this,
    };

    public CalibrationTable With(int key, Calibration calibration) => new(
        new Dictionary<int, Calibration>(_inForce) { [key] = calibration },
        new Dictionary<(int, int), Calibration>(_known) { [(key, calibration.Version)] = calibration });

    public CalibrationTable WithBench(BenchDefinition bench)
    {
        CalibrationTable table = this;
        foreach (ChannelDefinition channel in bench.Channels)
        {
            bool newerInForce = _inForce.TryGetValue(channel.Key, out Calibration? known) && known.Version > channel.Calibration.Version;
            table = newerInForce ? table : table.With(channel.Key, channel.Calibration);
        }

        return table;
    }
}
