using DriftWatch.Acquisition.PracticeRig;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Names;
using DriftWatch.Measurement.Profiles;

namespace DriftWatch.Configuration;

/// <summary>Reads the instruments of a bench and checks each against its profile.</summary>
internal sealed class InstrumentReader(ProfileCatalog catalog)
{
    private static readonly (string Key, ConnectionKind Kind)[] Connections =
    [
        ("serial", ConnectionKind.Serial), ("tcp", ConnectionKind.Tcp), ("i2c", ConnectionKind.I2c),
        ("spi", ConnectionKind.Spi), ("practice", ConnectionKind.Practice),
    ];

    public List<InstrumentSection> Read(IReadOnlyList<SectionReader> sections)
    {
        var instruments = new List<InstrumentSection>();
        var ids = new Dictionary<string, int>(StringComparer.Ordinal);
        foreach (SectionReader section in sections)
        {
            string? id = section.Slug("id");
            if (id is not null && !ids.TryAdd(id, section.LineOf("id")))
            {
                section.Say("id", $"instrument '{id}' stands already in line {ids[id]}", "give each instrument its own id");
            }

            string? label = section.Text("label");
            string? profileName = section.Slug("profile");
            InstrumentProfile? profile = profileName is null ? null : Profile(section, profileName);
            ConnectionDefinition? connection = Connection(section, profile);
            if (id is not null)
            {
                instruments.Add(new InstrumentSection(section, new InstrumentDefinition
                {
                    Id = id,
                    Label = label ?? id,
                    Profile = profileName ?? "",
                    Connection = connection ?? new ConnectionDefinition { Kind = ConnectionKind.Practice },
                    Plate = Plate(section),
                }));
            }
        }

        SayClashes(instruments);
        return instruments;
    }

    /// <summary>What the file says of a device's plate; null where it says nothing.</summary>
    public static Nameplate? Plate(SectionReader section) =>
        (section.Text("maker"), section.Text("model"), section.Text("serial-number")) is var (maker, model, serial) && (maker ?? model ?? serial) is not null
            ? new Nameplate(maker, model, serial)
            : null;

    private InstrumentProfile? Profile(SectionReader section, string name)
    {
        ProfileCatalog.Found<InstrumentProfile> found = catalog.Instrument(name);
        if (!found.IsThere)
        {
            IReadOnlyList<string> known = catalog.Names(ProfileCatalog.InstrumentFile);
            bool isSensor = catalog.Names(ProfileCatalog.SensorFile).Contains(name, StringComparer.Ordinal);
            string? meant = NearestName.Of(name, known);
            string remedy = isSensor
                ? $"write sensor = \"{name}\" at the channel, and here the instrument that reads it"
                : meant is not null
                    ? $"write profile = \"{meant}\""
                    : known.Count > 0
                        ? "write one of " + string.Join(", ", known)
                        : $"make a folder {name} with a profile.toml beside the bench file";
            section.Say("profile", isSensor ? $"'{name}' is a sensor, not an instrument" : $"there is no profile \"{name}\"", remedy);
        }

        return found.Profile;
    }

    private static ConnectionDefinition? Connection(SectionReader section, InstrumentProfile? profile)
    {
        (string Key, ConnectionKind Kind)[] given = [.. Connections.Where(c => section.Has(c.Key))];
        ConnectionKind[] fitting = profile is null ? [] : Fitting(profile);
        TimeSpan timeout = section.Duration("reply-timeout") ?? TimeSpan.FromMilliseconds(500);
        int? modbusAddress = section.Integer("modbus-address");
        if (given.Length != 1)
        {
            string write = fitting.Length > 0 ? Example(section, fitting[0]) : "serial, tcp, i2c, spi or practice";
            section.SayHere(
                given.Length == 0 ? $"{section.Name} does not say how it is reached" : $"{section.Name} has {string.Join(" and ", given.Select(g => g.Key))}",
                given.Length == 0 ? $"write {write}" : $"keep one, such as {write}");
        }

        ConnectionDefinition? connection = null;
        foreach ((string key, ConnectionKind kind) in given)
        {
            if (fitting.Length > 0 && !fitting.Contains(kind))
            {
                section.Say(key, $"profile '{profile!.Name}' can't be reached by {key}", $"write {Example(section, fitting[0])}");
            }

            SectionReader? table = section.Table(key);
            connection ??= table is null ? null : Of(kind, table) with { ReplyTimeout = timeout };
        }

        if (modbusAddress is not null && profile is not null && profile.Protocol != InstrumentProtocol.ModbusRtu)
        {
            section.Say("modbus-address", $"'modbus-address' has no use with profile '{profile.Name}'", "drop it");
        }

        return profile?.Protocol == InstrumentProtocol.ModbusRtu && connection is not null
            ? connection with { Address = modbusAddress ?? 1 }
            : connection;
    }

    private static string Example(SectionReader section, ConnectionKind kind) =>
        section.Definition.Find(Connections.Single(c => c.Kind == kind).Key)!.Write;

