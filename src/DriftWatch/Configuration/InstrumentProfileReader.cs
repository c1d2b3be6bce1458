using DriftWatch.Configuration.Keys;
using DriftWatch.Configuration.Toml;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Profiles;

namespace DriftWatch.Configuration;

/// <summary>Reads a profile.toml. See device-profiles/REFERENCE.md for every key.</summary>
internal static class InstrumentProfileReader
{
    private static readonly Dictionary<string, string> Terminators = new(StringComparer.Ordinal) { ["lf"] = "\n", ["crlf"] = "\r\n", ["cr"] = "\r" };
    private static readonly double[] Ads1115FullScales = [0.256, 0.512, 1.024, 2.048, 4.096, 6.144];

    public static InstrumentProfile? Read(string file, TomlTable root, string name, MistakeList mistakes)
    {
        var top = new SectionReader(file, root, ProfileKeys.Root, mistakes);
        SectionReader? instrument = top.Table("instrument");
        InstrumentProtocol? protocol = instrument?.Choice<InstrumentProtocol>("protocol");
        string? title = instrument?.Text("title");
        SayOtherName(instrument, name);

        LineFormat? lines = Lines(top.Table("lines"));
        ScpiFormat? scpi = Scpi(top.Table("scpi"));
        ModbusFormat? modbus = top.Table("modbus") is { } m
            ? new ModbusFormat { MaximumRegisters = m.Integer("maximum-registers") ?? new ModbusFormat().MaximumRegisters }
            : null;
        string? board = top.Table("board")?.Choice("binding");
        if (protocol is null || title is null)
        {
            return null;
        }

        SayTablesOfOtherProtocols(top, protocol.Value);
        if ((protocol == InstrumentProtocol.Lines && lines is null) || (protocol == InstrumentProtocol.Board && board is null))
        {
            return null;
        }

        var inputs = new List<ProfileInput>();
        var names = new Dictionary<string, int>(StringComparer.Ordinal);
        foreach (SectionReader section in top.Tables("input"))
        {
            if (Input(section, protocol.Value, lines, board) is { } input)
            {
                if (!names.TryAdd(input.Name, section.Line))
                {
                    section.Say("name", $"input '{input.Name}' stands already in line {names[input.Name]}", "give each input its own name");
                }

                inputs.Add(input);
            }
        }

        return new InstrumentProfile
        {
            Name = name,
            Title = title,
            Protocol = protocol.Value,
            Inputs = inputs,
            Lines = lines,
            Scpi = protocol == InstrumentProtocol.Scpi ? scpi ?? new ScpiFormat() : null,
            Modbus = protocol == InstrumentProtocol.ModbusRtu ? modbus ?? new ModbusFormat() : null,
            Board = board,
        };
    }

    internal static void SayOtherName(SectionReader? section, string name)
    {
        if (section?.Slug("name") is { } written && written != name)
        {
            section.Say("name", $"'name' is \"{written}\" but the folder is '{name}'", $"write name = \"{name}\" or rename the folder");
        }
    }

    private static LineFormat? Lines(SectionReader? section)
    {
        if (section?.Integer("fields") is not { } fields)
        {
            return null;
        }

        var plain = new LineFormat();
        return new LineFormat
        {
            Delimiter = section.Text("delimiter") is { } delimiter ? delimiter[0] : plain.Delimiter,
            HasSequence = section.Flag("sequence") ?? plain.HasSequence,
            Checksum = section.Choice("checksum") ?? plain.Checksum,
            FieldCount = fields,
            Tag = section.Text("tag"),
            MaximumLength = section.Integer("maximum-length") ?? plain.MaximumLength,
        };
    }

    private static ScpiFormat? Scpi(SectionReader? section) => section is null
        ? null
        : new ScpiFormat
        {
            Setup = section.Words("setup") ?? [],
            Terminator = Terminators[section.Choice("terminator") ?? "lf"],
            IdentityContains = section.Text("identity-contains"),
        };

    private static void SayTablesOfOtherProtocols(SectionReader top, InstrumentProtocol protocol)
    {
        (string Table, InstrumentProtocol Owner)[] owners =
        [
            ("lines", InstrumentProtocol.Lines), ("scpi", InstrumentProtocol.Scpi),
            ("modbus", InstrumentProtocol.ModbusRtu), ("board", InstrumentProtocol.Board),
        ];
        foreach ((string table, InstrumentProtocol owner) in owners)
        {
            if (owner != protocol && top.Has(table))
            {
                top.Say(table, $"[{table}] has no use with protocol \"{Slugs.Of(protocol)}\"", $"drop it or write protocol = \"{Slugs.Of(owner)}\"");
            }
        }

        string? needed = protocol is InstrumentProtocol.Lines ? "lines" : protocol is InstrumentProtocol.Board ? "board" : null;
        if (needed is not null && !top.Has(needed))
        {
            top.SayHere($"the profile lacks [{needed}]", $"write [{needed}] with {string.Join(", ", ProfileKeys.Root.Find(needed)!.Child!.Keys.Where(k => k.Required).Select(k => k.Write))}");
        }
    }

