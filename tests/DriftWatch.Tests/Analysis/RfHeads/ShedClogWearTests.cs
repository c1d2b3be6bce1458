using System.Text.Json;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Forecast;
using DriftWatch.Analysis.RfHeads;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.RfHeads;

public sealed class ShedClogWearTests
{
    private static readonly JsonElement Reference = Golden.Json("rf-heads/heads");

    [Fact]
    public void Shed_is_told_with_its_rate_the_time_left_and_the_advice_to_stop_in_time()
    {
        // 2 dB in ten minutes, 300 s long, from −1 dB: at the end −2, lost at −6, which is 4 dB or 1200 s away.
        (double[] times, double[] levels) = Falling(2, start: -1);
        ShedForecast shed = Shed.Judge(times, levels, lineUpDb: 0).Value;
        Assert.True(shed.IsFalling);
        Assert.InRange(shed.DbPerTenMinutes, -2.15, -1.85);
        Assert.True(shed.Lower < -2 && -2 < shed.Upper, $"{shed.Lower} to {shed.Upper}");
        Assert.InRange(shed.BelowLineUpDb, 1.95, 2.05);
        Assert.Equal(LimitOutlook.Crosses, shed.LeftSeconds.Outlook);
        Assert.True(shed.LeftSeconds.Earliest < 1200 && 1200 < shed.LeftSeconds.Latest, shed.LeftSeconds.ToString());
        Assert.Equal(ShedAdvice.Watch, shed.Advice);
    }

    [Theory]
    [InlineData(0.0, -1.0, ShedAdvice.GoOn)]
    [InlineData(0.3, -1.0, ShedAdvice.GoOn)]
    [InlineData(4.0, -1.0, ShedAdvice.StopAndClean)]
    [InlineData(2.0, -4.5, ShedAdvice.StopAndClean)]
    [InlineData(2.0, -6.5, ShedAdvice.PictureLost)]
    [InlineData(-2.0, -1.0, ShedAdvice.GoOn)]
    public void The_advice_goes_with_rate_and_level(double dbPerTenMinutes, double start, ShedAdvice advice)
    {
        (double[] times, double[] levels) = Falling(dbPerTenMinutes, start);
        Assert.Equal(advice, Shed.Judge(times, levels, lineUpDb: 0).Value.Advice);
    }

    [Fact]
    public void A_short_record_says_nothing_of_shed_and_wrong_limits_are_refused()
    {
        Assert.NotNull(Shed.Judge([0, 1, 2], [0, 0, 0], 0).Missing);
        (double[] times, double[] levels) = Falling(1, 0);
        Assert.Equal("limits", Assert.Throws<ArgumentException>(() => Shed.Judge(times, levels, 0, new ShedLimits { LostBelowLineUpDb = 0 })).ParamName);
        Assert.Equal("lineUpDb", Assert.Throws<ArgumentException>(() => Shed.Judge(times, levels, double.NaN)).ParamName);
    }

    [Fact]
    public void A_clog_is_told_from_dropouts_from_slow_falls_and_from_what_all_heads_do()
    {
        HeadRecord record = Record(600, (t, head) => head switch
        {
            _ when t is >= 250 and < 255 => -10, // the tape lifts: all heads
            2 when t is >= 100.1 and < 160.05 => -8,
            2 when t is >= 200.1 and < 200.3 => -12, // a dropout
            4 when t >= 300 => -Math.Min(9, (t - 300) / 10), // sinks over a minute and more
            _ => 0,
        });
        IReadOnlyList<ClogEvent> clogs = HeadClog.Find(record).Value;
        Assert.Equal(2, clogs.Count);
        ClogEvent clog = clogs[0];
        Assert.Equal(2, clog.Head);
        Assert.True(clog.IsSudden && clog.CameBack);
        Assert.Equal(100.0, clog.LastGood, 0.11);
        Assert.Equal(100.1, clog.FirstDown, 0.11);
        Assert.Equal(160.0, clog.End, 0.11);
        Assert.Equal(-8, clog.DepthDb, 0.1);
        ClogEvent slow = clogs[1];
        Assert.Equal(4, slow.Head);
        Assert.False(slow.IsSudden || slow.CameBack);
    }

