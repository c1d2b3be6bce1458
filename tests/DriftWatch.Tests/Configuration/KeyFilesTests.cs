using System.Text.Json;
using System.Text.Json.Nodes;
using DriftWatch.Configuration;
using DriftWatch.Configuration.Keys;
using DriftWatch.Configuration.Toml;
using Json.Schema;
using Xunit;

namespace DriftWatch.Tests.Configuration;

/// <summary>The reader, the JSON Schema and the reference page know the same keys.</summary>
public sealed class KeyFilesTests
{
    private static readonly TableDefinition[] Roots =
        [BenchKeys.Root, ProfileKeys.Root, ProfileKeys.SensorRoot, TransferKeys.CheckListRoot, TransferKeys.LineUpRoot, TransferKeys.VerdictRoot, AccessKeys.Root, SheetKeys.Root];

    [Fact]
    public void The_committed_schema_is_the_one_made_from_the_keys() =>
        AssertCommitted(["src", "DriftWatch", "Configuration", "schemas", "bench.schema.json"], KeySchema.WriteBench());

    [Fact]
    public void The_committed_reference_is_the_one_made_from_the_keys() =>
        AssertCommitted(["device-profiles", "REFERENCE.md"], KeyReference.Write());

    [Fact]
    public void The_embedded_schema_is_the_committed_one() =>
        Assert.Equal(KeySchema.WriteBench(), KeySchema.ReadBench());

    [Fact]
    public void Every_key_of_every_file_stands_in_the_reference()
    {
        string page = File.ReadAllText(PathOf(["device-profiles", "REFERENCE.md"]));
        foreach (TableDefinition table in Roots.SelectMany(r => r.Flatten()))
        {
            int section = page.IndexOf($"### `{table.Header}`", StringComparison.Ordinal);
            Assert.True(section >= 0, $"{table.Header} has no section");
            foreach (KeyDefinition key in table.Keys)
            {
                Assert.Contains($"| `{key.Name}` |", page[section..], StringComparison.Ordinal);
            }
        }
    }

    [Fact]
    public void Every_key_of_a_bench_file_stands_in_the_schema()
    {
        Check(BenchKeys.Root, JsonNode.Parse(KeySchema.ReadBench())!.AsObject());

        static void Check(TableDefinition table, JsonObject schema)
        {
            JsonObject properties = schema["properties"]!.AsObject();
            Assert.Equal(table.Keys.Select(k => k.Name), properties.Select(p => p.Key));
            foreach (KeyDefinition key in table.Keys.Where(k => k.Child is not null))
            {
                JsonObject below = properties[key.Name]!.AsObject();
                Check(key.Child!, key.Kind == KeyKind.Tables ? below["items"]!.AsObject() : below);
            }
        }
    }

    [Fact]
    public void A_key_that_is_not_defined_can_not_be_read()
    {
        var section = new SectionReader("x.toml", new TomlTable(1, 1), BenchKeys.Retention, new MistakeList());
        Assert.Throws<InvalidOperationException>(() => section.Number("raw-years"));
        Assert.Throws<InvalidOperationException>(() => section.Text("raw-months"));
    }

    [Fact]
    public void The_practice_bench_follows_the_schema_and_a_misspelt_key_does_not()
    {
        JsonSchema schema = JsonSchema.FromText(KeySchema.ReadBench());
        string path = Path.Combine(ProfileFolders.Default[0], "practice-rig", "bench.toml");
        JsonObject bench = Json(TomlTreeReader.Read(path, File.ReadAllText(path), new MistakeList())!);
        Assert.True(schema.Evaluate(Element(bench)).IsValid);

        bench["channel"]![0]!["perod"] = "100 ms";
        Assert.False(schema.Evaluate(Element(bench)).IsValid);
    }

    private static JsonElement Element(JsonObject node) => JsonSerializer.SerializeToElement(node);

    private static JsonObject Json(TomlTable table)
    {
        var result = new JsonObject();
        foreach (TomlEntry entry in table.Entries)
        {
            result[entry.Key] = Json(entry.Value);
        }

        return result;
    }

    private static JsonNode? Json(TomlNode node) => node switch
    {
        TomlTable table => Json(table),
        TomlArray array => new JsonArray([.. array.Items.Select(Json)]),
        TomlText text => JsonValue.Create(text.Value),
        TomlInteger integer => JsonValue.Create(integer.Value),
        TomlFloat real => JsonValue.Create(real.Value),
        TomlFlag flag => JsonValue.Create(flag.Value),
        _ => null,
    };

    /// <summary>With DRIFTWATCH_REWRITE=1 in the environment the file is written instead.</summary>
    private static void AssertCommitted(string[] path, string due)
    {
        string file = PathOf(path);
        if (Environment.GetEnvironmentVariable("DRIFTWATCH_REWRITE") == "1")
        {
            File.WriteAllText(file, due);
        }

        Assert.True(
            File.ReadAllText(file) == due,
            $"{string.Join('/', path)} is out of step with the keys: run DRIFTWATCH_REWRITE=1 dotnet test --filter {nameof(KeyFilesTests)} and commit it.");
    }

    private static string PathOf(string[] path)
    {
        string? folder = AppContext.BaseDirectory;
        while (folder is not null && !File.Exists(Path.Combine(folder, "DriftWatch.sln")))
        {
            folder = Path.GetDirectoryName(folder);
        }

        Assert.NotNull(folder);
        return Path.Combine([folder, .. path]);
    }
}
