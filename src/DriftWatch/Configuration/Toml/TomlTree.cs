namespace DriftWatch.Configuration.Toml;

/// <summary>A value of a TOML file with the place where it stands; line and column count from 1.</summary>
internal abstract record TomlNode(int Line, int Column)
{
    /// <summary>What it is, in words for a message.</summary>
    public abstract string Kind { get; }
}

internal sealed record TomlText(int Line, int Column, string Value) : TomlNode(Line, Column)
{
    public override string Kind => "text";
}

internal sealed record TomlInteger(int Line, int Column, long Value) : TomlNode(Line, Column)
{
    public override string Kind => "a whole number";
}

internal sealed record TomlFloat(int Line, int Column, double Value) : TomlNode(Line, Column)
{
    public override string Kind => double.IsFinite(Value) ? "a number" : "not a finite number";
}

internal sealed record TomlFlag(int Line, int Column, bool Value) : TomlNode(Line, Column)
{
    public override string Kind => "true or false";
}

internal sealed record TomlMoment(int Line, int Column) : TomlNode(Line, Column)
{
    public override string Kind => "a date or time";
}

internal sealed record TomlArray(int Line, int Column, List<TomlNode> Items) : TomlNode(Line, Column)
{
    /// <summary>True for <c>[[name]]</c>, which may be appended to.</summary>
    public bool OfTables { get; init; }

    public override string Kind => OfTables ? "a list of tables" : "a list";
}

internal sealed record TomlEntry(string Key, int Line, int Column, TomlNode Value);

internal sealed record TomlTable(int Line, int Column) : TomlNode(Line, Column)
{
    private readonly Dictionary<string, TomlEntry> _byKey = new(StringComparer.Ordinal);

    /// <summary>In the order of the file.</summary>
    public List<TomlEntry> Entries { get; } = [];

    /// <summary>True once a <c>[header]</c> has named it: a second such header is a mistake.</summary>
    public bool HasHeader { get; set; }

    /// <summary>True for <c>{ … }</c>, which nothing may be added to.</summary>
    public bool Closed { get; init; }

    public override string Kind => "a table";

    public TomlEntry? Find(string key) => _byKey.GetValueOrDefault(key);

    public bool TryAdd(TomlEntry entry)
    {
        if (!_byKey.TryAdd(entry.Key, entry))
        {
            return false;
        }

        Entries.Add(entry);
        return true;
    }
}
