using System.Globalization;
using System.Text;
using DriftWatch.Analysis.RfHeads;
using DriftWatch.Cli;
using DriftWatch.Tests.PracticeRig;
using DriftWatch.Tests.Recordings;

namespace DriftWatch.Tests.Cli.Measuring;

/// <summary>The aids for heads as a person meets them; kept transcripts, made anew by DRIFTWATCH_REWRITE=1.</summary>
public sealed class MeasureHeadsTests : IDisposable
{
    private readonly RecordingFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task Tracking_of_heads_that_agree_and_of_heads_that_do_not()
    {
        await Holds("tracking", ExitCode.Done, "tracking", _folder.Write("sweep.csv", Sweep([0.4, 0.4, 0.4, 0.4], 1)));
        await Holds("tracking-apart", ExitCode.Done, "tracking", _folder.Write("apart.csv", Sweep([-1, -0.8, null, 1.5], 1)));
        await Holds("tracking-divisions", ExitCode.Done, "tracking", _folder.Write("dial.csv", Sweep([0.4, 0.4, 0.4, 0.4], 5)), "--unit", "division");
        await Holds("tracking-none", ExitCode.NotSound, "tracking", _folder.Write("short.csv", "position,head1\n0,-3\n1,-3.1\n2,-3.4\n"));
    }

