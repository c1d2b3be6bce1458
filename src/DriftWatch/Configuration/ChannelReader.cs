using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Names;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Units;

namespace DriftWatch.Configuration;

/// <summary>A channel as read, with the place it stands at.</summary>
internal sealed class ChannelSection(SectionReader section, ChannelDefinition definition)
{
    public SectionReader Section { get; } = section;

    public ChannelDefinition Definition { get; set; } = definition;

    public InstrumentProfile? Profile { get; init; }

    public ProfileInput? Input { get; init; }
}

/// <summary>Reads the channels of a bench and completes each from its profiles.</summary>
internal sealed class ChannelReader(ProfileCatalog catalog, List<InstrumentSection> instruments, MachineDefinition machine)
{
    private readonly HashSet<string> _instrumentsNamed = new(StringComparer.Ordinal);

    /// <summary>True when some channel, even one that could not be read, names the instrument.</summary>
    public bool HasUnreadChannelOf(string instrument) => _instrumentsNamed.Contains(instrument);

    public List<ChannelSection> Read(IReadOnlyList<SectionReader> sections)
    {
        var channels = new List<ChannelSection>();
        foreach (SectionReader section in sections)
        {
            if (ReadOne(section) is { } channel)
            {
                channels.Add(channel);
            }
        }

        RatioRules.Resolve(channels);
        foreach (ChannelSection channel in channels)
        {
            channel.Definition = WithStaleness(channel);
            channel.Definition = channel.Definition with { Limits = LimitReader.Read(channel, channels, machine) };
        }

        return channels;
    }

    private ChannelSection? ReadOne(SectionReader section)
    {
        string? id = section.Slug("id");
        if (id == "time")
        {
            section.Say("id", "the id \"time\" is taken by the first column of every recording", "write another id");
        }

        string? label = section.Text("label");
        ChannelRole? role = section.Has("role") ? section.Choice<ChannelRole>("role") : ChannelRole.Other;
        Unit? unit = section.Unit("unit");
        RatioDefinition? ratio = Ratio(section.Table("ratio"));
        (InstrumentProfile? profile, ProfileInput? input, string? instrument, string? inputName) = Input(section);
        string? rawUnit = section.Has("ratio") ? "1" : input?.RawUnit;
        ChannelKind kind = input?.Kind ?? ChannelKind.Series;
        bool inputIsLost = section.Has("input") && input is null;

        SensorProfile? sensor = section.Slug("sensor") is { } sensorName ? Sensor(section, sensorName) : null;
        bool sensorIsLost = section.Has("sensor") && sensor is null;
        var conversion = new ConversionReader(section);
        (Calibration calibration, FaultRules faults) = conversion.Read(rawUnit, unit, sensor, sensorIsLost, input?.Faults ?? new FaultRules());

        TimeSpan? period = section.Duration("period");
        double? setpoint = section.Number("setpoint");
        double? halfSpan = section.Number("half-span-degrees");
        int? head = section.Integer("head");
        IReadOnlyList<string>? aliases = section.Words("aliases");
        FrameAxis? axis = kind == ChannelKind.Frame && input?.Points is { } points and >= 4
            ? FrameAxis.Even(points / 4, halfSpan ?? 45)
            : null;
        if (halfSpan is not null && kind != ChannelKind.Frame && !inputIsLost)
        {
            section.Say("half-span-degrees", "'half-span-degrees' has no use for a series", "drop it");
        }

        if (role is { } known && unit is not null)
        {
            RoleRules.SayWrongQuantity(section, known, inputIsLost ? null : kind, unit);
        }

        if (id is null)
        {
            return null;
        }

        var definition = new ChannelDefinition
        {
            Id = id,
            Key = 0,
            Label = label ?? id,
            Kind = kind,
            Role = role ?? ChannelRole.Other,
            Head = head,
            Unit = unit?.Symbol ?? "1",
            RawUnit = rawUnit ?? "1",
            Instrument = instrument,
            Input = inputName,
            Ratio = ratio,
            Period = period ?? (kind == ChannelKind.Frame ? TimeSpan.FromMilliseconds(500) : TimeSpan.FromMilliseconds(100)),
            Calibration = calibration,
            Faults = faults,
            Setpoint = setpoint,
            Axis = axis,
            Aliases = aliases ?? [],
        };
        return new ChannelSection(section, definition) { Profile = profile, Input = input };
    }

