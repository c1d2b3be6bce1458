using System.Globalization;
using System.Text;
using DriftWatch.Cli;
using DriftWatch.Tests.Analysis.Trend;
using DriftWatch.Tests.Recordings;

namespace DriftWatch.Tests.Cli.Measuring;

/// <summary><c>measure leak-down</c> as a person meets it.</summary>
public sealed class MeasureLeakDownTests : IDisposable
{
    private readonly RecordingFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task Five_minutes_with_a_thermometer() =>
        await Transcript.Holds("leak-measured", ExitCode.Done, "leak-down", Write("fall.csv", 3.3, 5, "time,pressure,temperature", 0.05, 0), "--receiver-litres", "24", "--volume-error", "0.5");

    [Fact]
    public async Task Read_off_a_gauge_with_a_mark_a_psi_without_a_thermometer() =>
        await Transcript.Holds("leak-gauge", ExitCode.Done, "leak-down", Write("gauge.csv", 4, 6, "seconds,psi", 0, 1), "--receiver-litres", "24", "--gauge-step", "1");

    [Fact]
    public async Task A_tight_receiver() =>
        await Transcript.Holds("leak-tight", ExitCode.Done, "leak-down", Write("tight.csv", 0, 8, "time,pressure,temperature", 0, 0), "--receiver-litres", "24");

    [Fact]
    public async Task A_compressor_that_cut_in_is_refused_with_what_to_do()
    {
        var text = new StringBuilder("time,pressure\n");
        for (int i = 0; i <= 360; i++)
        {
            text.Append(CultureInfo.InvariantCulture, $"{i},{90 - (0.05 * i) + (i > 240 ? 0.3 * (i - 240) : 0):0.00}\n");
        }

        (int code, string output, string error) = await CommandLineTests.RunAsync("measure", "leak-down", _folder.Write("rise.csv", text.ToString()), "--receiver-litres", "24");
        Assert.Equal(ExitCode.NotSound, code);
        Assert.Empty(output);
        Assert.Contains("min of undisturbed fall", error, StringComparison.Ordinal);
        Assert.Contains("Switch the compressor off and shut its valve", error, StringComparison.Ordinal);
        Assert.Single(error.TrimEnd().Split('\n'));
    }

    [Theory]
    [InlineData("time,pressure\n0,90\n1,89\n", 1, "of 2 min of record. Let it fall for some minutes")]
    [InlineData("time,pressure\n0,90\n300,80\n", 1, "2 of 30 readings. Read more often")]
    [InlineData("zeit,pressure\n0,90\n", 3, "(1,1): the heading has no column for time in s; name it 'time'")]
    [InlineData("time,bar\n0,90\n", 3, "(1,1): the heading has no column for pressure in psi; name it 'pressure'")]
    [InlineData("time,pressure\n0,90\n0,89\n", 3, "(3,1): 0 s is not later than the row before; put the rows in the order of time")]
    [InlineData("time,pressure\n0,ninety\n", 3, "(2,3): 'ninety' in 'pressure' is no number")]
    [InlineData("time,pressure\n0,-20\n", 3, "(2,3): '-20' in 'pressure' is no number")]
    [InlineData("time,pressure,temperature\n0,90,hot\n", 3, "(2,6): 'hot' in 'temperature' is no number from -40 to 80")]
    [InlineData("time,pressure\n0,90,20\n", 3, "(2,1): the row has 3 cells, the heading 2")]
    public async Task What_is_wrong_is_named_with_its_place_and_remedy(string text, int code, string says)
    {
        (int was, string output, string error) = await CommandLineTests.RunAsync("measure", "leak-down", _folder.Write("bad.csv", text), "--receiver-litres", "24");
        Assert.Equal(code, was);
        Assert.Contains(says, error, StringComparison.Ordinal);
        Assert.Single(error.TrimEnd().Split('\n'));
        Assert.Empty(output);
    }

    [Theory]
    [InlineData("measure leak-down x.csv", "--receiver-litres")]
    [InlineData("measure leak-down x.csv --receiver-litres 0", "--receiver-litres takes a number from 0.01 to 1000000.")]
    [InlineData("measure leak-down x.csv --receiver-litres 24 --volume-error -1", "--volume-error takes a number from 0 to 1000000.")]
    [InlineData("measure leak-down x.csv --receiver-litres 24 --atmosphere 1", "--atmosphere takes a number from 5 to 20.")]
    public async Task A_wrong_command_line_says_what_is_wrong(string line, string says)
    {
        (int code, _, string error) = await CommandLineTests.RunAsync(line.Split(' '));
        Assert.Equal(ExitCode.Usage, code);
        Assert.Contains(says, error, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_file_that_is_not_there_is_said()
    {
        (int code, _, string error) = await CommandLineTests.RunAsync("measure", "leak-down", "not-there.csv", "--receiver-litres", "24");
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains("not-there.csv", error, StringComparison.Ordinal);
    }

    /// <summary>A fall of 24 litres through a hole, a row a second, the air warming by so many kelvin a minute.</summary>
    private string Write(string name, double slpm, double minutes, string heading, double kelvinPerMinute, double step)
    {
        var random = new SeededNoise(20261128);
        double rate = slpm * 14.69595 / 24 / 60 / (85 + 14.69595);
        var text = new StringBuilder(heading).Append('\n');
        for (int i = 0; i <= 60 * minutes; i++)
        {
            double celsius = 20 + (kelvinPerMinute * i / 60);
            double psi = ((90 + 14.69595) * Math.Exp(-rate * i) * (celsius + 273.15) / 293.15) - 14.69595 + (step > 0 ? 0 : 0.02 * random.Gauss());
            psi = step > 0 ? step * Math.Round(psi / step) : psi;
            text.Append(CultureInfo.InvariantCulture, $"{i},{psi:0.000}").Append(heading.Count(c => c == ',') == 2 ? string.Create(CultureInfo.InvariantCulture, $",{celsius:0.00}\n") : "\n");
        }

        return _folder.Write(name, text.ToString());
    }
}
