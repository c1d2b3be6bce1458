using System.Globalization;
using System.Text;
using System.Text.Json;
using DriftWatch.Analysis.TimingGeometry;
using DriftWatch.Cli;
using DriftWatch.Cli.Measuring;
using DriftWatch.Tests.Analysis.TimingGeometry;
using DriftWatch.Tests.Recordings;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Cli.Measuring;

/// <summary><c>measure timing</c> and <c>measure half-error</c> as a person meets them; kept transcripts, made anew by DRIFTWATCH_REWRITE=1.</summary>
public sealed class MeasureTimingTests : IDisposable
{
    private readonly RecordingFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task Sixty_revolutions_on_a_reference_tape()
    {
        JsonElement fixture = TimingCases.Fixtures.First(f => f.GetProperty("id").GetString() == "F5");
        string file = _folder.Write("reference.csv", Frames(fixture.GetProperty("e_ns").Doubles(), 60, 3));
        await Transcript.Holds("reference", ExitCode.Done, "timing", file, "--standard", "525", "--tape", "reference");
    }

    [Fact]
    public async Task Real_lines_of_a_tape_from_elsewhere_in_microseconds_with_a_mark_missing()
    {
        JsonElement grid = TimingCases.Grids.Last();
        string file = _folder.Write("lines.csv", Lines(grid, 0.001, 12));
        await Transcript.Holds("lines", ExitCode.Done, "timing", file, "--standard", "625", "--unit", "us");
    }

    [Fact]
    public async Task A_head_missing_a_range_met_and_a_tape_of_ones_own()
    {
        JsonElement fixture = TimingCases.Fixtures.First(f => f.GetProperty("id").GetString() == "F8");
        double[] errors = [.. fixture.GetProperty("e_ns").Doubles().Select(e => Math.Max(e, -1250))];
        string all = Frames(errors, 1, 0);
        string file = _folder.Write("own.csv", string.Join('\n', all.Split('\n').Where(l => !l.StartsWith("2,", StringComparison.Ordinal))));
        await Transcript.Holds("own", ExitCode.Done, "timing", file, "--standard", "525-colour", "--tape", "own", "--range", "1250", "--terms", "revolution");
    }

    /// <summary>F5 of the independent simulation: skew −385.0 and scallop −513.3 ns, as coefficients of sine and cosine, and 77.16 ns of head 3.</summary>
    [Fact]
    public async Task For_programs_as_one_object_with_units_and_standard_errors()
    {
        JsonElement fixture = TimingCases.Fixtures.First(f => f.GetProperty("id").GetString() == "F5");
        string all = Frames(fixture.GetProperty("e_ns").Doubles(), 60, 3);
        string file = _folder.Write("reference.csv", all);
        (int code, string output, string error) = await CommandLineTests.RunAsync(["measure", "timing", file, "--standard", "525", "--tape", "reference", "--json"]);
        Assert.Equal((ExitCode.Done, ""), (code, error));
        JsonElement found = JsonDocument.Parse(output).RootElement;
        Assert.Equal(("driftwatch.measure.timing/1", "reference.csv", "525", 60), (
            found.GetProperty("format").GetString(), found.GetProperty("file").GetString(), found.GetProperty("standard").GetString(), found.GetProperty("revolutions").GetInt32()));
        foreach ((string name, string unit, double value) in ((string, string, double)[])[
            ("skew", "ns", -384.990 * Math.Sqrt(2)), ("scallop", "ns", -513.320 * (1 - Math.Sqrt(0.5))), ("penetration", "mil", 0.6), ("height", "mil", -0.8), ("step-3", "ns", 77.1605), ("lag-3", "arcmin", 0.4)])
        {
            JsonElement quantity = found.GetProperty("quantities").GetProperty(name);
            double sigma = quantity.GetProperty("standardError").GetDouble();
            Assert.Equal(unit, quantity.GetProperty("unit").GetString());
            Assert.True(sigma > 0 && Math.Abs(quantity.GetProperty("value").GetDouble() - value) < 4 * sigma, $"{name}: {quantity} instead of {value}");
        }

        Assert.Contains(found.GetProperty("advice").EnumerateArray(), a => a.GetProperty("what").GetString() == "guide-in-out" && a.GetProperty("verdict").GetString() == "turn");
        Assert.InRange(found.GetProperty("bearing").GetProperty("doesNotRepeatNs").GetDouble(), 2.8, 3.2);

        string three = _folder.Write("three.csv", string.Join('\n', all.Split('\n').Where(l => !l.StartsWith("2,", StringComparison.Ordinal))));
        (_, output, _) = await CommandLineTests.RunAsync(["measure", "timing", three, "--standard", "525", "--tape", "own", "--json"]);
        found = JsonDocument.Parse(output).RootElement;
        Assert.False(found.GetProperty("quantities").GetProperty("step-2").TryGetProperty("value", out _));
        Assert.NotEmpty(found.GetProperty("quantities").GetProperty("step-2").GetProperty("missing").GetString()!);
        Assert.Equal(JsonValueKind.Null, found.GetProperty("advice").ValueKind);
    }

