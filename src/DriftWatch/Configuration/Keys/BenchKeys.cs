using DriftWatch.Measurement.Channels;

namespace DriftWatch.Configuration.Keys;

/// <summary>Every key of a bench file.</summary>
internal static class BenchKeys
{
    private static readonly string[] States = [.. Slugs.All<MachineState>().Where(s => s != Slugs.Of(MachineState.Unknown))];

    public static readonly TableDefinition Bench = new(
        "[bench]",
        "Names the bench.",
        [
            new("id", KeyKind.Slug, "Stays for ever: it names the bench in findings and its folder in the store.", "\"bench-1\"") { Required = true },
            new("label", KeyKind.Text, "What people read.", "\"Bench 1, north room\"") { Default = "the id" },
            new("lateness-bound", KeyKind.Duration, "The longest that judgement waits for a late channel; what comes later is kept but not judged.", "\"250 ms\"") { Default = "\"250 ms\"", Minimum = 0.05, Maximum = 5 },
        ]);

    // For the fields of a coding history: archives ask for them, and nothing judges by them.
    private static readonly KeyDefinition[] Plate =
    [
        new("maker", KeyKind.Text, "Who made it, for the evidence.", "\"Harbour Works\""),
        new("model", KeyKind.Text, "Its model, for the evidence.", "\"TB-7\""),
        new("serial-number", KeyKind.Text, "Its serial number, for the evidence.", "\"0117\""),
    ];

    public static readonly TableDefinition Machine = new(
        "[machine]",
        "The machine under watch.",
        [
            new("label", KeyKind.Text, "What people read.", "\"Machine 2\"") { Default = "\"Machine\"" },
            new("standard", KeyKind.Choice, "The television standard it runs: lines/fields. Sync levels and wheel speed follow from it.", "\"525/60\"") { Choices = ["525/60", "625/50"], Default = "\"525/60\"" },
            new("receiver-litres", KeyKind.Number, "Volume of the compressor's air receiver, as its plate says. With it the use of air is worked out from the fall of the supply; without it, it is not.", "24") { Minimum = 0.5, Maximum = 5000, Unit = "l" },
            new("vacuum-percent-per-psi", KeyKind.Number, "How much of the guide vacuum at the setpoint one psi of regulated air makes, as 'driftwatch measure air' learned it from this machine. Without it the flow of a choked nozzle is taken: 1.88 at 50 psi.", "1.7") { Minimum = 0.75, Maximum = 4.7, Unit = "%/psi" },
            .. Plate,
        ]);

    public static readonly TableDefinition Device = new(
        "[[device]]",
        "A device that the signal goes through behind the machine, in the order of the file: time-base corrector, decoder, converter, recorder. It stands in the evidence; nothing is read from it.",
        [
            new("role", KeyKind.Text, "What it does there.", "\"time-base correction\"") { Required = true },
            .. Plate,
            new("signal", KeyKind.Text, "What leaves it.", "\"SDI, 10 bit\""),
            new("settings", KeyKind.Text, "How it is set.", "\"set-up 7.5 IRE, chroma killer off\""),
            new("note", KeyKind.Text, "What else the archive should know.", "\"new capacitors in spring\""),
        ]);

    public static readonly TableDefinition Serial = new(
        "serial = { … }",
        "A serial port. Instruments on one port (a Modbus line) each repeat it, with the same settings.",
        [
            new("port", KeyKind.Text, "The device; on Linux best by its stable name under /dev/serial/by-id.", "\"/dev/serial/by-id/usb-adapter-1\"") { Required = true },
            new("baud", KeyKind.Integer, "Speed.", "115200") { Default = "9600", Minimum = 300, Maximum = 4_000_000, Unit = "bit/s" },
            new("framing", KeyKind.Choice, "Data bits, parity, stop bits.", "\"8N1\"") { Choices = ["8N1", "8N2", "8E1", "8E2", "8O1", "8O2", "7N1", "7N2", "7E1", "7E2", "7O1", "7O2"], Default = "\"8N1\"" },
            new("dtr", KeyKind.Flag, "Level of the DTR line, for an instrument that needs it.", "true") { Default = "left alone" },
            new("rts", KeyKind.Flag, "Level of the RTS line, for an instrument that needs it.", "true") { Default = "left alone" },
        ]);

    public static readonly TableDefinition Tcp = new(
        "tcp = { … }",
        "A raw TCP connection.",
        [
            new("host", KeyKind.Text, "Name or address.", "\"192.0.2.17\"") { Required = true },
            new("port", KeyKind.Integer, "TCP port; 5025 is usual for SCPI.", "5025") { Required = true, Minimum = 1, Maximum = 65535 },
        ]);

