using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Transfers;

namespace DriftWatch.Measurement.Benches;

/// <summary>
/// A bench as judged: the bench file with its profiles applied and every default filled in. Self-contained: a log
/// that carries it replays without the files it came from.
/// </summary>
public sealed record BenchDefinition
{
    /// <summary>A slug; names the bench in findings and its folder in the store.</summary>
    public required string Id { get; init; }

    public required string Label { get; init; }

    /// <summary>SHA-256 (lower-case hex) over the bench file and the profiles it uses; every finding names it.</summary>
    public required string SourceHash { get; init; }

    /// <summary>The bench file's text as it was read.</summary>
    public string SourceText { get; init; } = "";

    public required MachineDefinition Machine { get; init; }

    public required IReadOnlyList<InstrumentDefinition> Instruments { get; init; }

    /// <summary>What the signal goes through behind the machine, in its order, for the evidence; null where nobody has told it.</summary>
    public IReadOnlyList<DeviceDefinition>? Devices { get; init; }

    /// <summary>In the order of the bench file.</summary>
    public required IReadOnlyList<ChannelDefinition> Channels { get; init; }

    /// <summary>What is worked out from the channels and judged like them. Logs written before there were any have none.</summary>
    public IReadOnlyList<QuantityDefinition> Quantities { get; init; } = [];

    /// <summary>Longest wait of the merge for a late channel.</summary>
    public TimeSpan LatenessBound { get; init; } = TimeSpan.FromMilliseconds(250);

    public JudgementSettings Judgement { get; init; } = new();

    public RetentionDefinition Retention { get; init; } = new();

    /// <summary>How a tape is taken through the bench. Logs written before there were transfers have none.</summary>
    public TransferProcedures? Procedures { get; init; }
}

/// <summary>The machine under watch; words for people but for the standard and the receiver.</summary>
public sealed record MachineDefinition
{
    public required string Label { get; init; }

    /// <summary>"525/60" or "625/50".</summary>
    public string Standard { get; init; } = "525/60";

    /// <summary>As on its plate, for the evidence; null where nobody has told it.</summary>
    public Nameplate? Plate { get; init; }

    /// <summary>Volume of the air receiver, litres; null where nobody has told it.</summary>
    public double? ReceiverLitres { get; init; }

    /// <summary>How much of the guide vacuum at the setpoint one psi of regulated air makes, in percent, as learned on this machine; null judges by the flow of a choked nozzle.</summary>
    public double? VacuumPercentPerPsi { get; init; }
}

/// <summary>One physical instrument of the bench and how it is reached.</summary>
public sealed record InstrumentDefinition
{
    public required string Id { get; init; }

    public string Label { get; init; } = "";

    /// <summary>The name of its device profile.</summary>
    public required string Profile { get; init; }

    public required ConnectionDefinition Connection { get; init; }

    /// <summary>As on its plate, for the evidence; null where nobody has told it.</summary>
    public Nameplate? Plate { get; init; }
}

/// <summary>Who made a device, as what, and which one it is; at least one of them is told.</summary>
public sealed record Nameplate(string? Maker, string? Model, string? Serial)
{
    /// <summary>For people, such as <c>Harbour Works, model TB-7, serial 0117</c>.</summary>
    public override string ToString() => string.Join(", ", new[] { Maker, Model is null ? null : "model " + Model, Serial is null ? null : "serial " + Serial }.OfType<string>());
}

/// <summary>A device that the signal goes through behind the machine. Nothing is read from it: it stands in the evidence.</summary>
public sealed record DeviceDefinition
{
    /// <summary>What it does there, such as "time-base correction".</summary>
    public required string Role { get; init; }

    public Nameplate? Plate { get; init; }

    /// <summary>What leaves it, such as "SDI, 10 bit"; null where nobody has told it.</summary>
    public string? Signal { get; init; }

    public string? Settings { get; init; }

    public string? Note { get; init; }
}

public enum ConnectionKind
{
    /// <summary>A serial port by its device name.</summary>
    Serial,

    /// <summary>A raw TCP connection.</summary>
    Tcp,

    /// <summary>An I²C bus and address.</summary>
    I2c,

    /// <summary>An SPI bus and chip select.</summary>
    Spi,

    /// <summary>The practice rig inside the process: no hardware.</summary>
    Practice,
}

/// <summary>How an instrument is reached. Only the fields of its kind are set.</summary>
public sealed record ConnectionDefinition
{
    public required ConnectionKind Kind { get; init; }

    /// <summary>Serial: the device, such as <c>/dev/serial/by-id/…</c> or <c>COM3</c>.</summary>
    public string? Port { get; init; }

    public int Baud { get; init; } = 9600;

    /// <summary>Serial framing as the data sheets write it: <c>8N1</c>, <c>8E1</c>, <c>7E1</c> …</summary>
    public string Framing { get; init; } = "8N1";

    /// <summary>Serial: DTR and RTS levels; null leaves them alone (some ports refuse to set them).</summary>
    public bool? Dtr { get; init; }

    public bool? Rts { get; init; }

    /// <summary>TCP: host and port.</summary>
    public string? Host { get; init; }

    public int? TcpPort { get; init; }

    /// <summary>I²C or SPI bus number.</summary>
    public int? Bus { get; init; }

    /// <summary>I²C address (7 bit), Modbus unit (1–247), or SPI chip select.</summary>
    public int? Address { get; init; }

    /// <summary>How long a reply may take.</summary>
    public TimeSpan ReplyTimeout { get; init; } = TimeSpan.FromMilliseconds(500);

    /// <summary>Practice: the seed, and the script of faults by name.</summary>
    public ulong Seed { get; init; } = 1;

    public string? Script { get; init; }
}

/// <summary>Settings of the judgement that belong to the bench and not to one channel.</summary>
public sealed record JudgementSettings
{
    /// <summary>Regulated air at or above this share of its setpoint counts as up. Source: common practice, no source.</summary>
    public double AirUpFraction { get; init; } = 0.8;

    /// <summary>Below this share of the setpoint the air counts as gone. Source: common practice, no source.</summary>
    public double AirGoneFraction { get; init; } = 0.4;

    /// <summary>Vacuum above this, in inH2O, means that tape closes the guide. Source: derived from the venturi's dead-head vacuum, small beside 5–20 inH2O.</summary>
    public double TapeOnGuideInH2O { get; init; } = 2.0;

    /// <summary>RF above this, in dB on the channel's own scale, means that heads read tape; null: a level 20 dB under the baseline or −30 dB.</summary>
    public double? RfPresentDb { get; init; }

    /// <summary>Suppression of gated judgements after lock. Source: threshold table, 'suppress 5 s after lock'.</summary>
    public TimeSpan SettleAfterLock { get; init; } = TimeSpan.FromSeconds(5);

    /// <summary>After so long of settled running in which nothing is wrong the machine takes the tape's baseline. Source: common practice, no source.</summary>
    public TimeSpan BaselineAfter { get; init; } = TimeSpan.FromMinutes(5);
}

/// <summary>How long the store keeps what. Months are whole months.</summary>
public sealed record RetentionDefinition
{
    /// <summary>Months of raw readings; null keeps them for ever.</summary>
    public int? RawMonths { get; init; }

    /// <summary>Months of rollups; null keeps them for ever.</summary>
    public int? RollupMonths { get; init; }

    /// <summary>Below this much free space the store drops its ballast and says that the disk is full.</summary>
    public long FreeSpaceFloorBytes { get; init; } = 256L << 20;
}
