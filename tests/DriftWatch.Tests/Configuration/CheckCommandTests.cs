using DriftWatch.Cli;
using DriftWatch.Configuration;
using Xunit;

namespace DriftWatch.Tests.Configuration;

public sealed class CheckCommandTests
{
    private static readonly string Practice = Path.Combine(ProfileFolders.Default[0], "practice-rig", "bench.toml");

    [Fact]
    public void A_sound_bench_is_summed_up_with_its_limits_and_their_sources()
    {
        (int code, string output, string error) = Run("check", Practice);
        Assert.Equal((ExitCode.Done, ""), (code, error));
        Assert.Contains("alarm below 43.75 psi", output, StringComparison.Ordinal);
        Assert.Contains("common practice, no source", output, StringComparison.Ordinal);
        Assert.Contains("regulated-volts / sensor-rail", output, StringComparison.Ordinal);
        string dew = Assert.Single(output.Split('\n'), l => l.Contains("alarm above 3 degC", StringComparison.Ordinal));
        Assert.Matches("derived: air of this dew point can ice in the throat of the venturi +from memory \\(ANSI/ISA-18.2\\)", dew);
    }

    [Fact]
    public void A_limit_of_the_bench_file_has_its_delay_and_deadband_from_there()
    {
        string path = Path.GetTempFileName();
        File.WriteAllText(path, BenchText.Head + BenchText.Volts + "[[channel.limit]]\nside = \"low\"\nseverity = \"alarm\"\nvalue = 1.0\non-delay = \"2 s\"\nsource = \"measured in May\"\n");
        (int code, string output, _) = Run("check", path);
        File.Delete(path);
        Assert.Equal(ExitCode.Done, code);
        Assert.Matches("alarm below 1 V +2 s .* measured in May +bench file", output);
    }

    [Fact]
    public void Mistakes_are_printed_one_a_line_and_counted()
    {
        string path = Path.GetTempFileName();
        File.WriteAllText(path, "[bench]\nid = \"X\"\n");
        (int code, string output, string error) = Run("check", path);
        File.Delete(path);
        Assert.Equal(ExitCode.NotSound, code);
        Assert.Equal(3, output.Split('\n', StringSplitOptions.RemoveEmptyEntries).Length);
        Assert.StartsWith($"{path}(1,1): ", output, StringComparison.Ordinal);
        Assert.Equal("3 mistakes.", error.Trim());
    }

    [Fact]
    public void A_missing_file_is_bad_input()
    {
        (int code, string output, string error) = Run("check", "no-such-bench.toml");
        Assert.Equal((ExitCode.BadInput, ""), (code, output));
        Assert.Contains("no-such-bench.toml", error, StringComparison.Ordinal);
    }

    [Fact]
    public void The_schema_is_printed_without_a_bench()
    {
        (int code, string output, _) = Run("check", "--schema");
        Assert.Equal(ExitCode.Done, code);
        Assert.StartsWith("{", output, StringComparison.Ordinal);
    }

    private static (int Code, string Output, string Error) Run(params string[] args)
    {
        var output = new StringWriter();
        var error = new StringWriter();
        int code = new System.CommandLine.RootCommand { CheckCommand.Create() }
            .Parse(args)
            .Invoke(new System.CommandLine.InvocationConfiguration { Output = output, Error = error });
        return (code, output.ToString(), error.ToString());
    }
}
