using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Watch;
using Xunit;

namespace DriftWatch.Tests.Watch.Support;

internal static class NightJudging
{
    /// <summary>What judging makes of a night: the lines of findings and of the book of alarms.</summary>
    /// <param name="night">Its inputs.</param>
    /// <param name="restoreAt">At the first input from this second on the engine goes on from its own snapshot.</param>
    public static (List<FindingLine> Lines, List<AlarmTransition> Book) Judge(this Night night, double restoreAt = double.MaxValue)
    {
        var engine = new WatchEngine();
        var lines = new List<FindingLine>();
        var book = new List<AlarmTransition>();
        foreach (EngineInput input in night.Inputs())
        {
            engine.Apply(input, lines, book);
            if (input.Time.Seconds >= restoreAt)
            {
                restoreAt = double.MaxValue;
                Assert.True(WatchEngine.TryRestore(engine.Snapshot(), out engine, out string whyNot), whyNot);
            }
        }

        return (lines, book);
    }
}
