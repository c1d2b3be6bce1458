using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Channels;

namespace DriftWatch.Configuration.Keys;

/// <summary>Every key of a profile.toml and of a sensor.toml.</summary>
internal static class ProfileKeys
{
    /// <summary>The bindings that read boards; see the Boards room of acquisition.</summary>
    public static readonly IReadOnlyList<string> Boards = ["ads1115", "mcp3208", "bme280"];

    public static readonly TableDefinition Instrument = new(
        "[instrument]",
        "Names the instrument and its protocol.",
        [
            new("name", KeyKind.Slug, "The folder's name.", "\"line-streamer\"") { Required = true },
            new("title", KeyKind.Text, "What people read.", "\"Microcontroller that streams lines\"") { Required = true },
            new("protocol", KeyKind.Choice, "How it speaks.", "\"lines\"") { Required = true, Choices = Slugs.All<InstrumentProtocol>() },
        ]);

    public static readonly TableDefinition Lines = new(
        "[lines]",
        "Only for protocol lines: how a line is written.",
        [
            new("delimiter", KeyKind.Text, "The one character between fields.", "\",\"") { Default = "\",\"", Minimum = 1, Maximum = 1 },
            new("sequence", KeyKind.Flag, "True when each line carries its sequence number before the fields.", "true") { Default = "false" },
            new("checksum", KeyKind.Choice, "none; xor8: two hex digits after '*'; crc16: four hex digits after '*', CRC-16/MODBUS.", "\"crc16\"") { Choices = ["none", "xor8", "crc16"], Default = "\"none\"" },
            new("fields", KeyKind.Integer, "Number of fields of a line of samples, tag and sequence number not counted.", "8") { Required = true, Minimum = 1, Maximum = 256 },
            new("tag", KeyKind.Text, "The word that opens a line of samples, where lines of several kinds share the wire.", "\"S\"") { Default = "none", Minimum = 1, Maximum = 8 },
            new("maximum-length", KeyKind.Integer, "A longer line is garbage.", "512") { Default = "512", Minimum = 16, Maximum = 8192, Unit = "byte" },
        ]);

    public static readonly TableDefinition Scpi = new(
        "[scpi]",
        "Only for protocol scpi.",
        [
            new("setup", KeyKind.Texts, "Commands sent once after each connection, without reply.", "[\"*CLS\", \"CONF:VOLT:DC 10\"]") { Default = "[]", Minimum = 0, Maximum = 50 },
            new("terminator", KeyKind.Choice, "What ends a message.", "\"lf\"") { Choices = ["lf", "crlf", "cr"], Default = "\"lf\"" },
            new("identity-contains", KeyKind.Text, "Text that the reply to *IDN? must contain, so that a wrong instrument is told apart.", "\"DMM\"") { Default = "any identity" },
        ]);

    public static readonly TableDefinition Modbus = new(
        "[modbus]",
        "Only for protocol modbus-rtu.",
        [
            new("maximum-registers", KeyKind.Integer, "The most registers read in one request; neighbours are joined up to it.", "32") { Default = "32", Minimum = 1, Maximum = 125 },
        ]);

    public static readonly TableDefinition Board = new(
        "[board]",
        "Only for protocol board.",
        [
            new("binding", KeyKind.Choice, "The binding that reads it.", "\"ads1115\"") { Required = true, Choices = Boards },
        ]);

