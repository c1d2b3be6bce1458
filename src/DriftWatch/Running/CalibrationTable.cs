using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Inputs;

namespace DriftWatch.Running;

/// <summary>The calibration in force of each channel key, for what screens show. Immutable: each change makes a new one.</summary>
internal sealed class CalibrationTable
{
    private readonly Dictionary<int, Calibration> _byKey;

    private CalibrationTable(Dictionary<int, Calibration> byKey) => _byKey = byKey;

    public static CalibrationTable Empty { get; } = new([]);

    public Calibration this[int key] => _byKey.GetValueOrDefault(key, LineCalibration.Identity);

    /// <summary>The table after an input: a bench brings its first versions, keeping later ones; a calibration replaces its channel's.</summary>
    public CalibrationTable After(in EngineInput input)
    {
        switch (input.Kind)
        {
            case InputKind.Bench:
                return WithBench(input.Bench);
            case InputKind.Calibration:
                return new CalibrationTable(new Dictionary<int, Calibration>(_byKey) { [input.Channel] = input.Calibration });
            default:
                return this;
        }
    }

    public CalibrationTable WithBench(BenchDefinition bench)
    {
        var byKey = new Dictionary<int, Calibration>();
        foreach (Measurement.Channels.ChannelDefinition channel in bench.Channels)
        {
            byKey[channel.Key] = _byKey.TryGetValue(channel.Key, out Calibration? known) && known.Version > channel.Calibration.Version
                ? known
                : channel.Calibration;
        }

        return new CalibrationTable(byKey);
    }
}
