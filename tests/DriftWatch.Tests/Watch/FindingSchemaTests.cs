using System.Text.Json;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Tests.Watch.Support;
using Json.Schema;
using Xunit;

namespace DriftWatch.Tests.Watch;

public class FindingSchemaTests
{
    private static readonly string SchemaText = ReadSchema();

    private static readonly JsonSchema Schema = JsonSchema.FromText(SchemaText);

    [Theory]
    [InlineData(1)]
    [InlineData(77)]
    [InlineData(20261125)]
    public void Every_line_of_a_night_in_which_everything_happens_is_valid_and_reads_back(ulong seed)
    {
        List<FindingLine> lines = Night.Judge(RandomNights.Make(seed));
        Assert.NotEmpty(lines);
        foreach (FindingLine line in lines)
        {
            byte[] json = FindingJson.ToUtf8(line);
            using JsonDocument document = JsonDocument.Parse(json);
            EvaluationResults results = Schema.Evaluate(document.RootElement, new EvaluationOptions { OutputFormat = OutputFormat.List });
            Assert.True(results.IsValid, $"seed {seed}: {System.Text.Encoding.UTF8.GetString(json)}\n{JsonSerializer.Serialize(results)}");
            Assert.Equal(json, FindingJson.ToUtf8(FindingJson.Read(json)));
        }
    }

    [Fact]
    public void A_line_with_an_unknown_word_is_not_valid()
    {
        FindingLine line = new Night(TestBench.Full()).Until(1).Judge()[0];
        string json = System.Text.Encoding.UTF8.GetString(FindingJson.ToUtf8(line));
        using JsonDocument wrong = JsonDocument.Parse(json.Replace("\"phase\":\"raised\"", "\"phase\":\"shouted\"", StringComparison.Ordinal));
        Assert.False(Schema.Evaluate(wrong.RootElement).IsValid);
    }

    [Fact]
    public void The_schema_lists_exactly_the_kinds_there_are()
    {
        using JsonDocument schema = JsonDocument.Parse(SchemaText);
        Assert.Equal(
            FindingKinds.All.Select(k => k.Kind),
            schema.RootElement.GetProperty("properties").GetProperty("kind").GetProperty("enum").EnumerateArray().Select(e => e.GetString()!));
        Assert.Equal(
            typeof(FindingKinds).GetFields().Where(f => f.IsLiteral).Select(f => (string)f.GetRawConstantValue()!),
            FindingKinds.All.Select(k => k.Kind));
    }

    private static string ReadSchema()
    {
        System.Reflection.Assembly assembly = typeof(DriftWatch.Cli.ExitCode).Assembly;
        string name = assembly.GetManifestResourceNames().Single(n => n.EndsWith("finding.schema.json", StringComparison.Ordinal));
        using var reader = new StreamReader(assembly.GetManifestResourceStream(name)!);
        return reader.ReadToEnd();
    }
}
