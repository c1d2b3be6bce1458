using System.Globalization;
using System.Net;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using DriftWatch.Analysis.RfHeads;
using DriftWatch.Analysis.TimingGeometry;
using DriftWatch.Cli;
using DriftWatch.Tests.Cli;
using DriftWatch.Tests.Recordings;
using DriftWatch.Web;

namespace DriftWatch.Tests.Web;

/// <summary>The measurements over the API say and count what the command line does, and name what is wrong with a request.</summary>
public sealed class MeasureApiTests : IAsyncLifetime, IDisposable
{
    private const string LevelsTable = "level,value\nblack,53\nwhite,700\nsync,318\naudio-zero,-18\n";
    private const string BarsTable = "head,dark,bright\n1,100,700\n1,101,701\n2,100,680\n2,101,681\n3,100,700\n3,101,700\n4,140,740\n4,141,741\n";
    private readonly RecordingFolder _folder = new();
    private ServedBench _served = null!;

    public async Task InitializeAsync() => _served = await ServedBench.StartAsync(new WebSettings(), new FakeBench(TimeProvider.System));

    public async Task DisposeAsync() => await _served.DisposeAsync();

    public void Dispose() => _folder.Dispose();

    public static TheoryData<string, string, string[], string> Same() => new()
    {
        { "tracking", Sweep([0.4, 0.4, 0.4, 0.4]), [], "{}" },
        { "tracking", Sweep([-1, -0.8, null, 1.5]), ["--unit", "division"], "{\"unit\":\"division\"}" },
        { "tracking", "position,head1\n0,-3\n1,-3.1\n2,-3.4\n", [], "{}" },
        { "equaliser", Equaliser(), [], "{}" },
        { "matching", BarsTable, ["--tolerance", "0.5"], "{\"tolerance\":0.5}" },
        { "levels", LevelsTable, ["--standard", "625"], "{\"standard\":\"625\"}" },
        { "leak-down", Fall(), ["--receiver-litres", "24", "--volume-error", "0.5"], "{\"receiverLitres\":24,\"volumeError\":0.5}" },
        { "timing", Record(), ["--standard", "525", "--tape", "reference"], "{\"standard\":\"525\",\"tape\":\"reference\"}" },
        { "timing", Record(), ["--standard", "525", "--tape", "own", "--terms", "revolution"], "{\"standard\":\"525\",\"tape\":\"own\",\"terms\":\"revolution\"}" },
    };

    [Theory]
    [MemberData(nameof(Same))]
    public async Task It_says_what_the_command_line_prints(string what, string table, string[] options, string fields)
    {
        (_, string printed, string error) = await CommandLineTests.RunAsync(["measure", what, _folder.Write("table.csv", table), .. options]);
        Assert.Empty(error);
        JsonElement answer = await MeasureAsync(what, table, fields);
        Assert.True(answer.GetProperty("told").GetBoolean());
        string[] lines = printed.ReplaceLineEndings("\n").Split('\n');
        Assert.Equal($"table.csv: {answer.GetProperty("opening")[0].GetString()}", lines[0]);
        foreach (JsonElement part in answer.GetProperty("parts").EnumerateArray())
        {
            foreach (JsonElement line in part.GetProperty("lines").EnumerateArray())
            {
                Assert.Contains(line.GetString(), lines.Select(l => l.StartsWith("- ", StringComparison.Ordinal) ? l[2..] : l));
            }

            foreach (JsonElement row in part.GetProperty("rows").EnumerateArray())
            {
                string[] cells = [.. row.EnumerateArray().Select(c => c.GetString()!)];
                Assert.Contains(lines, l => cells.All(c => l.Contains(c, StringComparison.Ordinal)));
            }
        }
    }

    [Fact]
    public async Task The_numbers_of_a_timing_record_are_the_commands_own()
    {
        (_, string printed, _) = await CommandLineTests.RunAsync("measure", "timing", _folder.Write("table.csv", Record()), "--standard", "525", "--tape", "reference", "--json");
        JsonNode own = JsonNode.Parse(printed)!["quantities"]!;
        JsonElement answer = await MeasureAsync("timing", Record(), "{\"standard\":\"525\",\"tape\":\"reference\"}");
        foreach (JsonElement quantity in answer.GetProperty("quantities").EnumerateArray())
        {
            JsonNode same = own[quantity.GetProperty("name").GetString()!]!;
            Assert.Equal((double)same["value"]!, quantity.GetProperty("value").GetDouble());
            Assert.Equal((double)same["standardError"]!, quantity.GetProperty("standardUncertainty").GetDouble());
        }

        JsonElement record = answer.GetProperty("timing");
        Assert.Equal(64, record.GetProperty("heads").GetArrayLength());
        Assert.Equal(64, record.GetProperty("residualsNs").GetArrayLength());
        Assert.Contains("guide-height", record.GetProperty("advice").EnumerateArray().Select(a => a.GetProperty("what").GetString()));
    }

