using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using Xunit;

namespace DriftWatch.Tests.Storage;

/// <summary>The book of alarms in the store: kept once, in order, and readable by its cursor and by time.</summary>
public sealed class AlarmStoreTests
{
    [Fact]
    public void Lines_of_the_book_are_kept_once_and_read_back_whole()
    {
        using var folder = new StoreFolder();
        AlarmTransition first = Line(5, 0);
        AlarmTransition second = Line(9, 0, AlarmStep.Acknowledged) with { By = "anna", Why = "seen" };
        using (BenchStore store = folder.Open())
        {
            store.CommitJudged(5, [1], "build", [], [first]);
            store.CommitJudged(9, [1], "build", [], [first, second, Line(9, 1, AlarmStep.Returned)]);
        }

        using BenchStore again = folder.Open();
        using BenchReader reader = again.OpenReader();
        IReadOnlyList<StoredAlarm> all = reader.Alarms(0, 100);
        Assert.Equal([first, second, Line(9, 1, AlarmStep.Returned)], all.Select(a => a.Line));
        Assert.Equal([all[2]], reader.Alarms(all[1].Cursor, 100));
        Assert.Equal([all[1], all[2]], reader.LatestAlarms(2));
        Assert.Equal([all[0]], reader.AlarmsBetween(first.AtUtc, second.AtUtc));
    }

    [Fact]
    public void A_span_is_told_what_stood_as_it_began_and_nothing_that_was_over_long_before()
    {
        AlarmTransition Of(string tag, long input, AlarmStep step) => Line(input, 0, step) with
        {
            Id = $"bench.alarm.{tag}", Tag = tag, IsActive = step == AlarmStep.Raised, To = step == AlarmStep.Raised ? AlarmState.Unacknowledged : AlarmState.Normal,
        };
        AlarmTransition[] book =
        [
            Of("over", 10, AlarmStep.Raised), Of("stands", 20, AlarmStep.Raised), Of("over", 30, AlarmStep.Returned), Of("lately", 950, AlarmStep.Raised),
            Of("lately", 960, AlarmStep.Returned), Of("within", 1500, AlarmStep.Raised), Of("stands", 2500, AlarmStep.Returned),
        ];
        using var folder = new StoreFolder();
        using BenchStore store = folder.Open();
        foreach (AlarmTransition line in book)
        {
            store.CommitJudged(line.Input, [1], "build", [], [line]);
        }

        using BenchReader reader = store.OpenReader();
        IEnumerable<long> told = reader.AlarmsOver(1000_000_000_000, 2000_000_000_000, TimeSpan.FromSeconds(100)).Select(a => a.Line.Input);
        Assert.Equal([20, 950, 960, 1500], told);
    }

    [Fact]
    public void A_line_that_is_none_is_told_apart_from_one_that_is()
    {
        Assert.Throws<FormatException>(() => AlarmJson.Read("{}"u8.ToArray()));
        Assert.Throws<FormatException>(() => AlarmJson.Read("{\"format\":\"driftwatch.alarm/1\"}"u8.ToArray()));
        Assert.Throws<FormatException>(() => AlarmJson.Read("nothing"u8.ToArray()));
    }

    internal static AlarmTransition Line(long input, int place, AlarmStep step = AlarmStep.Raised) => new()
    {
        Id = "bench.alarm.air-below-setpoint.regulated-air.5",
        Tag = "air-below-setpoint.regulated-air",
        Input = input,
        Place = place,
        Bench = "bench",
        BenchHash = "ab",
        Step = step,
        From = AlarmState.Normal,
        To = AlarmState.Unacknowledged,
        IsActive = true,
        IsAcknowledged = false,
        Priority = AlarmPriority.High,
        At = EngineTime.FromSeconds(input),
        AtUtc = input * 1_000_000_000,
        RaisedUtc = 5_000_000_000,
        StartUtc = 4_500_000_000,
        State = MachineState.Running,
        FirstOut = "bench.air-below-setpoint.regulated-air.5",
        Finding = "bench.air-below-setpoint.regulated-air.5",
        Findings = 1,
        Channel = "regulated-air",
        Value = 44.25,
        Limit = 45,
        Unit = "psi",
        LimitSource = "common practice, no source",
        Baseline = 50,
        Text = "Regulated air is 44.25 psi.",
    };
}
