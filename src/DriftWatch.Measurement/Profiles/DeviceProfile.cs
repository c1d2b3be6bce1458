using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;

namespace DriftWatch.Measurement.Profiles;

/// <summary>The protocols an instrument's profile can speak.</summary>
public enum InstrumentProtocol
{
    /// <summary>The instrument sends delimited lines on its own.</summary>
    Lines,

    /// <summary>SCPI queries after IEEE 488.2, over serial or raw TCP.</summary>
    Scpi,

    /// <summary>Modbus RTU, polled.</summary>
    ModbusRtu,

    /// <summary>An ADC or sensor board read through its binding.</summary>
    Board,

    /// <summary>The practice rig.</summary>
    Practice,
}

/// <summary>An instrument described once: its protocol and what its inputs are. Many benches may use it.</summary>
public sealed record InstrumentProfile
{
    public required string Name { get; init; }

    public required string Title { get; init; }

    public required InstrumentProtocol Protocol { get; init; }

    public required IReadOnlyList<ProfileInput> Inputs { get; init; }

    public LineFormat? Lines { get; init; }

    public ScpiFormat? Scpi { get; init; }

    public ModbusFormat? Modbus { get; init; }

    /// <summary>The binding that reads the board: <c>ads1115</c>, <c>mcp3208</c>, <c>bme280</c>.</summary>
    public string? Board { get; init; }
}

/// <summary>One input of an instrument. Only the fields of the profile's protocol are set.</summary>
public sealed record ProfileInput
{
    public required string Name { get; init; }

    public ChannelKind Kind { get; init; }

    /// <summary>The unit of what the instrument says.</summary>
    public required string RawUnit { get; init; }

    public FaultRules Faults { get; init; } = new();

    /// <summary>Lines: the 1-based field after the sequence number, or the field's name where the line names its fields.</summary>
    public int? Field { get; init; }

    /// <summary>Lines: fields of the period's minimum and maximum, where the firmware sends them.</summary>
    public int? MinimumField { get; init; }

    public int? MaximumField { get; init; }

    /// <summary>SCPI: the query, such as <c>MEAS:VOLT:DC?</c>.</summary>
    public string? Query { get; init; }

    /// <summary>Modbus: 3 (holding) or 4 (input registers).</summary>
    public int Function { get; init; } = 4;

    /// <summary>Modbus: the register's address as sent on the wire (0-based).</summary>
    public int? Register { get; init; }

    /// <summary>Modbus: int16, uint16, int32, uint32, float32.</summary>
    public string? Type { get; init; }

    /// <summary>Modbus: <c>ABCD</c>, <c>CDAB</c>, <c>BADC</c>, <c>DCBA</c>.</summary>
    public string WordOrder { get; init; } = "ABCD";

    /// <summary>Board: the pin or the quantity (<c>a0</c>, <c>temperature</c>).</summary>
    public string? Pin { get; init; }

    /// <summary>Board: full scale in volts for a programmable gain, or the reference voltage.</summary>
    public double? FullScaleVolts { get; init; }

    /// <summary>Frame: number of points and the tag that opens its line.</summary>
    public int? Points { get; init; }

    public string? Tag { get; init; }
}

/// <summary>How a line is written. A line is <c>[sequence,]field,field…[*checksum]</c> with this delimiter.</summary>
public sealed record LineFormat
{
    public char Delimiter { get; init; } = ',';

    public bool HasSequence { get; init; }

    /// <summary>"none", "xor8" (two hex digits after '*') or "crc16" (four hex digits after '*', CRC-16/MODBUS).</summary>
    public string Checksum { get; init; } = "none";

    public int FieldCount { get; init; }

    /// <summary>The tag that opens a line of samples, where lines of several kinds share the wire; null when untagged.</summary>
    public string? Tag { get; init; }

    public int MaximumLength { get; init; } = 512;
}

public sealed record ScpiFormat
{
    /// <summary>Sent once after each connection; no reply expected.</summary>
    public IReadOnlyList<string> Setup { get; init; } = [];

    public string Terminator { get; init; } = "\n";

    /// <summary>The identity must contain this text, so that a wrong instrument is told apart; null accepts any.</summary>
    public string? IdentityContains { get; init; }
}

public sealed record ModbusFormat
{
    /// <summary>Largest number of registers read in one request; neighbours are joined up to it.</summary>
    public int MaximumRegisters { get; init; } = 32;
}

/// <summary>A sensor behind an input: from the input's raw unit to a quantity, with the levels that mean a fault.</summary>
public sealed record SensorProfile
{
    public required string Name { get; init; }

    public required string Title { get; init; }

    /// <summary>What the sensor gives the input: V, mA, or 1 for a ratio to its supply.</summary>
    public required string RawUnit { get; init; }

    public required string Unit { get; init; }

    public required Calibration Nominal { get; init; }

    public FaultRules Faults { get; init; } = new();

    /// <summary>True when the raw value is a ratio to the sensor's own supply rail.</summary>
    public bool Ratiometric { get; init; }
}
