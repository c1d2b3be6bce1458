namespace DriftWatch.Configuration.Keys;

/// <summary>What may stand to the right of a key.</summary>
internal enum KeyKind
{
    Text,

    /// <summary>A name that stays for ever: small letters, digits and dashes.</summary>
    Slug,
    Number,
    Integer,
    Flag,

    /// <summary>A time with its unit, such as "100 ms".</summary>
    Duration,

    /// <summary>The symbol of a unit.</summary>
    Unit,

    /// <summary>One of a few words.</summary>
    Choice,
    Choices,
    Slugs,
    Texts,
    Numbers,

    /// <summary>Pairs: [[raw, value], …].</summary>
    Points,
    Table,
    Tables,
}

/// <summary>
/// One key of a file: what may stand there, within which bounds, what holds without it. The reader, the JSON Schema and
/// the reference page are all made from these, so that none can know a key the others don't.
/// </summary>
/// <param name="Name">As written in the file.</param>
/// <param name="Kind">What may stand to the right of it.</param>
/// <param name="Text">One sentence for the reference.</param>
/// <param name="Example">A value in TOML, shown in the reference and in the remedy of a mistake.</param>
internal sealed record KeyDefinition(string Name, KeyKind Kind, string Text, string Example)
{
    public bool Required { get; init; }

    /// <summary>What holds without the key, in words or as TOML; null for a required key or where nothing holds.</summary>
    public string? Default { get; init; }

    /// <summary>Least allowed, inclusive: a number, seconds for a duration, items for a list.</summary>
    public double? Minimum { get; init; }

    /// <summary>Greatest allowed, inclusive.</summary>
    public double? Maximum { get; init; }

    /// <summary>The unit of a number, for the reference; null where it has none or the text says it.</summary>
    public string? Unit { get; init; }

    public IReadOnlyList<string> Choices { get; init; } = [];

    /// <summary>For a table or a list of tables.</summary>
    public TableDefinition? Child { get; init; }

    /// <summary>Under the key as it should be written.</summary>
    public string Write => Kind switch
    {
        KeyKind.Table => Example.StartsWith('{') ? $"{Name} = {Example}" : Example,
        KeyKind.Tables => Example,
        _ => $"{Name} = {Example}",
    };
}

/// <summary>The keys of one table. <paramref name="Header"/> is how the file shows it: <c>[bench]</c>, <c>[[channel]]</c>, <c>serial = { … }</c>.</summary>
internal sealed record TableDefinition(string Header, string Text, IReadOnlyList<KeyDefinition> Keys)
{
    private readonly Dictionary<string, KeyDefinition> _byName = Keys.ToDictionary(k => k.Name, StringComparer.Ordinal);

    public KeyDefinition? Find(string name) => _byName.GetValueOrDefault(name);

    /// <summary>This table and all below it, in order.</summary>
    public IEnumerable<TableDefinition> Flatten()
    {
        yield return this;
        foreach (TableDefinition below in Keys.Where(k => k.Child is not null).SelectMany(k => k.Child!.Flatten()))
        {
            yield return below;
        }
    }
}