    private static ProfileInput? Input(SectionReader section, InstrumentProtocol protocol, LineFormat? lines, string? board)
    {
        string? name = section.Slug("name");
        ChannelKind kind = section.Choice<ChannelKind>("kind") ?? ChannelKind.Series;
        string? unit = section.Unit("unit")?.Symbol;
        var input = new ProfileInput
        {
            Name = name ?? "",
            Kind = kind,
            RawUnit = unit ?? "1",
            Faults = FaultRulesReader.Read(section.Table("faults")),
            Field = section.Integer("field"),
            MinimumField = section.Integer("minimum-field"),
            MaximumField = section.Integer("maximum-field"),
            Query = section.Text("query"),
            Function = section.Integer("function") ?? 4,
            Register = section.Integer("register"),
            Type = section.Choice("type"),
            WordOrder = section.Choice("word-order") ?? "ABCD",
            Pin = section.Text("pin"),
            FullScaleVolts = section.Number("full-scale-volts"),
            Points = section.Integer("points"),
            Tag = section.Text("tag"),
        };
        CheckFrame(section, input, protocol);
        if (kind == ChannelKind.Series)
        {
            CheckSeries(section, input, protocol, lines, board);
        }

        return name is null || unit is null ? null : input;
    }

    private static void CheckFrame(SectionReader section, ProfileInput input, InstrumentProtocol protocol)
    {
        if (input.Kind == ChannelKind.Series)
        {
            if (section.Has("points"))
            {
                section.Say("points", "'points' has no use for a series", "drop it or write kind = \"frame\"");
            }

            return;
        }

        if (!section.Has("points"))
        {
            section.SayHere($"{section.Name} is a frame without 'points'", "write points = 64, a multiple of 4");
        }
        else if (input.Points % 4 != 0)
        {
            section.Say("points", $"'points' is {input.Points}, which four heads can't share evenly", "write a multiple of 4, such as points = 64");
        }

        if (protocol == InstrumentProtocol.Lines && input.Tag is null)
        {
            section.SayHere($"{section.Name} is a frame without the tag that opens its line", "write tag = \"F\"");
        }
        else if (protocol is not (InstrumentProtocol.Lines or InstrumentProtocol.Practice))
        {
            section.Say("kind", $"protocol \"{Slugs.Of(protocol)}\" carries no frames", "write kind = \"series\"");
        }
    }

    private static void CheckSeries(SectionReader section, ProfileInput input, InstrumentProtocol protocol, LineFormat? lines, string? board)
    {
        switch (protocol)
        {
            case InstrumentProtocol.Lines:
                Need(section, "field");
                foreach (string key in (string[])["field", "minimum-field", "maximum-field"])
                {
                    if (section.Integer(key) is { } field && field > lines?.FieldCount)
                    {
                        section.Say(key, $"'{key}' is {field}, the line has {lines.FieldCount} fields", $"write 1 to {lines.FieldCount}, or raise 'fields' in [lines]");
                    }
                }

                if (section.Has("minimum-field") != section.Has("maximum-field"))
                {
                    section.SayHere($"{section.Name} has only one of 'minimum-field' and 'maximum-field'", "write both or none");
                }

                break;
            case InstrumentProtocol.Scpi:
                Need(section, "query");
                if (input.Query is { } query && !query.Contains('?'))
                {
                    section.Say("query", $"'query' is \"{query}\", which asks nothing", "write a query with '?', such as query = \"MEAS:VOLT:DC?\"");
                }

                break;
            case InstrumentProtocol.ModbusRtu:
                Need(section, "register");
                Need(section, "type");
                break;
            case InstrumentProtocol.Board:
                Need(section, "pin");
                CheckPin(section, input, board);
                break;
        }
    }

    private static void CheckPin(SectionReader section, ProfileInput input, string? board)
    {
        string[] pins = board is null ? [] : [.. BoardPins.Of(board)];
        if (input.Pin is { } pin && pins.Length > 0 && !pins.Contains(pin, StringComparer.Ordinal))
        {
            section.Say("pin", $"the binding {board} has no pin \"{pin}\"", $"write one of {string.Join(", ", pins)}");
        }

        if (board == "ads1115" && input.FullScaleVolts is { } volts && !Ads1115FullScales.Contains(volts))
        {
            section.Say("full-scale-volts", $"the binding ads1115 has no full scale of {SectionReader.Plain(volts)} V", $"write one of {string.Join(", ", Ads1115FullScales.Select(SectionReader.Plain))}");
        }

        if (board == "mcp3208" && input.FullScaleVolts is null && !section.Has("full-scale-volts"))
        {
            section.SayHere($"{section.Name} lacks 'full-scale-volts'", "write the reference voltage, such as full-scale-volts = 5.0");
        }
    }

    private static void Need(SectionReader section, string key)
    {
        if (!section.Has(key))
        {
            section.SayHere($"{section.Name} lacks '{key}'", $"write {section.Definition.Find(key)!.Write}");
        }
    }
}
