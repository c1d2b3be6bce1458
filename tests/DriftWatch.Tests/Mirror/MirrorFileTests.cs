using DriftWatch.Configuration;
using DriftWatch.Mirror;
using DriftWatch.Storage.Mirror;
using DriftWatch.Tests.Support;
using Xunit;

namespace DriftWatch.Tests.Mirror;

/// <summary>What a bench file may say of mirrors, and what it is told of what it may not.</summary>
public sealed class MirrorFileTests
{
    [Fact]
    public void The_ways_have_their_defaults()
    {
        MirrorPlan plan = Read("[[mirror]]\nid = \"a\"\nurl = \"https://one.example.org\"\n[[mirror]]\nid = \"b\"\nurl = \"http://localhost:8086\"\nway = \"v1\"\nsite = \"annex\"\ntell-after = \"2 h\"\n");
        Assert.Empty(plan.Warnings);
        Assert.Equal([(WriteWay.V2, CountWay.None), (WriteWay.V1, CountWay.Influxql)], plan.Mirrors.Select(m => (m.Way, m.Counts)));
        Assert.Equal(("driftwatch", TimeSpan.FromHours(2), "annex", true), (plan.Mirrors[1].Bucket, plan.Mirrors[1].TellAfter, plan.Mirrors[1].Site, plan.Mirrors[1].SendsPast));
    }

    [Theory]
    [InlineData("id = \"a\"", "goes nowhere")]
    [InlineData("url = \"https://x.example.org\"", "'id'")]
    [InlineData("id = \"a\"\nurl = \"https://x.example.org\"\nway = \"v9\"", "v9")]
    [InlineData("id = \"a\"\nurl = \"https://x.example.org\"\nway = \"v1\"\norganisation = \"o\"", "no organisation")]
    [InlineData("id = \"a\"\nurl = \"https://x.example.org\"\nuser = \"u\"", "no password")]
    [InlineData("id = \"a\"\nurl = \"https://x.example.org\"\nkey-env = \"A\"\nkey-file = \"b\"", "both stand there")]
    [InlineData("id = \"a\"\nurl = \"https://x.example.org\"\nspeed = 5", "speed")]
    public void A_mistake_names_its_line_and_the_remedy(string text, string what)
    {
        BenchFileResult result = Load("[[mirror]]\n" + text + "\n");
        FileMistake mistake = Assert.Single(result.Mistakes);
        Assert.Contains(what, mistake.ToString(), StringComparison.Ordinal);
        Assert.True(mistake.Line > 1 && mistake.Remedy.Length > 0);
    }

    [Theory]
    [InlineData("url = \"series example\"", "no URL")]
    [InlineData("url = \"http://u:p@x.example.org\"", "holds a name or password")]
    [InlineData("url = \"http://x.example.org\"\nkey-env = \"DRIFTWATCH_NO_SUCH\"", "in the clear")]
    [InlineData("url = \"https://x.example.org\"\nkey-env = \"DRIFTWATCH_NO_SUCH\"", "DRIFTWATCH_NO_SUCH")]
    public void What_may_be_right_by_tomorrow_is_a_warning(string text, string what)
    {
        MirrorPlan plan = Read($"[[mirror]]\nid = \"a\"\n{text}\n");
        Assert.Contains(plan.Warnings, w => w.ToString().Contains(what, StringComparison.Ordinal));
    }

    private static MirrorPlan Read(string mirrors)
    {
        BenchFileResult result = Load(mirrors);
        Assert.Empty(result.Mistakes);
        return result.Bench!.Mirrors;
    }

    private static BenchFileResult Load(string mirrors)
    {
        string bench = Path.Combine(Checkout.Root, "replay-data", "sound-transfer", "bench.toml");
        return BenchFile.LoadText(bench, File.ReadAllText(bench) + "\n" + mirrors, [Path.Combine(Checkout.Root, "device-profiles")]);
    }
}