    private static ConnectionKind[] Fitting(InstrumentProfile profile) => profile.Protocol switch
    {
        InstrumentProtocol.Lines or InstrumentProtocol.Scpi => [ConnectionKind.Serial, ConnectionKind.Tcp],
        InstrumentProtocol.ModbusRtu => [ConnectionKind.Serial],
        InstrumentProtocol.Board => profile.Board == "mcp3208" ? [ConnectionKind.Spi] : [ConnectionKind.I2c],
        _ => [ConnectionKind.Practice],
    };

    private static ConnectionDefinition Of(ConnectionKind kind, SectionReader table) => kind switch
    {
        ConnectionKind.Serial => new ConnectionDefinition
        {
            Kind = kind,
            Port = table.Text("port"),
            Baud = table.Integer("baud") ?? 9600,
            Framing = table.Choice("framing") ?? "8N1",
            Dtr = table.Flag("dtr"),
            Rts = table.Flag("rts"),
        },
        ConnectionKind.Tcp => new ConnectionDefinition { Kind = kind, Host = table.Text("host"), TcpPort = table.Integer("port") },
        ConnectionKind.I2c => new ConnectionDefinition { Kind = kind, Bus = table.Integer("bus") ?? 1, Address = table.Integer("address") },
        ConnectionKind.Spi => new ConnectionDefinition { Kind = kind, Bus = table.Integer("bus") ?? 0, Address = table.Integer("chip-select") ?? 0 },
        _ => new ConnectionDefinition { Kind = kind, Seed = table.Seed("seed") ?? 1, Script = Script(table) },
    };

    /// <summary>The script's name, or the path of its file: beside the bench file, else from where the command was run.</summary>
    private static string? Script(SectionReader table)
    {
        if (table.Text("script") is not { } written)
        {
            return null;
        }

        string beside = Path.Combine(Path.GetDirectoryName(Path.GetFullPath(table.File))!, written);
        string script = !RigScripts.Names.Contains(written) && File.Exists(beside) ? beside : written;
        if (!RigScripts.Names.Contains(script) && !File.Exists(script))
        {
            string? meant = NearestName.Of(written, RigScripts.Names);
            table.Say(
                "script",
                $"there is no practice script or script file \"{written}\"",
                (meant is null ? "write one of " : $"write script = \"{meant}\", or another of ") + string.Join(", ", RigScripts.Names) + ", or the path of a script file");
            return null;
        }

        try
        {
            RigScripts.Load(script);
            return script;
        }
        catch (RigScriptException exception)
        {
            table.Say("script", $"the script \"{written}\" can't be played: {exception.Message}", "correct the script");
            return null;
        }
    }

    /// <summary>Two instruments in one place: one port or address can't serve both, but a Modbus line serves many units.</summary>
    private void SayClashes(List<InstrumentSection> instruments)
    {
        for (int i = 0; i < instruments.Count; i++)
        {
            for (int j = 0; j < i; j++)
            {
                ConnectionDefinition late = instruments[i].Definition.Connection;
                ConnectionDefinition early = instruments[j].Definition.Connection;
                if (late.Kind != early.Kind)
                {
                    continue;
                }

                string other = $"'{instruments[j].Definition.Id}' of line {instruments[j].Section.Line}";
                SectionReader section = instruments[i].Section;
                switch (late.Kind)
                {
                    case ConnectionKind.Serial when late.Port is not null && late.Port == early.Port:
                        SayPortClash(instruments[i], instruments[j], other);
                        break;
                    case ConnectionKind.Tcp when late.Host is not null && late.Host == early.Host && late.TcpPort == early.TcpPort:
                        section.Say("tcp", $"{late.Host}:{late.TcpPort} is taken by {other}", "write the host and port of this instrument");
                        break;
                    case ConnectionKind.I2c when late.Address is not null && late.Bus == early.Bus && late.Address == early.Address:
                        section.Say("i2c", $"address 0x{late.Address:x2} on bus {late.Bus} is taken by {other}", "write the address set on this board");
                        break;
                    case ConnectionKind.Spi when late.Bus == early.Bus && late.Address == early.Address:
                        section.Say("spi", $"chip-select {late.Address} on bus {late.Bus} is taken by {other}", "write the chip-select wired to this board");
                        break;
                }
            }
        }
    }

    private void SayPortClash(InstrumentSection late, InstrumentSection early, string other)
    {
        bool bothModbus = new[] { late, early }.All(i => catalog.Instrument(i.Definition.Profile).Profile?.Protocol == InstrumentProtocol.ModbusRtu);
        ConnectionDefinition here = late.Definition.Connection;
        ConnectionDefinition there = early.Definition.Connection;
        if (!bothModbus)
        {
            late.Section.Say("serial", $"port {here.Port} is taken by {other}", "write the port of this instrument; only Modbus units share one");
        }
        else if (here.Baud != there.Baud || here.Framing != there.Framing)
        {
            late.Section.Say("serial", $"port {here.Port} runs at {there.Baud} {there.Framing} for {other}, here at {here.Baud} {here.Framing}", "write the same baud and framing for all units of one line");
        }
        else if (here.Address == there.Address)
        {
            late.Section.Say("modbus-address", $"Modbus address {here.Address} on {here.Port} is taken by {other}", "write the address set on this unit");
        }
    }
}
