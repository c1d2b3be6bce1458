using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Mirror;
using DriftWatch.Storage.Mirror;
using Xunit;

namespace DriftWatch.Tests.Mirror;

/// <summary>The schema's README against what is written: numbers that others read must never change their meaning.</summary>
public sealed class EventLineTests
{
    private static readonly string Readme = File.ReadAllText(Path.Combine(Support.Checkout.Root, "src", "DriftWatch", "Mirror", "README.md"));

    [Fact]
    public void How_a_bench_stands_is_one_line()
    {
        var text = new LineText();
        EventLines.Write(new BenchStanding(MachineState.Locked, 2, 1, 0.25, 0), "west", [("site", "annex")], text, 5);
        EventLines.Write(new BenchStanding(MachineState.NoAir, 0, 0, null, 3), "west", [], text, 6);
        Assert.Equal("driftwatch_bench,bench=west,site=annex state=5i,alarms=2i,unanswered=1i,worst_use=0.25,silent=0i,utc=0.005 5\ndriftwatch_bench,bench=west state=1i,alarms=0i,unanswered=0i,silent=3i,utc=0.006 6\n", text.Take());
    }

    [Fact]
    public void Every_number_stands_in_the_readme()
    {
        Check(Enum.GetValues<MachineState>().Select(s => ((int)s, Slugs.Of(s).Replace("tape-on-guide", "tape on the guide", StringComparison.Ordinal))));
        Check(Enum.GetValues<AlarmState>().Select(s => ((int)s, Slugs.Of(s))));
        Check(Enum.GetValues<AlarmStep>().Select(s => ((int)s, Slugs.Of(s).Replace("put-back-in-service", "put back", StringComparison.Ordinal))));
        Check(Enum.GetValues<AlarmPriority>().Select(s => ((int)s, Slugs.Of(s))));
        Check(Measurement.Samples.FaultCodes.All.Select((slug, i) => (i + 1, slug)));

        static void Check(IEnumerable<(int Number, string Slug)> all) =>
            Assert.All(all, one => Assert.Contains($"{one.Number} {one.Slug.Replace('-', ' ')}", Readme, StringComparison.Ordinal));
    }
}
