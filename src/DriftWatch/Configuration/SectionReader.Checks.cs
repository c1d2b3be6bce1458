using System.Globalization;
using System.Text.RegularExpressions;
using DriftWatch.Configuration.Keys;
using DriftWatch.Configuration.Toml;
using DriftWatch.Measurement.Names;

namespace DriftWatch.Configuration;

internal sealed partial class SectionReader
{
    public const int LongestSlug = 48;

    private KeyDefinition Define(string key, params ReadOnlySpan<KeyKind> kinds)
    {
        KeyDefinition definition = Definition.Find(key)
            ?? throw new InvalidOperationException($"{Definition.Header} defines no key '{key}'.");
        if (kinds.Length > 0 && !kinds.Contains(definition.Kind))
        {
            throw new InvalidOperationException($"'{key}' of {Definition.Header} is read as {kinds[0]} but defined as {definition.Kind}.");
        }

        return definition;
    }

    private void SayUnknownKeys()
    {
        foreach (TomlEntry entry in _table.Entries.Where(e => Definition.Find(e.Key) is null))
        {
            string? meant = NearestName.Of(entry.Key, Definition.Keys.Select(k => k.Name));
            _mistakes.Add(
                File,
                entry.Line,
                entry.Column,
                $"{Definition.Header} has no key '{entry.Key}'",
                meant is null ? $"write one of {string.Join(", ", Definition.Keys.Select(k => k.Name))}" : $"write '{meant}'");
        }
    }

    private void SayMissingKeys()
    {
        foreach (KeyDefinition key in Definition.Keys.Where(k => k.Required && _table.Find(k.Name) is null))
        {
            SayHere($"{Name} lacks '{key.Name}'", $"write {key.Write}");
        }
    }

    private void SayWrongKind(KeyDefinition key, TomlNode node, string expected)
    {
        string write = node switch
        {
            // "50" where 50 is meant, and 5 where "5" is meant: show their own value, rightly written.
            TomlText text when key.Kind is KeyKind.Number or KeyKind.Integer
                && double.TryParse(text.Value, NumberStyles.Float, CultureInfo.InvariantCulture, out double number)
                && double.IsFinite(number) => $"{key.Name} = {text.Value.Trim()}",
            TomlInteger integer when key.Kind is KeyKind.Text => $"{key.Name} = \"{integer.Value}\"",
            TomlText { Value: "true" or "false" } text when key.Kind is KeyKind.Flag => $"{key.Name} = {text.Value}",
            _ => key.Write,
        };
        _mistakes.Add(File, node.Line, node.Column, $"'{key.Name}' is {node.Kind}, {expected} is expected", $"write {write}");
    }

    private long? LongInteger(KeyDefinition definition, string key)
    {
        if (_table.Find(key) is not { } entry)
        {
            return null;
        }

        if (entry.Value is not TomlInteger integer)
        {
            SayWrongKind(definition, entry.Value, "a whole number");
            return null;
        }

        return InRange(definition, entry.Value, integer.Value, integer.Value.ToString(CultureInfo.InvariantCulture)) ? integer.Value : null;
    }

    private static double? FiniteNumber(TomlNode node) => node switch
    {
        TomlInteger integer => integer.Value,
        TomlFloat real when double.IsFinite(real.Value) => real.Value,
        _ => null,
    };

    private bool InRange(KeyDefinition key, TomlNode node, double value, string written)
    {
        if (!(value < key.Minimum) && !(value > key.Maximum))
        {
            return true;
        }

        string allowed = Ranges.InWords(key)!;
        _mistakes.Add(File, node.Line, node.Column, $"'{key.Name}' is {written}, allowed is {allowed}", $"write for example {key.Write}");
        return false;
    }

    private bool LengthIsSound(KeyDefinition key, TomlText text)
    {
        if (text.Value.Length >= (key.Minimum ?? 1) && text.Value.Length <= (key.Maximum ?? 400) && !text.Value.Any(char.IsControl))
        {
            return true;
        }

        string what = text.Value.Length == 0 ? "is empty" : $"is {text.Value.Length} characters, allowed is {Ranges.InWords(key) ?? "1 to 400"}, without control characters";
        _mistakes.Add(File, text.Line, text.Column, $"'{key.Name}' {what}", $"write {key.Write}");
        return false;
    }

    private bool SlugIsSound(KeyDefinition key, TomlNode node, string text)
    {
        if (text.Length <= LongestSlug && SlugPattern().IsMatch(text))
        {
            return true;
        }

        string lower = NotSlug().Replace(text.ToLowerInvariant(), "-").Trim('-');
        string slug = lower.Length > LongestSlug ? lower[..LongestSlug].TrimEnd('-') : lower;
        string write = slug.Length > 0 && SlugPattern().IsMatch(slug) ? $"\"{slug}\"" : key.Example;
        _mistakes.Add(
            File,
            node.Line,
            node.Column,
            $"'{key.Name}' is \"{text}\"; allowed are small letters, digits and single dashes, a letter or digit at both ends, at most {LongestSlug} characters",
            key.Kind == KeyKind.Slugs ? $"write {write}" : $"write {key.Name} = {write}");
        return false;
    }

    private bool ChoiceIsSound(KeyDefinition key, TomlNode node, string text)
    {
        if (key.Choices.Contains(text, StringComparer.Ordinal))
        {
            return true;
        }

        string? meant = NearestName.Of(text, key.Choices);
        string prefix = key.Kind == KeyKind.Choices ? "write " : $"write {key.Name} = ";
        _mistakes.Add(
            File,
            node.Line,
            node.Column,
            $"'{key.Name}' can't be \"{text}\"",
            prefix + (meant is null ? "one of " + string.Join(", ", key.Choices.Select(c => $"\"{c}\"")) : $"\"{meant}\""));
        return false;
    }

    private List<TomlNode>? Items(KeyDefinition key)
    {
        if (_table.Find(key.Name) is not { } entry)
        {
            return null;
        }

        if (entry.Value is not TomlArray { OfTables: false } array)
        {
            SayWrongKind(key, entry.Value, "a list");
            return null;
        }

        if (array.Items.Count < key.Minimum || array.Items.Count > key.Maximum)
        {
            _mistakes.Add(File, array.Line, array.Column, $"'{key.Name}' holds {array.Items.Count}, allowed is {Ranges.InWords(key)}", $"write {key.Write}");
            return null;
        }

        return array.Items;
    }

    [GeneratedRegex("^[a-z0-9]+(-[a-z0-9]+)*\\z", RegexOptions.CultureInvariant | RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex SlugPattern();

    [GeneratedRegex("[^a-z0-9]+", RegexOptions.CultureInvariant, 1000)]
    private static partial Regex NotSlug();
}
