using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Nodes;
using DriftWatch.Measurement.Units;

namespace DriftWatch.Configuration.Keys;

/// <summary>
/// The JSON Schema (draft 2020-12) of a file of keys, for editors that check TOML by it. It can't say everything:
/// <c>driftwatch check</c> also knows how keys depend on one another and on the profiles.
/// </summary>
internal static class KeySchema
{
    /// <summary>The committed file, embedded.</summary>
    public const string BenchResource = "DriftWatch.bench.schema.json";

    private static readonly JsonSerializerOptions Indented = new()
    {
        WriteIndented = true,
        NewLine = "\n",
        Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping,
    };

    public static string Write(TableDefinition root, string id, string title)
    {
        JsonObject schema = Table(root);
        var document = new JsonObject
        {
            ["$schema"] = "https://json-schema.org/draft/2020-12/schema",
            ["$id"] = id,
            ["title"] = title,
        };
        foreach ((string name, JsonNode? value) in schema.ToList())
        {
            schema.Remove(name);
            document[name] = value;
        }

        return document.ToJsonString(Indented) + "\n";
    }

    public static string WriteBench() => Write(BenchKeys.Root, "urn:driftwatch:bench:1", "DriftWatch bench file");

    /// <summary>The schema as it was built into the program.</summary>
    public static string ReadBench()
    {
        using Stream stream = typeof(KeySchema).Assembly.GetManifestResourceStream(BenchResource)
            ?? throw new InvalidOperationException($"The program was built without {BenchResource}.");
        using var reader = new StreamReader(stream);
        return reader.ReadToEnd();
    }

    private static JsonObject Table(TableDefinition table)
    {
        var properties = new JsonObject();
        foreach (KeyDefinition key in table.Keys)
        {
            properties[key.Name] = Key(key);
        }

        var schema = new JsonObject
        {
            ["description"] = table.Text,
            ["type"] = "object",
            ["additionalProperties"] = false,
            ["properties"] = properties,
        };
        if (table.Keys.Any(k => k.Required))
        {
            schema["required"] = Words(table.Keys.Where(k => k.Required).Select(k => k.Name));
        }

        return schema;
    }

    private static JsonObject Key(KeyDefinition key)
    {
        JsonObject schema = key.Kind switch
        {
            KeyKind.Text => Text(key),
            KeyKind.Slug => Slug(),
            KeyKind.Number => Number(key, "number"),
            KeyKind.Integer => Number(key, "integer"),
            KeyKind.Flag => new JsonObject { ["type"] = "boolean" },
            KeyKind.Duration => new JsonObject { ["type"] = "string", ["pattern"] = "^ *[+-]?([0-9]+(\\.[0-9]*)?|\\.[0-9]+) *(ms|s|min|h) *$" },
            KeyKind.Unit => new JsonObject { ["enum"] = Words(Unit.All.Select(u => u.Symbol)) },
            KeyKind.Choice => new JsonObject { ["enum"] = Words(key.Choices) },
            KeyKind.Choices => List(key, new JsonObject { ["enum"] = Words(key.Choices) }),
            KeyKind.Slugs => List(key, Slug()),
            KeyKind.Texts => List(key, new JsonObject { ["type"] = "string" }),
            KeyKind.Numbers => List(key, new JsonObject { ["type"] = "number" }),
            KeyKind.Points => List(key, new JsonObject
            {
                ["type"] = "array",
                ["items"] = new JsonObject { ["type"] = "number" },
                ["minItems"] = 2,
                ["maxItems"] = 2,
            }),
            KeyKind.Table => Table(key.Child!),
            _ => new JsonObject { ["type"] = "array", ["items"] = Table(key.Child!) },
        };
        string range = key.Kind == KeyKind.Duration && Ranges.InWords(key) is { } words ? $" Allowed: {words}." : "";
        string standard = key.Default is null ? "" : $" Default: {key.Default}.";
        string unit = key.Unit is null ? "" : $" In {key.Unit}.";
        schema["description"] = key.Text + unit + range + standard;
        return schema;
    }

    private static JsonObject Text(KeyDefinition key)
    {
        var schema = new JsonObject { ["type"] = "string", ["minLength"] = (int)(key.Minimum ?? 1) };
        if (key.Maximum is { } longest)
        {
            schema["maxLength"] = (int)longest;
        }

        return schema;
    }

    private static JsonObject Slug() => new()
    {
        ["type"] = "string",
        ["pattern"] = "^[a-z0-9]+(-[a-z0-9]+)*$",
        ["maxLength"] = SectionReader.LongestSlug,
    };

    private static JsonObject Number(KeyDefinition key, string type)
    {
        var schema = new JsonObject { ["type"] = type };
        if (key.Minimum is { } least)
        {
            schema["minimum"] = least;
        }

        if (key.Maximum is { } greatest)
        {
            schema["maximum"] = greatest;
        }

        return schema;
    }

    private static JsonObject List(KeyDefinition key, JsonObject item)
    {
        var schema = new JsonObject { ["type"] = "array", ["items"] = item };
        if (key.Minimum is { } least)
        {
            schema["minItems"] = (int)least;
        }

        if (key.Maximum is { } greatest)
        {
            schema["maxItems"] = (int)greatest;
        }

        return schema;
    }

    private static JsonArray Words(IEnumerable<string> words) => [.. words.Select(w => (JsonNode)w)];
}
