using System.Globalization;
using DriftWatch.Configuration.Keys;
using DriftWatch.Configuration.Toml;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Names;
using DriftWatch.Measurement.Units;

namespace DriftWatch.Configuration;

/// <summary>
/// Reads one table by its definition: unknown and missing keys are said at once, every value is checked against its
/// kind and range, and a wrong one is said and then treated as absent, so that reading goes on. Asking for a key that
/// the definition lacks throws: the definitions are the only list of keys there is.
/// </summary>
internal sealed partial class SectionReader
{
    private readonly MistakeList _mistakes;
    private readonly TomlTable _table;

    public SectionReader(string file, TomlTable table, TableDefinition definition, MistakeList mistakes)
    {
        File = file;
        _table = table;
        Definition = definition;
        _mistakes = mistakes;
        SayUnknownKeys();
        SayMissingKeys();
    }

    public string File { get; }

    public TableDefinition Definition { get; }

    public int Line => _table.Line;

    /// <summary>How a message names this table: its header, and its id where it has a readable one.</summary>
    public string Name
    {
        get
        {
            TomlEntry? id = _table.Find("id") ?? _table.Find("name");
            return id?.Value is TomlText text ? $"{Definition.Header} '{text.Value}'" : Definition.Header;
        }
    }

    public bool Has(string key)
    {
        Define(key);
        return _table.Find(key) is not null;
    }

    /// <summary>The line of a key, or of the table where it lacks it.</summary>
    public int LineOf(string key) => _table.Find(key)?.Line ?? Line;

    /// <summary>Line and column of a key's value, or of the table where it lacks the key.</summary>
    public (int Line, int Column) PlaceOf(string key) =>
        _table.Find(key) is { } entry ? (entry.Value.Line, entry.Value.Column) : (Line, _table.Column);

    /// <summary>Says a mistake at the value of a key, or at the table where it lacks the key.</summary>
    public void Say(string key, string what, string remedy)
    {
        TomlEntry? entry = _table.Find(key);
        _mistakes.Add(File, entry?.Value.Line ?? Line, entry?.Value.Column ?? _table.Column, what, remedy);
    }

    public void SayHere(string what, string remedy) => _mistakes.Add(File, Line, _table.Column, what, remedy);

    public string? Text(string key)
    {
        KeyDefinition definition = Define(key, KeyKind.Text, KeyKind.Slug, KeyKind.Choice, KeyKind.Unit);
        if (_table.Find(key) is not { } entry)
        {
            return null;
        }

        if (entry.Value is not TomlText text)
        {
            SayWrongKind(definition, entry.Value, "text");
            return null;
        }

        if (definition.Kind == KeyKind.Text && !LengthIsSound(definition, text))
        {
            return null;
        }

        return text.Value;
    }

    public string? Slug(string key)
    {
        KeyDefinition definition = Define(key, KeyKind.Slug);
        string? text = Text(key);
        return text is not null && SlugIsSound(definition, _table.Find(key)!.Value, text) ? text : null;
    }

    public double? Number(string key)
    {
        KeyDefinition definition = Define(key, KeyKind.Number);
        if (_table.Find(key) is not { } entry)
        {
            return null;
        }

        double? number = FiniteNumber(entry.Value);
        if (number is null)
        {
            SayWrongKind(definition, entry.Value, "a finite number");
            return null;
        }

        return InRange(definition, entry.Value, number.Value, Plain(number.Value)) ? number : null;
    }

    public int? Integer(string key)
    {
        KeyDefinition definition = Define(key, KeyKind.Integer);
        return LongInteger(definition, key) is { } value && value is >= int.MinValue and <= int.MaxValue ? (int)value : null;
    }

    public ulong? Seed(string key) =>
        LongInteger(Define(key, KeyKind.Integer), key) is { } value ? (ulong)value : null;

    public bool? Flag(string key)
    {
        KeyDefinition definition = Define(key, KeyKind.Flag);
        if (_table.Find(key) is not { } entry)
        {
            return null;
        }

        if (entry.Value is TomlFlag flag)
        {
            return flag.Value;
        }

        SayWrongKind(definition, entry.Value, "true or false");
        return null;
    }

    public TimeSpan? Duration(string key)
    {
        KeyDefinition definition = Define(key, KeyKind.Duration);
        if (_table.Find(key) is not { } entry)
        {
            return null;
        }

        if (FiniteNumber(entry.Value) is { } bare)
        {
            Say(key, $"'{key}' is {Plain(bare)} without a unit", $"write {key} = \"{Plain(bare)} s\" or {key} = \"{Plain(bare)} ms\"");
            return null;
        }

        if (entry.Value is not TomlText text)
        {
            SayWrongKind(definition, entry.Value, "a duration");
            return null;
        }

        if (!DurationText.TryParse(text.Value, out TimeSpan duration))
        {
            Say(key, $"'{key}' is \"{text.Value}\", which is no duration", $"write {definition.Write}, a number and ms, s, min or h");
            return null;
        }

        return InRange(definition, entry.Value, duration.TotalSeconds, DurationText.Write(duration)) ? duration : null;
    }