    [Fact]
    public async Task Micrometres_read_as_mil_are_noticed()
    {
        (int code, string output, _) = await CommandLineTests.RunAsync("measure", "tracking", _folder.Write("um.csv", Sweep([0.4, 0.4, 0.4, 0.4], 25.4)));
        Assert.Equal(ExitCode.Done, code);
        Assert.Contains("mil, not 10. See whether the unit of the position is right", output, StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_equaliser_dip_and_sweeps_without_one()
    {
        await Holds("equaliser", ExitCode.Done, "equaliser", _folder.Write("eq.csv", Equaliser(s => (0.8 * s) - (5 * Math.Exp(-Math.Pow((s - 5.5) / 2, 2))))));
        await Holds("equaliser-rises", ExitCode.NotSound, "equaliser", _folder.Write("rises.csv", Equaliser(s => 0.5 * s)));
        await Holds("equaliser-noise", ExitCode.NotSound, "equaliser", _folder.Write("noise.csv", Equaliser(_ => 0)));
    }

    [Fact]
    public async Task Channels_that_differ_and_channels_that_match()
    {
        await Holds("matching", ExitCode.NotSound, "matching", _folder.Write("bars.csv", Bars([(1, 0), (0.97, 0), (1, 12), (1.03, -8)], 0.8)));
        await Holds("matching-good", ExitCode.Done, "matching", _folder.Write("good.csv", Bars([(1, 0), (1.001, 0), (0.999, 0.5), (1, 0)], 0.8)));
        await Holds("matching-unsure", ExitCode.NotSound, "matching", _folder.Write("unsure.csv", Bars([(1, 0), (1.01, 0), (1, 0)], 8)));
    }

    [Fact]
    public async Task Levels_of_one_standard_and_of_two()
    {
        await Holds("levels", ExitCode.Done, "levels", _folder.Write("ire.csv", "level,value\nblack,7.5\nwhite,100.2\nsync,-40.3\nchroma,88\nangle,104.2\naudio-zero,-20.1\n"), "--standard", "525", "--unit", "IRE");
        await Holds("levels-mixed", ExitCode.NotSound, "levels", _folder.Write("mixed.csv", "level,value\nblack,53\nwhite,700\nsync,318\naudio-zero,-18\n"), "--standard", "625");
        await Holds("levels-other", ExitCode.NotSound, "levels", _folder.Write("other.csv", "level,value\nwhite,700\nsync,300\n"), "--standard", "525-no-setup");
    }

    [Theory]
    [InlineData("tracking", "a,b\n1,2\n", "(1,1)", "write the columns position, head1, head2, head3, head4", 3)]
    [InlineData("tracking", "position,head1\n1,x\n", "(2,3): 'x' in 'head1' is no number", "write a number with a point", 3)]
    [InlineData("equaliser", "a,b\n1,2\n", "names no sweep of the equaliser", "write the columns setting, level", 3)]
    [InlineData("equaliser", "setting,level\n1,2\n2,3\n", "not enough data: 2 of 9 different settings", "Read the level at more settings", 1)]
    [InlineData("matching", "head,dark,bright\n5,1,2\n", "(2,1): '5' in 'head' is no number from 1 to 4", "write a number", 3)]
    [InlineData("matching", "head,dark,bright\n2,1,2\n", "of head 1", "which the others are matched to", 1)]
    [InlineData("levels", "level,value\nburst,2\n", "(2,1): 'burst' is no level", "write one of black, white, sync", 3)]
    [InlineData("levels", "level,value\nsync,2\nsync,3\n", "(3,1): 'sync' stands here a second time", "write each level once", 3)]
    [InlineData("levels", "level,value\nchroma,2\n", "of chroma and angle only one was given", "write both, or neither", 3)]
    public async Task A_mistake_is_named_with_its_place_and_remedy(string what, string text, string says, string remedy, int code)
    {
        string[] more = what == "levels" ? ["--standard", "625"] : [];
        (int was, string output, string error) = await CommandLineTests.RunAsync(["measure", what, _folder.Write("bad.csv", text), .. more]);
        Assert.Equal(code, was);
        Assert.Contains(says, error, StringComparison.Ordinal);
        Assert.Contains(remedy, error, StringComparison.Ordinal);
        Assert.Empty(output);
    }

    [Theory]
    [InlineData("measure levels x.csv", "--standard")]
    [InlineData("measure tracking x.csv --unit inch", "inch")]
    [InlineData("measure matching x.csv --tolerance 0", "--tolerance takes a number of percent above 0")]
    public async Task A_wrong_command_line_says_what_is_wrong(string line, string says)
    {
        (int code, _, string error) = await CommandLineTests.RunAsync(line.Split(' '));
        Assert.Equal(ExitCode.Usage, code);
        Assert.Contains(says, error, StringComparison.Ordinal);
    }

    private static async Task Holds(string transcript, int code, params string[] arguments)
    {
        (int was, string output, string error) = await CommandLineTests.RunAsync(["measure", .. arguments]);
        Assert.Empty(error);
        string path = GuideAndHeadTests.RepositoryFile($"tests/DriftWatch.Tests/Cli/Measuring/Transcripts/{transcript}.txt");
        string text = output.ReplaceLineEndings("\n");
        if (Environment.GetEnvironmentVariable("DRIFTWATCH_REWRITE") == "1")
        {
            File.WriteAllText(path, text);
        }

        Assert.Equal(File.ReadAllText(path), text);
        Assert.Equal(code, was);
    }

    private static string Sweep(double?[] peaks, double unitsPerMil)
    {
        var random = new Random(20261129);
        var text = new StringBuilder("position,head1,head2,head3,head4\n");
        for (int i = 0; i <= 10; i++)
        {
            double mil = i - 5;
            text.Append(CultureInfo.InvariantCulture, $"{unitsPerMil * mil:0.###}");
            foreach (double? peak in peaks)
            {
                string level = peak is { } p ? (TrackingTriangle.LevelDb(mil - p) - 6 + (0.1 * (random.NextDouble() - 0.5))).ToString("0.00", CultureInfo.InvariantCulture) : "";
                text.Append(CultureInfo.InvariantCulture, $",{level}");
            }

            text.Append('\n');
        }

        return text.ToString();
    }

    private static string Equaliser(Func<double, double> level)
    {
        var random = new Random(20261130);
        return "setting,level\n" + string.Concat(Enumerable.Range(0, 21).Select(i =>
            string.Create(CultureInfo.InvariantCulture, $"{i / 2.0},{level(i / 2.0) + (0.2 * (random.NextDouble() - 0.5)):0.00}\n")));
    }

    private static string Bars((double Gain, double Offset)[] channels, double scatter)
    {
        var random = new Random(20261201);
        var text = new StringBuilder("head,dark,bright\n");
        for (int reading = 0; reading < 8; reading++)
        {
            for (int head = 0; head < channels.Length; head++)
            {
                double Bar(double level) => (channels[head].Gain * level) + channels[head].Offset + (scatter * (random.NextDouble() - 0.5));
                text.Append(CultureInfo.InvariantCulture, $"{head + 1},{Bar(150):0.0},{Bar(550):0.0}\n");
            }
        }

        return text.ToString();
    }
}