    public static readonly TableDefinition Input = new(
        "[[input]]",
        "One input of the instrument.",
        [
            new("name", KeyKind.Slug, "By which bench files ask for it.", "\"a0\"") { Required = true },
            new("kind", KeyKind.Choice, "series: one number a period; frame: a vector.", "\"series\"") { Choices = Slugs.All<ChannelKind>(), Default = "\"series\"" },
            new("unit", KeyKind.Unit, "The unit of what the instrument says.", "\"V\"") { Required = true },
            new("field", KeyKind.Integer, "Lines: number of the field, counted from 1 after tag and sequence number.", "1") { Minimum = 1, Maximum = 256 },
            new("minimum-field", KeyKind.Integer, "Lines: the field with the least value seen inside the period.", "2") { Minimum = 1, Maximum = 256 },
            new("maximum-field", KeyKind.Integer, "Lines: the field with the greatest value seen inside the period.", "3") { Minimum = 1, Maximum = 256 },
            new("query", KeyKind.Text, "SCPI: the query whose reply is the value.", "\"MEAS:VOLT:DC?\""),
            new("function", KeyKind.Integer, "Modbus: 3 reads holding registers, 4 input registers.", "4") { Default = "4", Minimum = 3, Maximum = 4 },
            new("register", KeyKind.Integer, "Modbus: the first register's address as sent on the wire, counted from 0.", "0") { Minimum = 0, Maximum = 65535 },
            new("type", KeyKind.Choice, "Modbus: the number's type.", "\"float32\"") { Choices = ["int16", "uint16", "int32", "uint32", "float32"] },
            new("word-order", KeyKind.Choice, "Modbus: order of the four bytes of a 32-bit number on the wire, A the most significant.", "\"ABCD\"") { Choices = ["ABCD", "CDAB", "BADC", "DCBA"], Default = "\"ABCD\"" },
            new("pin", KeyKind.Text, "Board: the pin or quantity, as the binding names it.", "\"a0\""),
            new("full-scale-volts", KeyKind.Number, "Board: full scale of a programmable gain, or the reference voltage.", "6.144") { Minimum = 0.01, Maximum = 50, Unit = "V" },
            new("points", KeyKind.Integer, "Frame: number of points, a multiple of 4, the same for every head.", "64") { Minimum = 4, Maximum = 1024 },
            new("tag", KeyKind.Text, "Frame over lines: the word that opens its line.", "\"F\"") { Minimum = 1, Maximum = 8 },
            new("faults", KeyKind.Table, "Raw readings that are no values.", "{ low = 0.2, high = 4.8 }") { Child = SharedKeys.Faults },
        ]);

    public static readonly TableDefinition Root = new(
        "profile.toml",
        "Describes an instrument once.",
        [
            new("instrument", KeyKind.Table, Instrument.Text, "[instrument]") { Child = Instrument, Required = true },
            new("lines", KeyKind.Table, Lines.Text, "[lines]") { Child = Lines },
            new("scpi", KeyKind.Table, Scpi.Text, "[scpi]") { Child = Scpi },
            new("modbus", KeyKind.Table, Modbus.Text, "[modbus]") { Child = Modbus },
            new("board", KeyKind.Table, Board.Text, "[board]") { Child = Board },
            new("input", KeyKind.Tables, Input.Text, "[[input]]") { Child = Input, Required = true },
        ]);

    public static readonly TableDefinition Sensor = new(
        "[sensor]",
        "From an input's raw unit to a quantity.",
        [
            new("name", KeyKind.Slug, "The folder's name.", "\"pressure-ratiometric-100psi\"") { Required = true },
            new("title", KeyKind.Text, "What people read.", "\"Ratiometric pressure sensor, 0-100 psi\"") { Required = true },
            new("raw-unit", KeyKind.Unit, "What the sensor gives: V, mA, or 1 for a ratio to its supply.", "\"V\"") { Required = true },
            new("unit", KeyKind.Unit, "Unit of the quantity.", "\"psi\"") { Required = true },
            new("ratiometric", KeyKind.Flag, "True when the raw value is a ratio to the sensor's own supply rail; raw-unit is then \"1\".", "true") { Default = "false" },
            new("calibration", KeyKind.Table, "The nominal calibration by the data sheet.", "{ points = [[0.1, 0.0], [0.9, 100.0]] }") { Child = SharedKeys.Calibration, Required = true },
            new("faults", KeyKind.Table, "Raw readings that are no values.", "{ low = 0.05, high = 0.95 }") { Child = SharedKeys.Faults },
        ]);

    public static readonly TableDefinition SensorRoot = new(
        "sensor.toml",
        "Describes a sensor once.",
        [
            new("sensor", KeyKind.Table, Sensor.Text, "[sensor]") { Child = Sensor, Required = true },
        ]);
}