    public static readonly TableDefinition I2c = new(
        "i2c = { … }",
        "A board on an I²C bus. Boards on one bus are read one after another.",
        [
            new("bus", KeyKind.Integer, "Bus number: 1 for /dev/i2c-1.", "1") { Default = "1", Minimum = 0, Maximum = 255 },
            new("address", KeyKind.Integer, "7-bit address of the board.", "0x48") { Required = true, Minimum = 0x03, Maximum = 0x77 },
        ]);

    public static readonly TableDefinition Spi = new(
        "spi = { … }",
        "A board on an SPI bus.",
        [
            new("bus", KeyKind.Integer, "Bus number: 0 for /dev/spidev0.x.", "0") { Default = "0", Minimum = 0, Maximum = 255 },
            new("chip-select", KeyKind.Integer, "Chip-select line: 1 for /dev/spidev0.1.", "0") { Default = "0", Minimum = 0, Maximum = 255 },
        ]);

    public static readonly TableDefinition Practice = new(
        "practice = { … }",
        "The practice rig: a simulated machine inside the program, no hardware.",
        [
            new("seed", KeyKind.Integer, "One seed gives one and the same run.", "1") { Default = "1", Minimum = 0 },
            new("script", KeyKind.Text, "What happens on the rig: a script that comes with it, by name, or the path of a script file, from the folder of the bench file.", "\"sound-transfer\"") { Default = "tour" },
        ]);

    public static readonly TableDefinition Instrument = new(
        "[[instrument]]",
        "One physical instrument and how it is reached: exactly one of serial, tcp, i2c, spi, practice.",
        [
            new("id", KeyKind.Slug, "Stays for ever.", "\"air-board\"") { Required = true },
            new("label", KeyKind.Text, "What people read.", "\"Air sensors\"") { Default = "the id" },
            new("profile", KeyKind.Slug, "Name of its device profile: a folder with a profile.toml.", "\"adc-16bit-i2c\"") { Required = true },
            new("serial", KeyKind.Table, "Serial port.", "{ port = \"/dev/ttyUSB0\", baud = 115200 }") { Child = Serial },
            new("tcp", KeyKind.Table, "Network.", "{ host = \"192.0.2.17\", port = 5025 }") { Child = Tcp },
            new("i2c", KeyKind.Table, "I²C bus.", "{ bus = 1, address = 0x48 }") { Child = I2c },
            new("spi", KeyKind.Table, "SPI bus.", "{ bus = 0, chip-select = 0 }") { Child = Spi },
            new("practice", KeyKind.Table, "Practice rig.", "{ seed = 1 }") { Child = Practice },
            new("modbus-address", KeyKind.Integer, "The unit's address on a Modbus line; only for Modbus profiles.", "17") { Default = "1", Minimum = 1, Maximum = 247 },
            new("reply-timeout", KeyKind.Duration, "How long a reply may take before it counts as none.", "\"500 ms\"") { Default = "\"500 ms\"", Minimum = 0.02, Maximum = 30 },
            .. Plate,
        ]);

    public static readonly TableDefinition Ratio = new(
        "ratio = { … }",
        "A channel formed by dividing two others of the same instrument, read in the same scan. Both are kept as channels.",
        [
            new("of", KeyKind.Slug, "Id of the channel above the line.", "\"regulated-volts\"") { Required = true },
            new("over", KeyKind.Slug, "Id of the channel below the line: the supply rail.", "\"sensor-rail\"") { Required = true },
        ]);

    public static readonly TableDefinition Limit = new(
        "[[channel.limit]]",
        "A limit of the channel above it. It replaces the default limits of the same side and severity.",
        [
            new("side", KeyKind.Choice, "low: a value below it is wrong; high: a value above it is.", "\"low\"") { Required = true, Choices = ["low", "high"] },
            new("severity", KeyKind.Choice, "advisory: look when you can; alarm: act now.", "\"alarm\"") { Required = true, Choices = ["advisory", "alarm"] },
            new("value", KeyKind.Number, "The limit: in the channel's unit; added to the baseline; or a factor of the baseline, as 'reference' says.", "45.0") { Required = true },
            new("reference", KeyKind.Choice, "What 'value' refers to. Limits that refer to a baseline wait until one is taken.", "\"absolute\"") { Choices = Slugs.All<LimitReference>(), Default = "\"absolute\"" },
            new("deadband", KeyKind.Number, "How far inside the limit the value must come back before it is over; in the unit of 'value'.", "1.0") { Default = "0", Minimum = 0 },
            new("on-delay", KeyKind.Duration, "How long it must last before it is said.", "\"1 s\"") { Default = "\"0 s\"", Minimum = 0, Maximum = 3600 },
            new("off-delay", KeyKind.Duration, "How long it must be back before it is over.", "\"2 s\"") { Default = "\"0 s\"", Minimum = 0, Maximum = 3600 },
            new("judged-in", KeyKind.Choices, "Machine states in which it is judged.", "[\"running\", \"locked\"]") { Choices = States, Default = "all states" },
            new("source", KeyKind.Text, "Where the number comes from; shown with every finding.", "\"bearing maker's manual\"") { Default = "\"bench file\"" },
        ]);

