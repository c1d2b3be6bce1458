using System.Diagnostics;
using System.Text.RegularExpressions;

namespace DriftWatch.SystemTests.Service;

/// <summary>The unit that README.md offers to systemd, held against systemd's own checker.</summary>
public sealed partial class ServiceUnitTests
{
    [Fact]
    public async Task The_unit_of_the_read_me_is_one_that_systemd_takes()
    {
        string unit = Block().Match(File.ReadAllText(Path.Combine(AppContext.BaseDirectory, "README.md"))).Groups["unit"].Value;
        Assert.Contains("Type=notify", unit, StringComparison.Ordinal);
        Assert.Equal("", await VerifyAsync(unit));

        // The checker does look: what it doesn't know it names.
        Assert.Contains("WatchdogSecs", await VerifyAsync(unit.Replace("WatchdogSec", "WatchdogSecs", StringComparison.Ordinal)), StringComparison.Ordinal);
    }

    private static async Task<string> VerifyAsync(string unit)
    {
        string folder = Directory.CreateTempSubdirectory("driftwatch-unit-").FullName;
        try
        {
            string path = Path.Combine(folder, "driftwatch.service");

            // The program is not installed where the tests run.
            await File.WriteAllTextAsync(path, unit.Replace("/opt/driftwatch/driftwatch", "/bin/true", StringComparison.Ordinal));
            using Process verify = Process.Start(new ProcessStartInfo("/usr/bin/systemd-analyze", ["verify", "--man=no", "--recursive-errors=no", path])
            {
                RedirectStandardError = true,
                RedirectStandardOutput = true,
                UseShellExecute = false,
            })!;
            string said = await verify.StandardError.ReadToEndAsync() + await verify.StandardOutput.ReadToEndAsync();
            await verify.WaitForExitAsync();
            return string.Join('\n', said.Split('\n').Where(line => line.Contains("driftwatch", StringComparison.Ordinal)));
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    [GeneratedRegex("```ini\n(?<unit>.*?)```", RegexOptions.Singleline | RegexOptions.ExplicitCapture, matchTimeoutMilliseconds: 5000)]
    private static partial Regex Block();
}