    public Unit? Unit(string key)
    {
        KeyDefinition definition = Define(key, KeyKind.Unit);
        string? text = Text(key);
        if (text is null)
        {
            return null;
        }

        if (Measurement.Units.Unit.TryParse(text, out Unit unit))
        {
            return unit;
        }

        string[] known = [.. Measurement.Units.Unit.All.Select(u => u.Symbol)];
        string? meant = UnitSpellings.Of(text) ?? NearestName.Of(text, known);
        Say(
            key,
            $"unit \"{text}\" is unknown",
            meant is null ? $"write one of {string.Join(", ", known)}" : $"write {definition.Name} = \"{meant}\"");
        return null;
    }

    public string? Choice(string key)
    {
        KeyDefinition definition = Define(key, KeyKind.Choice);
        string? text = Text(key);
        return text is not null && ChoiceIsSound(definition, _table.Find(key)!.Value, text) ? text : null;
    }

    public T? Choice<T>(string key)
        where T : struct, Enum => Choice(key) is { } slug && Slugs.TryParse(slug, out T value) ? value : null;

    public IReadOnlyList<string>? Words(string key)
    {
        KeyDefinition definition = Define(key, KeyKind.Choices, KeyKind.Slugs, KeyKind.Texts);
        if (Items(definition) is not { } items)
        {
            return null;
        }

        var words = new List<string>();
        foreach (TomlNode item in items)
        {
            if (item is not TomlText text)
            {
                _mistakes.Add(File, item.Line, item.Column, $"'{key}' holds {item.Kind}, texts are expected", $"write {definition.Write}");
            }
            else if (definition.Kind == KeyKind.Texts
                || (definition.Kind == KeyKind.Slugs && SlugIsSound(definition, item, text.Value))
                || (definition.Kind == KeyKind.Choices && ChoiceIsSound(definition, item, text.Value)))
            {
                words.Add(text.Value);
            }
        }

        return words;
    }

    public double[]? Numbers(string key)
    {
        KeyDefinition definition = Define(key, KeyKind.Numbers);
        if (Items(definition) is not { } items)
        {
            return null;
        }

        double?[] numbers = [.. items.Select(FiniteNumber)];
        int wrong = Array.IndexOf(numbers, null);
        if (wrong >= 0)
        {
            _mistakes.Add(File, items[wrong].Line, items[wrong].Column, $"'{key}' holds {items[wrong].Kind}, finite numbers are expected", $"write {definition.Write}");
            return null;
        }

        return [.. numbers.Select(n => n!.Value)];
    }

    public (double Raw, double Value)[]? Points(string key)
    {
        KeyDefinition definition = Define(key, KeyKind.Points);
        if (Items(definition) is not { } items)
        {
            return null;
        }

        var points = new List<(double, double)>();
        foreach (TomlNode item in items)
        {
            if (item is TomlArray { Items: [{ } first, { } second] }
                && FiniteNumber(first) is { } raw && FiniteNumber(second) is { } value)
            {
                points.Add((raw, value));
            }
            else
            {
                _mistakes.Add(File, item.Line, item.Column, $"'{key}' holds something that is no pair of finite numbers", $"write {definition.Write}");
                return null;
            }
        }

        return [.. points];
    }

    public SectionReader? Table(string key)
    {
        KeyDefinition definition = Define(key, KeyKind.Table);
        if (_table.Find(key) is not { } entry)
        {
            return null;
        }

        if (entry.Value is TomlTable table)
        {
            return new SectionReader(File, table, definition.Child!, _mistakes);
        }

        string written = entry.Value is TomlArray { OfTables: true } ? $"'{key}' stands as [[{key}]], a list of tables" : $"'{key}' is {entry.Value.Kind}, a table is expected";
        _mistakes.Add(File, entry.Value.Line, entry.Value.Column, written, $"write {definition.Write}");
        return null;
    }

    public IReadOnlyList<SectionReader> Tables(string key)
    {
        KeyDefinition definition = Define(key, KeyKind.Tables);
        if (_table.Find(key) is not { } entry)
        {
            return [];
        }

        if (entry.Value is TomlArray array && array.Items.TrueForAll(i => i is TomlTable))
        {
            return [.. array.Items.Select(i => new SectionReader(File, (TomlTable)i, definition.Child!, _mistakes))];
        }

        string written = entry.Value is TomlTable ? $"'{key}' stands as [{key}], a single table" : $"'{key}' is {entry.Value.Kind}, a list of tables is expected";
        _mistakes.Add(File, entry.Value.Line, entry.Value.Column, written, $"write {definition.Write} with double brackets, once for each");
        return [];
    }

    internal static string Plain(double number) => number.ToString("0.############", CultureInfo.InvariantCulture);
}