    public static readonly TableDefinition Channel = new(
        "[[channel]]",
        "One measured quantity: an input of an instrument, or a ratio of two channels.",
        [
            new("id", KeyKind.Slug, "Stays for ever: it names the channel in files, findings and the store.", "\"supply-air\"") { Required = true },
            new("label", KeyKind.Text, "What people read.", "\"Supply air\"") { Default = "the id" },
            new("role", KeyKind.Choice, "What the quantity means to the machine; judgement asks for roles, never for ids.", "\"supply-air\"") { Choices = Slugs.All<ChannelRole>(), Default = "\"other\"" },
            new("head", KeyKind.Integer, "Which head; required for the role rf-level.", "1") { Minimum = 1, Maximum = 4 },
            new("unit", KeyKind.Unit, "The unit in which values are shown and limits are written.", "\"psi\"") { Required = true },
            new("instrument", KeyKind.Slug, "Id of the instrument; required unless the channel is a ratio.", "\"air-board\""),
            new("input", KeyKind.Slug, "Name of the input in the instrument's profile; required unless the channel is a ratio.", "\"a0\""),
            new("ratio", KeyKind.Table, "Divides two channels.", "{ of = \"regulated-volts\", over = \"sensor-rail\" }") { Child = Ratio },
            new("sensor", KeyKind.Slug, "Name of the sensor's profile: a folder with a sensor.toml. It gives the nominal calibration and the fault levels.", "\"pressure-ratiometric-100psi\""),
            new("rail-volts", KeyKind.Number, "Supply of a ratiometric sensor whose rail is not measured.", "5.0") { Minimum = 0.5, Maximum = 48, Unit = "V" },
            new("shunt-ohms", KeyKind.Number, "Resistor over which a current-loop sensor is read by a voltage input.", "250.0") { Minimum = 0.1, Maximum = 10_000, Unit = "ohm" },
            new("calibration", KeyKind.Table, "From the raw unit of the input to 'unit'; overrides the sensor's nominal one.", "{ points = [[0.5, 0.0], [4.5, 100.0]] }") { Child = SharedKeys.Calibration },
            new("faults", KeyKind.Table, "Overrides the fault levels of input and sensor, key by key.", "{ low = 0.2, high = 4.8 }") { Child = SharedKeys.Faults },
            new("period", KeyKind.Duration, "Sampling period: at least 10 ms for a series, 100 ms for a frame. A ratio takes that of its channels.", "\"100 ms\"") { Default = "\"100 ms\"; frames \"500 ms\"", Minimum = 0.0001, Maximum = 3600 },
            new("setpoint", KeyKind.Number, "The working point, in 'unit'; required for the role regulated-air, whose default limits follow from it.", "50.0"),
            new("half-span-degrees", KeyKind.Number, "Frames: each head's points lie evenly within this angle on both sides of mid-pass.", "45.0") { Default = "45", Minimum = 1, Maximum = 60, Unit = "degree" },
            new("limits", KeyKind.Choice, "default: the role's default limits hold; none: only those written here.", "\"default\"") { Choices = ["default", "none"], Default = "\"default\"" },
            new("limit", KeyKind.Tables, "Limits of one's own.", "[[channel.limit]]") { Child = Limit },
            new("stale-advisory", KeyKind.Duration, "Silence after which the channel is stale: advisory. Its default is common practice, no source.", "\"5 s\"") { Default = "\"5 s\", or 3 periods if longer", Minimum = 0.1, Maximum = 86400 },
            new("stale-alarm", KeyKind.Duration, "Silence after which the channel is stale: alarm. Its default is common practice, no source.", "\"10 s\"") { Default = "\"10 s\", or 6 periods if longer", Minimum = 0.1, Maximum = 86400 },
            new("aliases", KeyKind.Slugs, "Former ids: recordings made under them still find this channel.", "[\"house-air\"]") { Minimum = 0, Maximum = 20, Default = "[]" },
        ]);

    public static readonly TableDefinition QuantityLimit = Limit with { Header = "[[quantity.limit]]", Text = "A limit of the quantity above it. It replaces the default limits of the same side and severity." };

