using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Units;

namespace DriftWatch.Configuration;

/// <summary>
/// Works out how a channel's raw value becomes its quantity. The channel's own calibration wins; else the sensor's,
/// with the resistor or the rail between input and sensor; else plain conversion of units; else it is a mistake.
/// The sensor's fault levels are carried back to the input's raw unit, so that they act on what the instrument says.
/// </summary>
internal sealed class ConversionReader(SectionReader section)
{
    /// <param name="rawUnit">Null when the input is not known; nothing more is then said.</param>
    /// <param name="unit">Null when the unit is not known.</param>
    /// <param name="sensor">Null without a sensor.</param>
    /// <param name="sensorIsLost">A sensor is named, but there is none: it has been said.</param>
    /// <param name="inputFaults">Fault levels of the input's profile.</param>
    public (Calibration Calibration, FaultRules Faults) Read(string? rawUnit, Unit? unit, SensorProfile? sensor, bool sensorIsLost, FaultRules inputFaults)
    {
        Calibration? own = section.Table("calibration") is { } table ? CalibrationReader.Read(table) : null;
        double? shuntOhms = section.Number("shunt-ohms");
        double? railVolts = section.Number("rail-volts");
        SectionReader? ownFaults = section.Table("faults");
        Calibration none = LineCalibration.Identity;
        if (rawUnit is null || unit is null || sensorIsLost)
        {
            return (own ?? none, FaultRulesReader.Override(inputFaults, ownFaults));
        }

        Unit raw = Unit.Parse(rawUnit);
        Affine? toSensor = sensor is null ? null : ToSensor(raw, sensor, shuntOhms, railVolts);
        SayUseless(raw, sensor, shuntOhms, railVolts);
        FaultRules faults = sensor is null || toSensor is null
            ? inputFaults
            : FaultRulesReader.Tighter(inputFaults, FaultRulesReader.Through(sensor.Faults, toSensor.Value));
        faults = FaultRulesReader.Override(faults, ownFaults);
        if (section.Has("calibration"))
        {
            return (own ?? none, faults);
        }

        if (sensor is not null)
        {
            Unit sensorUnit = Unit.Parse(sensor.Unit);
            if (!sensorUnit.ConvertsTo(unit))
            {
                section.Say("unit", $"sensor '{sensor.Name}' measures {sensorUnit.Quantity} in {sensor.Unit}, which is not {unit.Quantity}", $"write unit = \"{sensor.Unit}\"");
                return (none, faults);
            }

            return (toSensor is null ? none : CalibrationMath.Join(toSensor.Value, sensor.Nominal, Affine.Between(sensorUnit, unit)), faults);
        }

        if (raw.ConvertsTo(unit))
        {
            Affine line = Affine.Between(raw, unit);
            return (new LineCalibration(line.Gain, line.Offset), faults);
        }

        section.SayHere(
            $"{section.Name} says nothing about how {raw.Symbol} becomes {unit.Symbol}",
            "write sensor = \"…\" or calibration = { points = [[raw, value], [raw, value]] }");
        return (none, faults);
    }

    private Affine? ToSensor(Unit raw, SensorProfile sensor, double? shuntOhms, double? railVolts)
    {
        Unit wanted = Unit.Parse(sensor.RawUnit);
        Unit volt = Unit.Parse("V");
        if (sensor.Ratiometric && raw.ConvertsTo(volt))
        {
            if (railVolts is { } rail)
            {
                Affine volts = Affine.Between(raw, volt);
                return new Affine(volts.Gain / rail, volts.Offset / rail);
            }

            if (!section.Has("rail-volts"))
            {
                section.Say("sensor", $"sensor '{sensor.Name}' is ratiometric, its output means nothing without its supply rail", "write ratio = { of = \"…\", over = \"…\" } with the rail measured, or rail-volts = 5.0");
            }

            return null;
        }

        if (raw.ConvertsTo(wanted))
        {
            return Affine.Between(raw, wanted);
        }

        if (wanted.Quantity == "current" && raw.ConvertsTo(volt))
        {
            if (shuntOhms is { } ohms)
            {
                double gain = Affine.Between(raw, volt).Gain * Affine.Between(Unit.Parse("A"), wanted).Gain / ohms;
                return new Affine(gain, 0);
            }

            if (!section.Has("shunt-ohms"))
            {
                section.Say("sensor", $"sensor '{sensor.Name}' gives {sensor.RawUnit}, the input reads {raw.Symbol}", "write the resistor between them: shunt-ohms = 250.0");
            }

            return null;
        }

        section.Say("sensor", $"sensor '{sensor.Name}' gives {sensor.RawUnit} ({wanted.Quantity}), the input reads {raw.Symbol} ({raw.Quantity})", "write the sensor that is wired to this input");
        return null;
    }

    private void SayUseless(Unit raw, SensorProfile? sensor, double? shuntOhms, double? railVolts)
    {
        if (shuntOhms is not null && (sensor is null || Unit.Parse(sensor.RawUnit).Quantity != "current" || raw.Quantity != "voltage"))
        {
            section.Say("shunt-ohms", "'shunt-ohms' has no use here: it joins a current-loop sensor to a voltage input", "drop it");
        }

        if (railVolts is not null && (sensor is null || !sensor.Ratiometric || raw.Quantity != "voltage"))
        {
            section.Say("rail-volts", "'rail-volts' has no use here: it stands in for the rail of a ratiometric sensor", "drop it");
        }
    }
}