    [Theory]
    [InlineData("height", "settled", "175\n-12\n", ExitCode.Done)]
    [InlineData("in-out", "wrong-sense", "300\n620\n1300\n", ExitCode.NotSound)]
    [InlineData("in-out", "back", "# end late is positive\n-400\n150, -0.3\n", ExitCode.NotSound)]
    public async Task The_half_error_rule_from_a_file(string adjust, string name, string values, int code) =>
        await Transcript.Holds(name, code, "half-error", _folder.Write(name + ".txt", values), "--standard", "525", "--standard-error", "2", "--procedure", "new-recording", "--adjust", adjust);

    [Fact]
    public void A_person_who_mistypes_is_asked_again_and_the_procedure_is_asked_for_first()
    {
        using var output = new StringWriter();
        using var input = new StringReader("nwe\nnew-recording\nten\n10\n");
        int code = HalfErrorMeasurement.Run(input, "standard input", again: true, null, new DriftWatch.Measuring.Knob(false, TimingStandard.Mono525.SagittaNsPerMil), 2, 0.5, output);
        Assert.Equal(ExitCode.Done, code);
        Assert.Contains("'nwe' is none of new-recording, replay, archive; write one of them", output.ToString(), StringComparison.Ordinal);
        Assert.Contains("'ten' is no error in ns; write a number with a point", output.ToString(), StringComparison.Ordinal);
        Assert.Contains("Leave it", output.ToString(), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("replay", "shows nothing of its error")]
    [InlineData("archive", "Never record on a tape that is to be preserved")]
    public async Task Procedures_that_show_nothing_or_hurt_are_refused(string procedure, string says)
    {
        (int code, string output, _) = await CommandLineTests.RunAsync(
            "measure", "half-error", _folder.Write("v.txt", "1\n"), "--standard", "525", "--standard-error", "2", "--procedure", procedure);
        Assert.Equal(ExitCode.NotSound, code);
        Assert.Contains(says, output, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("head,angle\n1,2\n", 3, "(1,1): the heading names no record of timing errors; write the columns head, angle and error")]
    [InlineData("head,angle,error\n1,2,x\n", 3, "(2,5): 'x' in 'error' is no number; write a number with a point")]
    [InlineData("head,angle,error\n5,2,1\n", 3, "(2,1): '5' in 'head' is no number from 1 to 4")]
    [InlineData("head,angle,error\n1,2,NaN\n", 3, "(2,5): 'NaN' in 'error' is no number")]
    [InlineData("head,angle,error\n1,120,3\n", 3, "(2,3): '120' in 'angle' is no number from -90 to 90")]
    [InlineData("head,angle,error\n1,2\n", 3, "(2,1): the row has 2 cells, the heading 3; write one cell for each column")]
    [InlineData("head,angle,error\n", 3, "(2,1): there is no row below the heading")]
    [InlineData("", 3, "(1,1): the file has no heading")]
    [InlineData("line,error,head\n1,5,1\n3,5,\n", 3, "(3,1): line 3 does not follow line 1; write every line; leave none out")]
    [InlineData("line,error,head\n1,5,1\n2,5,\n", 1, "1 of 2 head-switch marks")]
    [InlineData("head,angle,error\n1,-10,5\n1,0,5\n1,10,5\n", 1, "not enough data: 1 of 2 distinct values. Nothing can be told from this record.")]
    public async Task A_mistake_in_the_file_is_named_with_its_place_and_remedy(string text, int code, string says)
    {
        (int was, string output, string error) = await CommandLineTests.RunAsync("measure", "timing", _folder.Write("bad.csv", text), "--standard", "525");
        Assert.Equal(code, was);
        Assert.Contains(says, error, StringComparison.Ordinal);
        Assert.Single(error.TrimEnd().Split('\n'));
        Assert.Empty(output);
    }

    [Fact]
    public async Task A_625_record_read_as_525_is_refused_and_the_standard_to_write_named()
    {
        (int code, _, string error) = await CommandLineTests.RunAsync(
            "measure", "timing", _folder.Write("lines.csv", Lines(TimingCases.Grids.Last(), 1, -1)), "--standard", "525");
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains("heads switch every 15.6 lines, as in 625/50, not 525/60; write --standard 625", error, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_frame_file_of_a_recording_is_read_and_its_tach_held_against_the_axis()
    {
        var text = new StringBuilder("time,sequence,tach,head,angle,value\n");
        double[] errors = TimingCases.Fixtures.First().GetProperty("e_ns").Doubles();
        for (int frame = 0; frame < 4; frame++)
        {
            for (int i = 0; i < errors.Length; i++)
            {
                text.Append(CultureInfo.InvariantCulture, $"2026-01-15T08:00:0{frame}.000Z,{frame},323.3,{TimingCases.Axis.Heads[i]},{TimingCases.Axis.AnglesDegrees[i]},{errors[i]}\n");
            }
        }

        (int code, string output, _) = await CommandLineTests.RunAsync("measure", "timing", _folder.Write("t.timing.frames.csv", text.ToString()), "--standard", "525");
        Assert.Equal(ExitCode.Done, code);
        Assert.Contains("mean of 4 revolutions", output, StringComparison.Ordinal);
        Assert.Contains("The tach says 5.5 degrees (1.0 lines) more than the axis at the first point", output, StringComparison.Ordinal);
        Assert.Contains("Near half speed: not told", output, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("measure", "'driftwatch measure --help' tells how it is used.")]
    [InlineData("measure timing x.csv", "'driftwatch measure timing --help' tells how it is used.")]
    [InlineData("measure timing x.csv --standard 405", "405")]
    [InlineData("measure half-error --standard 525 --standard-error 0", "--standard-error takes a number of ns above 0")]
    [InlineData("measure half-error --standard 525 --standard-error 2 --gain 1", "beyond half the loop overshoots")]
    public async Task A_wrong_command_line_says_what_is_wrong(string line, string says)
    {
        (int code, _, string error) = await CommandLineTests.RunAsync(line.Split(' '));
        Assert.Equal(ExitCode.Usage, code);
        Assert.Contains(says, error, StringComparison.Ordinal);
    }

    private static string Frames(double[] errors, int revolutions, double sigmaNs)
    {
        var random = new Random(20261128);
        var text = new StringBuilder("head,angle,error\n");
        for (int r = 0; r < revolutions; r++)
        {
            for (int i = 0; i < errors.Length; i++)
            {
                text.Append(CultureInfo.InvariantCulture, $"{TimingCases.Axis.Heads[i]},{TimingCases.Axis.AnglesDegrees[i]:0.####},{errors[i] + (sigmaNs * TimingCases.Gauss(random)):0.00}\n");
            }
        }

        return text.ToString();
    }

    private static string Lines(JsonElement grid, double scale, int without)
    {
        var random = new Random(20261128);
        double[] errors = grid.GetProperty("e_ns").Doubles();
        Dictionary<int, HeadMark> marks = TimingCases.Marks(grid).Where((m, i) => i != without && m.Line > 0).ToDictionary(m => (int)Math.Ceiling(m.Line));
        var text = new StringBuilder("# from the field's first line on\nline,error,head,edge\n");
        for (int i = 0; i < errors.Length; i++)
        {
            string mark = marks.TryGetValue(i, out HeadMark m) ? string.Create(CultureInfo.InvariantCulture, $"{m.Head},{m.Line + 20:0.####}") : ",";
            text.Append(CultureInfo.InvariantCulture, $"{i + 20},{scale * (errors[i] + (3 * TimingCases.Gauss(random))):0.0000},{mark}\n");
        }

        return text.ToString();
    }
}
