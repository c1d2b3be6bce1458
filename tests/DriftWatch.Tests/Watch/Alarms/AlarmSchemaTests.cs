using System.Text;
using System.Text.Json;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Tests.Storage;
using DriftWatch.Tests.Watch.Alarms.Health;
using Json.Schema;
using Xunit;

namespace DriftWatch.Tests.Watch.Alarms;

/// <summary>The published schema of the book against its one writer.</summary>
public sealed class AlarmSchemaTests
{
    private static readonly string SchemaText = ReadSchema();

    private static readonly JsonSchema Schema = JsonSchema.FromText(SchemaText);

    public static TheoryData<string> Steps => [.. Slugs.All<AlarmStep>()];

    [Theory]
    [MemberData(nameof(Steps))]
    public void A_line_of_every_step_into_every_state_is_valid_full_and_bare_and_reads_back(string step)
    {
        Assert.True(Slugs.TryParse(step, out AlarmStep what));
        Assert.All(Enum.GetValues<AlarmState>(), to => Holds(what, to));
    }

    private static void Holds(AlarmStep what, AlarmState to)
    {
        AlarmTransition full = AlarmStoreTests.Line(9, 1, what) with
        {
            To = to,
            From = to,
            Cause = "compressor-cut-in",
            By = "anna",
            Identity = "token",
            Why = "“µ” and\nmore",
            ShelvedUntilUtc = 99_000_000_000,
        };
        AlarmTransition bare = new Book().Add(5, "bench.alarm.kind.subject.5", what, to, active: false).Lines[0] with { Channel = null, FirstOut = "", Priority = AlarmPriority.Medium };
        foreach (AlarmTransition line in (AlarmTransition[])[full, bare])
        {
            byte[] json = AlarmJson.ToUtf8(line);
            using JsonDocument document = JsonDocument.Parse(json);
            EvaluationResults results = Schema.Evaluate(document.RootElement, new EvaluationOptions { OutputFormat = OutputFormat.List });
            Assert.True(results.IsValid, $"{Encoding.UTF8.GetString(json)}\n{JsonSerializer.Serialize(results)}");
            Assert.Equal(json, AlarmJson.ToUtf8(AlarmJson.Read(json)));
        }
    }

    [Theory]
    [InlineData("\"step\":\"raised\"", "\"step\":\"shouted\"")]
    [InlineData("\"to\":\"unacknowledged\"", "\"to\":\"latched\"")]
    [InlineData("\"priority\":\"high\"", "\"priority\":\"critical\"")]
    [InlineData("\"place\":0", "\"place\":-1")]
    [InlineData("\"by\":null,", "")]
    [InlineData("\"by\":null", "\"by\":null,\"mood\":\"bad\"")]
    [InlineData("\"id\":\"bench.alarm.", "\"id\":\"bench.")]
    public void A_line_that_says_what_no_writer_says_is_not_valid(string right, string wrong)
    {
        string json = Encoding.UTF8.GetString(AlarmJson.ToUtf8(AlarmStoreTests.Line(5, 0)));
        Assert.Contains(right, json, StringComparison.Ordinal);
        using JsonDocument document = JsonDocument.Parse(json.Replace(right, wrong, StringComparison.Ordinal));
        Assert.False(Schema.Evaluate(document.RootElement).IsValid);
    }

    [Fact]
    public void The_schema_lists_exactly_the_words_there_are_and_the_fields_in_writing_order()
    {
        using JsonDocument schema = JsonDocument.Parse(SchemaText);
        JsonElement properties = schema.RootElement.GetProperty("properties");
        Assert.Equal(Slugs.All<AlarmStep>(), Words(properties.GetProperty("step")));
        Assert.Equal(Slugs.All<AlarmPriority>(), Words(properties.GetProperty("priority")));
        Assert.Equal(Slugs.All<MachineState>(), Words(properties.GetProperty("state")));
        Assert.Equal(Slugs.All<AlarmState>(), Words(schema.RootElement.GetProperty("$defs").GetProperty("stands")));
        using JsonDocument line = JsonDocument.Parse(AlarmJson.ToUtf8(AlarmStoreTests.Line(5, 0) with { By = "anna", Identity = "declared", Consequence = "tape is scraped, within seconds", OnTape = new Measurement.Transfers.TapePlace(7.5, Measurement.Transfers.PositionBasis.Counter), Recalibrated = [Guid.Empty] }));
        string[] written = [.. line.RootElement.EnumerateObject().Select(p => p.Name)];
        Assert.Equal(written, properties.EnumerateObject().Select(p => p.Name));
        // Of who acted it says how he is known, of high priority what happens if nobody acts; lines from before that was kept are as good as they were. Calibrations are named in a re-judgement alone, a place on the tape while a run goes on.
        Assert.Equal(written.Where(name => name is not ("identity" or "consequence" or "tape" or "recalibrated")), schema.RootElement.GetProperty("required").EnumerateArray().Select(e => e.GetString()!));
    }

    private static IEnumerable<string> Words(JsonElement property) => property.GetProperty("enum").EnumerateArray().Select(e => e.GetString()!);

    private static string ReadSchema()
    {
        System.Reflection.Assembly assembly = typeof(DriftWatch.Cli.ExitCode).Assembly;
        string name = assembly.GetManifestResourceNames().Single(n => n.EndsWith("alarm.schema.json", StringComparison.Ordinal));
        using var reader = new StreamReader(assembly.GetManifestResourceStream(name)!);
        return reader.ReadToEnd();
    }
}
