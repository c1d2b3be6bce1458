using DriftWatch.Configuration;
using DriftWatch.Measurement.Channels;
using Xunit;

namespace DriftWatch.Tests.Configuration;

public sealed class PracticeBenchTests
{
    private static readonly string Folder = Path.Combine(ProfileFolders.Default[0], "practice-rig");

    [Fact]
    public void The_practice_bench_loads_without_a_mistake()
    {
        BenchFileResult result = BenchFile.Load(Path.Combine(Folder, "bench.toml"), ProfileFolders.Default);
        Assert.Equal([], result.Mistakes.Select(m => m.ToString()));
        Assert.NotNull(result.Bench);
        Assert.Equal(20, result.Bench.Definition.Channels.Count);
        Assert.Equal(64, result.Bench.Definition.Channels.Single(c => c.Role == ChannelRole.TimingError).Axis!.Count);
        Assert.Equal(64, result.Bench.Definition.SourceHash.Length);
        Assert.Equal(["practice-rig"], result.Bench.Profiles.Keys);
    }

    [Theory]
    [InlineData("supply-air", 0.5, 0)]
    [InlineData("supply-air", 4.5, 150)]
    [InlineData("regulated-air", 0.5, 50)]
    [InlineData("guide-vacuum", 2.5, 12.5)]
    [InlineData("rf-head-3", 1.85, -10)]
    [InlineData("rf-head-3", 1.7, -16)]
    [InlineData("control-track", 2.1, 0)]
    [InlineData("wheel-speed", 240, 240)]
    public void Nominal_calibrations_of_the_practice_bench(string channel, double raw, double value)
    {
        BenchFileResult result = BenchFile.Load(Path.Combine(Folder, "bench.toml"), ProfileFolders.Default);
        ChannelDefinition definition = result.Bench!.Definition.Channels.Single(c => c.Id == channel);
        Assert.Equal(value, definition.Calibration.Convert(raw), 9);
    }
}
