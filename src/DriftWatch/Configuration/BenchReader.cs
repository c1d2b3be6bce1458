using DriftWatch.Configuration.Keys;
using DriftWatch.Configuration.Toml;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Notices;

namespace DriftWatch.Configuration;

/// <summary>An instrument as read, with the place it stands at.</summary>
internal sealed record InstrumentSection(SectionReader Section, InstrumentDefinition Definition);

/// <summary>From the tree of a bench file to a bench. Reading goes on after a mistake; the caller looks at the list.</summary>
internal sealed class BenchReader(string file, ProfileCatalog catalog, MistakeList mistakes, IReadOnlyDictionary<string, int>? keys)
{
    /// <summary>What the file says of notices, once it was read.</summary>
    public NoticeSettings Notices { get; private set; } = NoticeSettings.None;

    /// <summary>Where its readings are mirrored to.</summary>
    public MirrorPlan Mirrors { get; private set; } = MirrorPlan.None;

    public BenchDefinition? Read(TomlTable root)
    {
        var top = new SectionReader(file, root, BenchKeys.Root, mistakes);
        SectionReader? bench = top.Table("bench");
        string? id = bench?.Slug("id");
        string? label = bench?.Text("label");
        TimeSpan? lateness = bench?.Duration("lateness-bound");
        MachineDefinition machine = Machine(top.Table("machine"));
        List<DeviceDefinition> devices = [.. top.Tables("device").Select(Device).OfType<DeviceDefinition>()];

        List<InstrumentSection> instruments = new InstrumentReader(catalog).Read(top.Tables("instrument"));
        var reader = new ChannelReader(catalog, instruments, machine);
        List<ChannelSection> channels = reader.Read(top.Tables("channel"));
        ChannelKeys.Give(channels, keys);
        List<QuantityDefinition> quantities = QuantityReader.Read(top.Tables("quantity"), channels, machine);
        JudgementSettings judgement = Judgement(top.Table("judgement"));
        RetentionDefinition retention = Retention(top.Table("retention"));
        TransferProcedures? procedures = new TransferReader(Path.GetDirectoryName(file) ?? "", mistakes).Read(top.Table("transfers"));
        Notices = new NoticeReader(file).Read(top.Tables("notice"), top.Table("page"), top.Table("heartbeat"));
        Mirrors = new MirrorReader(file).Read(top.Tables("mirror"));
        BenchRules.Check(channels, instruments, catalog);
        foreach (InstrumentSection unused in instruments.Where(i => channels.TrueForAll(c => c.Definition.Instrument != i.Definition.Id)))
        {
            if (!reader.HasUnreadChannelOf(unused.Definition.Id))
            {
                unused.Section.SayHere($"no channel reads instrument '{unused.Definition.Id}'", $"write a [[channel]] with instrument = \"{unused.Definition.Id}\", or drop the instrument");
            }
        }

        return id is null
            ? null
            : new BenchDefinition
            {
                Id = id,
                Label = label ?? id,
                SourceHash = "",
                Machine = machine,
                Devices = devices.Count == 0 ? null : devices,
                Instruments = [.. instruments.Select(i => i.Definition)],
                Channels = [.. channels.Select(c => c.Definition)],
                Quantities = quantities,
                LatenessBound = lateness ?? TimeSpan.FromMilliseconds(250),
                Judgement = judgement,
                Retention = retention,
                Procedures = procedures,
            };
    }

    private static MachineDefinition Machine(SectionReader? section) => new()
    {
        Label = section?.Text("label") ?? "Machine",
        Standard = section?.Choice("standard") ?? "525/60",
        ReceiverLitres = section?.Number("receiver-litres"),
        VacuumPercentPerPsi = section?.Number("vacuum-percent-per-psi"),
        Plate = section is null ? null : InstrumentReader.Plate(section),
    };

    private static DeviceDefinition? Device(SectionReader section) => section.Text("role") is not { } role ? null : new DeviceDefinition
    {
        Role = role,
        Plate = InstrumentReader.Plate(section),
        Signal = section.Text("signal"),
        Settings = section.Text("settings"),
        Note = section.Text("note"),
    };

    private static JudgementSettings Judgement(SectionReader? section)
    {
        var plain = new JudgementSettings();
        if (section is null)
        {
            return plain;
        }

        var settings = new JudgementSettings
        {
            AirUpFraction = section.Number("air-up-fraction") ?? plain.AirUpFraction,
            AirGoneFraction = section.Number("air-gone-fraction") ?? plain.AirGoneFraction,
            TapeOnGuideInH2O = section.Number("tape-on-guide-inH2O") ?? plain.TapeOnGuideInH2O,
            RfPresentDb = section.Number("rf-present-db"),
            SettleAfterLock = section.Duration("settle-after-lock") ?? plain.SettleAfterLock,
            BaselineAfter = section.Duration("baseline-after") ?? plain.BaselineAfter,
        };
        if (settings.AirGoneFraction >= settings.AirUpFraction)
        {
            section.Say(
                section.Has("air-gone-fraction") ? "air-gone-fraction" : "air-up-fraction",
                $"air counts as gone below {SectionReader.Plain(settings.AirGoneFraction)} of the setpoint but as up from {SectionReader.Plain(settings.AirUpFraction)}",
                "write air-gone-fraction below air-up-fraction");
        }

        return settings;
    }

    private static RetentionDefinition Retention(SectionReader? section)
    {
        var plain = new RetentionDefinition();
        if (section is null)
        {
            return plain;
        }

        var retention = new RetentionDefinition
        {
            RawMonths = section.Integer("raw-months"),
            RollupMonths = section.Integer("rollup-months"),
            FreeSpaceFloorBytes = section.Integer("free-space-floor-mb") is { } floor ? (long)floor << 20 : plain.FreeSpaceFloorBytes,
        };
        if (retention.RollupMonths is { } rollups && (retention.RawMonths is null || rollups < retention.RawMonths))
        {
            string raw = retention.RawMonths is { } months ? $"{months} months" : "for ever";
            section.Say("rollup-months", $"rollups would be dropped after {rollups} months while raw readings stay {raw}", "write raw-months not above rollup-months");
        }

        return retention;
    }
}
