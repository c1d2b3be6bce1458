using System.Globalization;
using System.Text;
using DriftWatch.Cli;
using DriftWatch.Tests.Analysis.Trend;
using DriftWatch.Tests.Recordings;

namespace DriftWatch.Tests.Cli.Measuring;

/// <summary><c>measure air</c> and <c>measure filter</c> as a person meets them, on made records whose truth is known.</summary>
public sealed class MeasureAirTests : IDisposable
{
    private readonly RecordingFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task Air_that_sinks_takes_the_vacuum_with_it() =>
        await Transcript.Holds("air-sinks", ExitCode.Done, "air", Write("sinks.csv", sinkPsi: 2.4, lostShare: 0));

    [Fact]
    public async Task A_vacuum_that_falls_by_itself() =>
        await Transcript.Holds("air-vacuum-falls", ExitCode.Done, "air", Write("falls.csv", sinkPsi: 0, lostShare: 0.12));

    [Fact]
    public async Task Regulated_air_alone()
    {
        var text = new StringBuilder("seconds,regulated-psi\n");
        var random = new SeededNoise(20261202);
        for (int i = 0; i < 900; i++)
        {
            text.Append(CultureInfo.InvariantCulture, $"{i},{50 + (0.02 * random.Gauss()):0.000}\n");
        }

        (int code, string output, string error) = await CommandLineTests.RunAsync("measure", "air", _folder.Write("alone.csv", text.ToString()));
        Assert.Equal(ExitCode.Done, code);
        Assert.Empty(error);
        Assert.Contains("none can be claimed", output, StringComparison.Ordinal);
        Assert.DoesNotContain("Vacuum", output, StringComparison.Ordinal);
        Assert.DoesNotContain("Water", output, StringComparison.Ordinal);
        Assert.Contains("Caution: compressed air", output, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("0.6", "It has grown: change the filter's element.")]
    [InlineData("1.2", "No growth that can be claimed")]
    public async Task A_filters_drop_against_the_one_before(string before, string says)
    {
        (int code, string output, _) = await CommandLineTests.RunAsync("measure", "filter", "--at-rest", "51.2", "--under-flow", "49.9", "--drop-before", before, "--gauge-error", "0.05");
        Assert.Equal(ExitCode.Done, code);
        Assert.Contains("Drop under flow: 1.30 ± 0.14 psi", output, StringComparison.Ordinal); // 2 · √2 · 0.05 with k = 1.96
        Assert.Contains(says, output, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("time,supply\n0,90\n1,90\n", "(1,1): the heading has no column for regulated air in psi; name it 'regulated'")]
    [InlineData("time,regulated\n0,50\n0,50\n", "(3,1): 0 s is not later than the row before; put the rows in the order of time")]
    [InlineData("time,regulated,vacuum\n0,50,deep\n", "(2,6): 'deep' in 'vacuum' is no number from -100 to 1000")]
    [InlineData("time,regulated,dew-point\n0,50,\n", "(2,6): 'dew-point' is empty")]
    public async Task What_is_wrong_is_named_with_its_place_and_remedy(string text, string says)
    {
        (int code, string output, string error) = await CommandLineTests.RunAsync("measure", "air", _folder.Write("bad.csv", text));
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains(says, error, StringComparison.Ordinal);
        Assert.Empty(output);
    }

    [Theory]
    [InlineData("time,regulated,supply,vacuum\n0,50,90,24\n1,50,90,24\n")]
    [InlineData("time,regulated,supply,vacuum\n0,50,90,0\n")]
    public async Task Too_little_is_said_and_is_no_mistake(string text)
    {
        (int code, string output, string error) = await CommandLineTests.RunAsync("measure", "air", _folder.Write("short.csv", text));
        Assert.Equal(ExitCode.Done, code);
        Assert.Empty(error);
        Assert.Contains("can't be told", output, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("measure filter --at-rest 51", "--under-flow")]
    [InlineData("measure filter --at-rest 51 --under-flow 50 --drop-before 0", "--drop-before takes a number from 0.001 to 1000.")]
    [InlineData("measure air x.csv --setpoint 5", "--setpoint takes a number from 20 to 150.")]
    public async Task A_wrong_command_line_says_what_is_wrong(string line, string says)
    {
        (int code, _, string error) = await CommandLineTests.RunAsync(line.Split(' '));
        Assert.Equal(ExitCode.Usage, code);
        Assert.Contains(says, error, StringComparison.Ordinal);
    }

    /// <summary>Half an hour: a supply that cycles between 78 and 100 psi, 1.5 % of it in the regulated air, the vacuum by 1.88 % a psi, a frost point of −28 °C.</summary>
    private string Write(string name, double sinkPsi, double lostShare)
    {
        var random = new SeededNoise(20261201);
        var text = new StringBuilder("time,supply,regulated,vacuum,dew-point,room\n");
        for (int i = 0; i < 1800; i++)
        {
            double place = i % 120;
            double supply = (place < 40 ? 78 + (0.55 * place) : 100 - (0.275 * (place - 40))) + (0.05 * random.Gauss());
            double regulated = 50 + (0.015 * (supply - 89)) - (sinkPsi * i / 1800) + (0.01 * random.Gauss());
            double vacuum = 24 * (1 + (0.0188 * (regulated - 50))) * (1 - (lostShare * i / 1800)) + (0.01 * random.Gauss());
            text.Append(CultureInfo.InvariantCulture, $"{i},{supply:0.000},{regulated:0.000},{vacuum:0.000},{-28 + (0.1 * random.Gauss()):0.00},21\n");
        }

        return _folder.Write(name, text.ToString());
    }
}