    [Fact]
    public void Against_the_line_up_a_head_that_was_down_from_the_start_is_found_but_not_called_sudden()
    {
        HeadRecord record = Record(60, (_, head) => head == 3 ? -7 : 0);
        Assert.Empty(HeadClog.Find(record).Value);
        ClogEvent clog = Assert.Single(HeadClog.Find(record, new FourHeads(0, 0, 0, 0)).Value);
        Assert.Equal(3, clog.Head);
        Assert.False(clog.IsSudden);
    }

    [Fact]
    public void With_two_heads_no_clog_is_named()
    {
        var record = new HeadRecord([0, 1], [new FourHeads(0, -9, null, null), new FourHeads(0, -9, null, null)]);
        Assert.Equal(new Shortfall("heads at one instant", 2, 3), HeadClog.Find(record).Missing);
        Assert.Equal("times", Assert.Throws<ArgumentException>(() => new HeadRecord([1, 1], [default, default])).ParamName);
        Assert.Equal("levelsDb", Assert.Throws<ArgumentException>(() => new HeadRecord([1], [])).ParamName);
    }

    [Fact]
    public void Wear_agrees_with_linregress_of_scipy_and_names_the_worn_head_alone()
    {
        JsonElement expected = Reference.GetProperty("wear");
        (DateTimeOffset[] dates, FourHeads[] levels) = LineUps(expected);
        for (int head = 1; head <= 4; head++)
        {
            HeadWearTrend trend = HeadWear.Of(dates, levels, head).Value;
            JsonElement reference = expected.GetProperty("heads")[head - 1];
            Assert.Equal(reference.Number("slope"), trend.DbPerWeek, 1e-9);
            Assert.Equal(reference.Number("lower"), trend.Lower, 1e-9);
            Assert.Equal(reference.Number("upper"), trend.Upper, 1e-9);
            Assert.Equal(reference.Number("p"), trend.PValue, 1e-9);
            Assert.Equal(head == 3, trend.IsClaimed);
        }
    }

    [Fact]
    public void Tapes_that_differ_by_decibels_and_a_missing_head_leave_wear_as_it_is()
    {
        (DateTimeOffset[] dates, FourHeads[] levels) = LineUps(Reference.GetProperty("wear"));
        FourHeads[] other = [.. levels.Select((l, i) => new FourHeads(l[1] + (5 * i), l[2] + (5 * i), l[3] + (5 * i), l[4] + (5 * i)))];
        Assert.Equal(HeadWear.Of(dates, levels, 3).Value.DbPerWeek, HeadWear.Of(dates, other, 3).Value.DbPerWeek, 1e-9);
        Assert.True(HeadWear.Of(dates, [.. levels.Select(l => l.With(1, null))], 3).Value.IsClaimed);
        Assert.Equal(new Shortfall("line-ups with this head and two others", 0, 4), HeadWear.Of(dates, [.. levels.Select(l => l.With(1, null).With(2, null))], 3).Missing);
        DateTimeOffset[] days = [.. dates.Select((_, i) => dates[0].AddDays(i))];
        Assert.Equal("weeks between first and last line-up", HeadWear.Of(days, levels, 3).Missing!.What);
    }

    private static (DateTimeOffset[] Dates, FourHeads[] Levels) LineUps(JsonElement wear)
    {
        DateTimeOffset start = new(2026, 1, 5, 9, 0, 0, TimeSpan.Zero);
        return (
            [.. wear.GetProperty("days").Doubles().Select(d => start.AddDays(d))],
            [.. wear.GetProperty("levels").EnumerateArray().Select(row => new FourHeads(row[0].Number(), row[1].Number(), row[2].Number(), row[3].Number()))]);
    }

    private static (double[] Times, double[] Levels) Falling(double dbPerTenMinutes, double start)
    {
        var random = new Random(20260602);
        double[] times = [.. Enumerable.Range(0, 300).Select(i => (double)i)];
        return (times, [.. times.Select(t => start - (dbPerTenMinutes * t / 600) + (0.05 * TrackingTests.Gauss(random)))]);
    }

    private static HeadRecord Record(double seconds, Func<double, int, double> extra)
    {
        var random = new Random(20260603);
        double[] times = [.. Enumerable.Range(0, (int)(10 * seconds)).Select(i => i / 10.0)];
        double Level(double t, int head) => (0.3 * head) + extra(t, head) + (0.1 * TrackingTests.Gauss(random));
        return new HeadRecord(times, [.. times.Select(t => new FourHeads(Level(t, 1), Level(t, 2), Level(t, 3), Level(t, 4)))]);
    }
}