    private static RatioDefinition? Ratio(SectionReader? section)
    {
        string? of = section?.Slug("of");
        string? over = section?.Slug("over");
        return of is null || over is null ? null : new RatioDefinition(of, over);
    }

    private (InstrumentProfile? Profile, ProfileInput? Input, string? Instrument, string? InputName) Input(SectionReader section)
    {
        string? instrumentId = section.Slug("instrument");
        string? inputName = section.Slug("input");
        if (instrumentId is not null)
        {
            _instrumentsNamed.Add(instrumentId);
        }

        if (section.Has("ratio"))
        {
            foreach (string key in (string[])["instrument", "input"])
            {
                if (section.Has(key))
                {
                    section.Say(key, $"{section.Name} has both 'ratio' and '{key}'", $"drop '{key}': a ratio is formed of two other channels");
                }
            }

            return (null, null, null, null);
        }

        if (!section.Has("instrument"))
        {
            string write = instruments.Count > 0 ? $"write instrument = \"{instruments[0].Definition.Id}\"" : "write a [[instrument]] and its id here";
            section.SayHere($"{section.Name} names no instrument and is no ratio", write);
        }

        InstrumentSection? instrument = instruments.Find(i => i.Definition.Id == instrumentId);
        if (instrumentId is not null && instrument is null)
        {
            string[] ids = [.. instruments.Select(i => i.Definition.Id)];
            string? meant = NearestName.Of(instrumentId, ids);
            string remedy = meant is not null ? $"write instrument = \"{meant}\"" : ids.Length > 0 ? "write one of " + string.Join(", ", ids) : "write a [[instrument]] with this id";
            section.Say("instrument", $"there is no instrument \"{instrumentId}\"", remedy);
        }

        InstrumentProfile? profile = instrument is null ? null : catalog.Instrument(instrument.Definition.Profile).Profile;
        if (!section.Has("input"))
        {
            section.SayHere(
                $"{section.Name} names no input",
                profile is null ? "write input = \"…\", a name from the instrument's profile" : $"write input = one of {string.Join(", ", profile.Inputs.Select(i => $"\"{i.Name}\""))}");
        }

        ProfileInput? input = profile?.Inputs.FirstOrDefault(i => i.Name == inputName);
        if (profile is not null && inputName is not null && input is null)
        {
            string? meant = NearestName.Of(inputName, profile.Inputs.Select(i => i.Name));
            section.Say(
                "input",
                $"profile '{profile.Name}' has no input \"{inputName}\"",
                meant is not null ? $"write input = \"{meant}\"" : "write one of " + string.Join(", ", profile.Inputs.Select(i => i.Name)));
        }

        return (profile, input, instrumentId, inputName);
    }

    private SensorProfile? Sensor(SectionReader section, string name)
    {
        ProfileCatalog.Found<SensorProfile> found = catalog.Sensor(name);
        if (!found.IsThere)
        {
            IReadOnlyList<string> known = catalog.Names(ProfileCatalog.SensorFile);
            string? meant = NearestName.Of(name, known);
            section.Say(
                "sensor",
                $"there is no sensor \"{name}\"",
                meant is not null ? $"write sensor = \"{meant}\"" : known.Count > 0 ? "write one of " + string.Join(", ", known) : $"make a folder {name} with a sensor.toml beside the bench file");
        }

        return found.Profile;
    }

    private static ChannelDefinition WithStaleness(ChannelSection channel)
    {
        TimeSpan period = channel.Definition.Period;
        TimeSpan advisory = channel.Section.Duration("stale-advisory") ?? Longer(TimeSpan.FromSeconds(5), 3 * period);
        TimeSpan alarm = channel.Section.Duration("stale-alarm") ?? Longer(TimeSpan.FromSeconds(10), 6 * period);
        return channel.Definition with { StaleAdvisory = advisory, StaleAlarm = alarm };
    }

    private static TimeSpan Longer(TimeSpan left, TimeSpan right) => left > right ? left : right;
}