    [Fact]
    public async Task A_sweep_names_its_setting_with_its_interval_and_the_lines_that_were_fitted()
    {
        JsonElement answer = await MeasureAsync("tracking", Sweep([0.4, 0.4, 0.4, 0.4]), "{}");
        JsonElement setting = answer.GetProperty("quantities").EnumerateArray().Single(q => q.GetProperty("name").GetString() == "setting");
        Assert.InRange(setting.GetProperty("value").GetDouble(), 0.3, 0.5);
        Assert.InRange(0.4, setting.GetProperty("lower").GetDouble(), setting.GetProperty("upper").GetDouble());
        Assert.StartsWith("Set the control to 0.", answer.GetProperty("headline").GetString(), StringComparison.Ordinal);
        JsonElement[] traces = [.. answer.GetProperty("drawing").GetProperty("traces").EnumerateArray()];
        Assert.Equal(4, traces.Count(t => t.GetProperty("isLine").GetBoolean()));
        Assert.Equal(11, traces.First(t => !t.GetProperty("isLine").GetBoolean()).GetProperty("x").GetArrayLength());
        Assert.Contains("15,000 rev/min", answer.GetProperty("caution").GetString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_half_error_loop_gives_the_move_that_the_command_gives()
    {
        (_, string printed, _) = await CommandLineTests.RunAsync(
            "measure", "half-error", _folder.Write("seen.txt", "-400\n150\n"), "--standard", "525", "--standard-error", "2", "--procedure", "new-recording", "--adjust", "in-out");
        JsonElement answer = await MeasureAsync(
            "half-error", "error,moved\n-400,\n150,\n", "{\"standard\":\"525\",\"standardError\":2,\"procedure\":\"new-recording\",\"adjust\":\"in-out\"}");
        Assert.Contains(answer.GetProperty("headline").GetString()!, printed, StringComparison.Ordinal);
        Assert.Contains("OUT, away from the wheel", answer.GetProperty("headline").GetString(), StringComparison.Ordinal);
        JsonElement begun = await MeasureAsync("half-error", "", "{\"standard\":\"525\",\"standardError\":2,\"procedure\":\"new-recording\"}");
        Assert.Contains("Record the test signal", begun.GetProperty("headline").GetString(), StringComparison.Ordinal);
        JsonElement refused = await MeasureAsync("half-error", "", "{\"standard\":\"525\",\"standardError\":2,\"procedure\":\"archive\"}");
        Assert.Contains("Never record on a tape that is to be preserved", refused.GetProperty("headline").GetString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_drop_of_a_filter_and_its_growth()
    {
        JsonElement answer = await _served.PostAsync("/api/v1/measure/filter", "{\"atRest\":51.2,\"underFlow\":49.9,\"dropBefore\":0.6}");
        (_, string printed, _) = await CommandLineTests.RunAsync("measure", "filter", "--at-rest", "51.2", "--under-flow", "49.9", "--drop-before", "0.6");
        Assert.Contains(answer.GetProperty("headline").GetString()!, printed, StringComparison.Ordinal);
        Assert.Equal(1.3, answer.GetProperty("quantities")[0].GetProperty("value").GetDouble(), 9);
    }

    [Fact]
    public async Task Every_measurement_is_listed_with_what_can_hurt()
    {
        JsonElement[] items = [.. (await _served.GetAsync("/api/v1/measure")).GetProperty("items").EnumerateArray()];
        Assert.Equal(8, items.Length);
        Assert.Contains("rev/min", items.Single(i => i.GetProperty("id").GetString() == "tracking").GetProperty("caution").GetString(), StringComparison.Ordinal);
        Assert.Contains("compressed air", items.Single(i => i.GetProperty("id").GetString() == "leak-down").GetProperty("caution").GetString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task What_can_not_be_told_is_an_answer_that_says_what_is_missing()
    {
        JsonElement answer = await MeasureAsync("equaliser", "setting,level\n1,2\n2,3\n", "{}");
        Assert.False(answer.GetProperty("told").GetBoolean());
        Assert.Equal("not enough data: 2 of 9 different settings. Read the level at more settings.", answer.GetProperty("missing").GetString());
    }

    [Theory]
    [InlineData("tracking", "position,head1\n1,x\n", "{}", "csv", "Line 2, column 3: 'x' in 'head1' is no number", HttpStatusCode.UnprocessableEntity)]
    [InlineData("tracking", "", "{}", "csv", "the file has no heading", HttpStatusCode.UnprocessableEntity)]
    [InlineData("timing", "head,angle\n1,2\n", "{\"standard\":\"525\"}", "csv", "names no record of timing errors", HttpStatusCode.UnprocessableEntity)]
    [InlineData("timing", "head,angle,error\n1,2,3\n", "{}", "standard", "It is missing.", HttpStatusCode.BadRequest)]
    [InlineData("timing", "head,angle,error\n1,2,3\n", "{\"standard\":\"405\"}", "standard", "'405' is none of the words.", HttpStatusCode.BadRequest)]
    [InlineData("leak-down", "time,pressure\n1,2\n", "{\"receiverLitres\":0}", "receiverLitres", "0 is out of bounds.", HttpStatusCode.BadRequest)]
    [InlineData("matching", "head,dark,bright\n1,2,3\n", "{\"tolerance\":\"wide\"}", "tolerance", "of another type", HttpStatusCode.BadRequest)]
    [InlineData("half-error", "", "{\"standard\":\"525\",\"standardError\":2}", "procedure", "It is missing.", HttpStatusCode.BadRequest)]
    public async Task A_wrong_request_is_told_by_field_place_and_remedy(string what, string table, string fields, string field, string says, HttpStatusCode status)
    {
        JsonElement problem = await MeasureAsync(what, table, fields, status);
        Assert.Equal(field, problem.GetProperty("parameter").GetString());
        Assert.Contains(says, problem.GetProperty("detail").GetString(), StringComparison.Ordinal);
        Assert.NotEmpty(problem.GetProperty("remedy").GetString()!);
    }

    [Fact]
    public async Task A_body_beyond_a_mebibyte_is_refused_with_the_limit()
    {
        JsonElement problem = await MeasureAsync("equaliser", new string('1', 1_100_000), "{}", HttpStatusCode.RequestEntityTooLarge);
        Assert.Contains("1024 KiB", problem.GetProperty("remedy").GetString(), StringComparison.Ordinal);
        JsonElement taken = await MeasureAsync("equaliser", "setting,level\n" + string.Concat(Enumerable.Repeat("# a remark that goes on and on\n", 5000)) + "1,2\n", "{}");
        Assert.False(taken.GetProperty("told").GetBoolean()); // 150 KiB, which other requests refuse, was read
    }

    private async Task<JsonElement> MeasureAsync(string what, string table, string fields, HttpStatusCode status = HttpStatusCode.OK)
    {
        JsonNode body = JsonNode.Parse(fields)!;
        body["csv"] = table;
        return await _served.PostAsync($"/api/v1/measure/{what}", body.ToJsonString(), status);
    }

    private static string Sweep(double?[] peaks)
    {
        var random = new Random(20261129);
        var text = new StringBuilder("position,head1,head2,head3,head4\n");
        for (int mil = -5; mil <= 5; mil++)
        {
            text.Append(mil).AppendJoin("", peaks.Select(peak => peak is { } p
                ? string.Create(CultureInfo.InvariantCulture, $",{TrackingTriangle.LevelDb(mil - p) - 6 + (0.1 * (random.NextDouble() - 0.5)):0.00}")
                : ",")).Append('\n');
        }

        return text.ToString();
    }

    private static string Equaliser()
    {
        var random = new Random(20261130);
        return "setting,level\n" + string.Concat(Enumerable.Range(0, 21).Select(i => i / 2.0).Select(s =>
            string.Create(CultureInfo.InvariantCulture, $"{s},{(0.8 * s) - (5 * Math.Exp(-Math.Pow((s - 5.5) / 2, 2))) + (0.2 * (random.NextDouble() - 0.5)):0.00}\n")));
    }

    private static string Fall()
    {
        var random = new Random(20261201);
        return "time,pressure\n" + string.Concat(Enumerable.Range(0, 151).Select(i => 2 * i).Select(t =>
            string.Create(CultureInfo.InvariantCulture, $"{t},{(104.7 * Math.Exp(-t / 3000.0)) - 14.7 + (0.04 * (random.NextDouble() - 0.5)):0.000}\n")));
    }

    /// <summary>A guide 0.3 mil too far out and 0.2 mil too high, with some noise.</summary>
    private static string Record()
    {
        var random = new Random(20261202);
        double v = TimingStandard.Mono525.NsPerMil;
        return "head,angle,error\n" + string.Concat(Enumerable.Range(0, 64).Select(i =>
        {
            double angle = -45 + (90 * ((i % 16) + 0.5) / 16);
            double radians = angle * Math.PI / 180;
            double error = (v * ((0.2 * Math.Cos(radians)) - (0.3 * Math.Sin(radians)))) + (4 * (random.NextDouble() - 0.5));
            return string.Create(CultureInfo.InvariantCulture, $"{1 + (i / 16)},{angle:0.####},{error:0.00}\n");
        }));
    }
}