    public static readonly TableDefinition Quantity = new(
        "[[quantity]]",
        "Other limits for what judgement works out from the channels; quantities exist without this, with default limits.",
        [
            new("kind", KeyKind.Choice, "Which; where there is one a head, this is for all heads.", "\"rf-spread\"") { Required = true, Choices = Slugs.All<QuantityKind>() },
            new("limits", KeyKind.Choice, "default: its default limits hold; none: only those written here.", "\"default\"") { Choices = ["default", "none"], Default = "\"default\"" },
            new("limit", KeyKind.Tables, "Limits of one's own, in the quantity's unit.", "[[quantity.limit]]") { Child = QuantityLimit },
        ]);

    public static readonly TableDefinition Judgement = new(
        "[judgement]",
        "What belongs to the whole bench and not to one channel.",
        [
            new("air-up-fraction", KeyKind.Number, "Regulated air at or above this share of its setpoint counts as up.", "0.8") { Default = "0.8", Minimum = 0.1, Maximum = 1 },
            new("air-gone-fraction", KeyKind.Number, "Regulated air below this share of its setpoint counts as gone.", "0.4") { Default = "0.4", Minimum = 0.01, Maximum = 0.95 },
            new("tape-on-guide-inH2O", KeyKind.Number, "Guide vacuum above this means that tape closes the guide.", "2.0") { Default = "2.0", Minimum = 0.1, Maximum = 50, Unit = "inH2O" },
            new("rf-present-db", KeyKind.Number, "RF above this, on the channels' own scale, means that the heads read tape.", "-30.0") { Default = "20 dB under the baseline, or -30", Minimum = -120, Maximum = 120, Unit = "dB" },
            new("settle-after-lock", KeyKind.Duration, "After lock, what is judged in the locked state waits this long.", "\"5 s\"") { Default = "\"5 s\"", Minimum = 0, Maximum = 600 },
            new("baseline-after", KeyKind.Duration, "After so long of settled running in which nothing is wrong the machine takes the tape's baseline itself, unless a person has. The one it takes after half a minute holds until then.", "\"5 min\"") { Default = "\"5 min\"", Minimum = 30, Maximum = 7200 },
        ]);

    public static readonly TableDefinition Retention = new(
        "[retention]",
        "How long the store keeps what. Alarms, calibrations and notes are kept for ever.",
        [
            new("raw-months", KeyKind.Integer, "Whole months of raw readings.", "24") { Default = "for ever", Minimum = 1, Maximum = 1200 },
            new("rollup-months", KeyKind.Integer, "Whole months of rollups; not fewer than 'raw-months'.", "120") { Default = "for ever", Minimum = 1, Maximum = 1200 },
            new("free-space-floor-mb", KeyKind.Integer, "Below this much free space the store gives up its ballast and says that the disk is full.", "256") { Default = "256", Minimum = 16, Maximum = 1_000_000, Unit = "MiB" },
        ]);

    public static readonly TableDefinition Root = new(
        "the bench file",
        "One file describes one bench.",
        [
            new("bench", KeyKind.Table, Bench.Text, "[bench]") { Child = Bench, Required = true },
            new("machine", KeyKind.Table, Machine.Text, "[machine]") { Child = Machine, Default = "a 525/60 machine" },
            new("device", KeyKind.Tables, Device.Text, "[[device]]") { Child = Device, Default = "none is told" },
            new("instrument", KeyKind.Tables, Instrument.Text, "[[instrument]]") { Child = Instrument, Required = true },
            new("channel", KeyKind.Tables, Channel.Text, "[[channel]]") { Child = Channel, Required = true },
            new("quantity", KeyKind.Tables, Quantity.Text, "[[quantity]]") { Child = Quantity },
            new("judgement", KeyKind.Table, Judgement.Text, "[judgement]") { Child = Judgement, Default = "as below" },
            new("retention", KeyKind.Table, Retention.Text, "[retention]") { Child = Retention, Default = "as below" },
            new("transfers", KeyKind.Table, TransferKeys.Transfers.Text, "[transfers]") { Child = TransferKeys.Transfers, Default = "as below" },
            new("notice", KeyKind.Tables, NoticeKeys.Notice.Text, "[[notice]]") { Child = NoticeKeys.Notice, Default = "nobody is told but on the page" },
            new("page", KeyKind.Table, NoticeKeys.PageNotice.Text, "[page]") { Child = NoticeKeys.PageNotice, Default = "as below" },
            new("heartbeat", KeyKind.Table, NoticeKeys.Heartbeat.Text, "[heartbeat]") { Child = NoticeKeys.Heartbeat },
            new("mirror", KeyKind.Tables, MirrorKeys.Mirror.Text, "[[mirror]]") { Child = MirrorKeys.Mirror, Default = "the bench stands by itself" },
        ]);
}
