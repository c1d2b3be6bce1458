using UnitsNet;
using UnitsNet.Units;

namespace DriftWatch.Measurement.Units;

/// <summary>
/// A unit of the trade, by its symbol as bench files write it. Conversions are UnitsNet's; this type only fixes which
/// symbols exist and refuses to convert between different quantities.
/// </summary>
public sealed class Unit
{
    private static readonly Dictionary<string, Unit> BySymbol = new(StringComparer.Ordinal);

    /// <summary>Every unit a bench file may name.</summary>
    public static IReadOnlyList<Unit> All { get; } =
    [
        Of("psi", "pressure", PressureUnit.PoundForcePerSquareInch),
        Of("bar", "pressure", PressureUnit.Bar),
        Of("mbar", "pressure", PressureUnit.Millibar),
        Of("Pa", "pressure", PressureUnit.Pascal),
        Of("hPa", "pressure", PressureUnit.Hectopascal),
        Of("kPa", "pressure", PressureUnit.Kilopascal),
        Of("inH2O", "pressure", PressureUnit.InchOfWaterColumn),
        Of("inHg", "pressure", PressureUnit.InchOfMercury),
        Of("mmHg", "pressure", PressureUnit.MillimeterOfMercury),
        Of("V", "voltage", ElectricPotentialUnit.Volt),
        Of("mV", "voltage", ElectricPotentialUnit.Millivolt),
        Of("uV", "voltage", ElectricPotentialUnit.Microvolt),
        Of("mA", "current", ElectricCurrentUnit.Milliampere),
        Of("A", "current", ElectricCurrentUnit.Ampere),
        Of("degC", "temperature", TemperatureUnit.DegreeCelsius),
        Of("degF", "temperature", TemperatureUnit.DegreeFahrenheit),
        Of("K", "temperature", TemperatureUnit.Kelvin),
        Of("%RH", "relative humidity", RelativeHumidityUnit.Percent),
        Of("s", "time", DurationUnit.Second),
        Of("ms", "time", DurationUnit.Millisecond),
        Of("us", "time", DurationUnit.Microsecond),
        Of("ns", "time", DurationUnit.Nanosecond),
        Of("min", "time", DurationUnit.Minute),
        Of("h", "time", DurationUnit.Hour),
        Of("mil", "length", LengthUnit.Mil),
        Of("um", "length", LengthUnit.Micrometer),
        Of("mm", "length", LengthUnit.Millimeter),
        Of("in", "length", LengthUnit.Inch),
        Of("deg", "angle", AngleUnit.Degree),
        Of("arcmin", "angle", AngleUnit.Arcminute),
        Of("rev/s", "rotational speed", RotationalSpeedUnit.RevolutionPerSecond),
        Of("rev/min", "rotational speed", RotationalSpeedUnit.RevolutionPerMinute),
        Of("l/min", "volume flow", VolumeFlowUnit.LiterPerMinute),
        Of("Hz", "frequency", FrequencyUnit.Hertz),
        Of("%", "ratio", RatioUnit.Percent),
        Of("1", "ratio", RatioUnit.DecimalFraction),
        Of("dB", "level", null),
        Of("IRE", "video level", null),
        Of("count", "count", null),
    ];

    private readonly Enum? _unit;

    private Unit(string symbol, string quantity, Enum? unit)
    {
        Symbol = symbol;
        Quantity = quantity;
        _unit = unit;
        BySymbol.Add(symbol, this);
    }

    public string Symbol { get; }

    /// <summary>What is measured; two units convert only if this is the same.</summary>
    public string Quantity { get; }

    public static bool TryParse(string symbol, out Unit unit)
    {
        _ = All;
        return BySymbol.TryGetValue(symbol, out unit!);
    }

    /// <exception cref="ArgumentException">The symbol is unknown.</exception>
    public static Unit Parse(string symbol) => TryParse(symbol, out Unit unit)
        ? unit
        : throw new ArgumentException($"Unknown unit '{symbol}'.", nameof(symbol));

    public bool ConvertsTo(Unit other) => ReferenceEquals(this, other) || (_unit is not null && Quantity == other.Quantity);

    /// <summary>Converts a value of this unit into another of the same quantity.</summary>
    /// <exception cref="ArgumentException">The two measure different quantities.</exception>
    public double Convert(double value, Unit to)
    {
        if (ReferenceEquals(this, to))
        {
            return value;
        }

        return ConvertsTo(to)
            ? UnitConverter.Convert(value, _unit!, to._unit!)
            : throw new ArgumentException($"{Symbol} ({Quantity}) does not convert to {to.Symbol} ({to.Quantity}).", nameof(to));
    }

    public override string ToString() => Symbol;

    private static Unit Of(string symbol, string quantity, Enum? unit) => new(symbol, quantity, unit);
}
