using DriftWatch.Configuration;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Units;

namespace DriftWatch.Running;

/// <summary>What was measured while a bench file gave a channel another unit, shown in the unit it has now.</summary>
internal static class UnitChange
{
    /// <summary>
    /// The conversion from raw for what was measured under <paramref name="then"/>: that calibration, and its unit turned
    /// into the present one. Where the quantity itself is another (volts that were given a sensor), the raw values are
    /// read as the present file reads them, if they are of the same kind; else nothing better is known than what held then.
    /// </summary>
    public static Calibration Shown(Calibration then, string unitThen, string rawUnitThen, ChannelDefinition now)
    {
        if (unitThen == now.Unit)
        {
            return then;
        }

        var from = Unit.Parse(unitThen);
        var to = Unit.Parse(now.Unit);
        return from.ConvertsTo(to) ? CalibrationMath.Join(Affine.Identity, then, Affine.Between(from, to)) with { Version = then.Version }
            : rawUnitThen == now.RawUnit ? now.Calibration
            : then;
    }
}
