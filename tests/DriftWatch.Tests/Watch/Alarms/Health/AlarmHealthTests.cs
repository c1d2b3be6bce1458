using DriftWatch.Measurement.Alarms;
using DriftWatch.Watch.Alarms.Health;
using Xunit;

namespace DriftWatch.Tests.Watch.Alarms.Health;

/// <summary>The measures by examples worked by hand.</summary>
public sealed class AlarmHealthTests
{
    private const double Hour = 3600;
    private const double Day = 24 * Hour;

    [Fact]
    public void A_quiet_evening_is_counted_by_hand()
    {
        Book book = new Book()
            .Raise(100, "a", priority: AlarmPriority.High).Acknowledge(130, "a").Return(700, "a", AlarmState.Normal)
            .Raise(900, "b").Return(950, "b").Acknowledge(1080, "b", AlarmState.Normal)
            .Raise(5000, "c", priority: AlarmPriority.Medium);
        AlarmHealthReport report = Of(book, 0, 2 * Hour);
        Assert.Equal(3, report.Calls);
        Assert.Equal(3 / 12.0, report.CallsPerTenMinutes.Value, 1e-12);
        Assert.Equal(36, report.CallsPerDay.Value, 1e-9);
        Assert.Equal((12, 0, 1), (report.Periods, report.PeriodsOver, report.MostInAPeriod));
        Assert.Equal(2, report.Acknowledged);
        Assert.Equal((30 + 180) / 2.0, report.MeanSecondsToAcknowledge.Value, 1e-9);
        Assert.Equal(180, report.LongestSecondsToAcknowledge.Value, 1e-9);
        Assert.Equal([new(AlarmState.Unacknowledged, 1)], report.Standing);
        Assert.Equal(1, report.Waiting);
        Assert.Equal([1, 1, 1], report.Priorities.Select(p => p.Calls));
        Assert.Empty(report.Floods);
        Assert.Empty(report.FloodsByPeriods);
        Assert.Empty(report.Stale);
        Assert.Empty(report.Chattering);
    }

    [Theory]
    [InlineData(10, 0)] // ten in a period are no flood, eleven are
    [InlineData(11, 1)]
    public void More_than_ten_in_a_fixed_period_begin_a_flood_and_fewer_than_five_end_it(int first, int floods)
    {
        var book = new Book();
        Many(book, 600, first, 10);
        Many(book, 1200, 5, 60); // five: it goes on
        Many(book, 1800, 4, 60); // four: it is over
        AlarmHealthReport report = Of(book, 0, Hour);
        Assert.Equal(floods, report.FloodsByPeriods.Count);
        Assert.Equal(floods, report.PeriodsOver);
        if (floods > 0)
        {
            Assert.Equal(new AlarmFlood(Book.Utc(600), Book.Utc(1800), first + 5), report.FloodsByPeriods[0]);
        }
    }

    [Fact]
    public void A_flood_astride_two_periods_is_seen_by_the_sliding_window_only()
    {
        var book = new Book();
        Many(book, 540, 12, 10); // at 540, 550, … 650: six before the whole ten minutes, six after
        AlarmHealthReport report = Of(book, 0, Hour);
        Assert.Empty(report.FloodsByPeriods);

        // The eleventh is at 640. At 620 + 600 the ninth leaves the window, 630 and later are three: the eighth (610) left four.
        Assert.Equal([new AlarmFlood(Book.Utc(640), Book.Utc(610 + 600), 12)], report.Floods);
    }

    [Fact]
    public void A_call_at_the_very_instant_another_leaves_the_window_keeps_a_flood_going()
    {
        var book = new Book();
        Many(book, 0, 11, 10); // 0 … 100; the fifth last is at 60
        book.Raise(660, "kept");
        book.Raise(3000, "later");
        AlarmHealthReport report = Of(book, 0, Hour);
        Assert.Equal([new AlarmFlood(Book.Utc(100), Book.Utc(70 + 600), 12)], report.Floods);
    }

    [Fact]
    public void A_flood_that_lasts_has_no_end_and_one_from_before_the_span_is_told_with_its_beginning()
    {
        var book = new Book();
        Many(book, 600, 30, 30); // 600 … 1470
        AlarmHealthReport report = Of(book, 1300, 1500);
        AlarmFlood flood = Assert.Single(report.Floods);
        Assert.Equal((Book.Utc(900), null, 30), (flood.FromUtc, flood.ToUtc, flood.Calls));
        Assert.Equal(new AlarmFlood(Book.Utc(600), null, 30), Assert.Single(report.FloodsByPeriods));
        Assert.Equal(6, report.Calls); // 1320 … 1470
        Assert.False(report.ShareOver.IsKnown);
        Assert.Equal("not enough data: 0 of 1 whole periods of ten minutes", report.ShareOver.ToString());
    }

    [Fact]
    public void Three_raisings_within_a_minute_chatter_and_sixty_one_seconds_do_not()
    {
        Book book = new Book()
            .Raise(0, "a1", "a").Return(10, "a1").Raise(30, "a1").Return(40, "a1").Raise(60, "a1").Return(62, "a1")
            .Raise(100, "b1", "b").Return(105, "b1", AlarmState.Normal).Raise(130, "b2", "b").Return(135, "b2", AlarmState.Normal).Raise(161, "b3", "b");
        Assert.Equal([new ChatteringTag("a", 3, Book.Utc(60))], Of(book, 0, Hour).Chattering);
    }

    [Fact]
    public void What_has_stood_for_more_than_a_day_is_stale_and_a_day_to_the_second_is_not()
    {
        Book book = new Book()
            .Raise(0, "a").Return(Day, "a")
            .Raise(10, "b").Acknowledge(20, "b").Return(Day + 11, "b", AlarmState.Normal)
            .Raise(50, "c");
        AlarmHealthReport report = Of(book, 0, 3 * Day);
        Assert.Equal(
            [new StaleAlarm("b", "above-limit.b", Book.Utc(10), Book.Utc(Day + 11)), new StaleAlarm("c", "above-limit.c", Book.Utc(50), null)],
            report.Stale);
        Assert.Equal(["c"], Of(book, 2 * Day, 3 * Day).Stale.Select(s => s.Id)); // b was over before
    }

    [Theory]
    [InlineData(Hour, Hour, false)] // an hour on either side of a week in which nothing ran
    [InlineData(20 * Hour, 4 * Hour, false)] // a day to the second
    [InlineData(20 * Hour, (4 * Hour) + 1, true)]
    public void A_silent_week_does_not_stand(double before, double after, bool isStale)
    {
        Book book = new Book().Raise(0, "a");
        UtcStretch[] watched = [new(Book.Utc(0), Book.Utc(before)), new(Book.Utc(7 * Day), Book.Utc((7 * Day) + after))];
        var span = new AlarmSpan(new UtcStretch(Book.Utc(6 * Day), Book.Utc((7 * Day) + after)), watched);
        Assert.Equal(isStale, AlarmHealth.Of(book.Lines, span).Stale.Count == 1);
    }

    [Fact]
    public void A_wait_begins_anew_with_the_call_after_an_answer_and_ends_unanswered_on_the_shelf()
    {
        Book book = new Book()
            .Raise(0, "a").Return(5, "a").Raise(20, "a").Acknowledge(60, "a") // from the first call: 60
            .Add(100, "a", AlarmStep.Worsened, AlarmState.Unacknowledged, true, priority: AlarmPriority.High).Acknowledge(110, "a") // 10
            .Raise(200, "b").Add(210, "b", AlarmStep.Shelved, AlarmState.Shelved, true)
            .Add(3000, "b", AlarmStep.Unshelved, AlarmState.Unacknowledged, true).Acknowledge(3020, "b"); // 20
        AlarmHealthReport report = Of(book, 0, Hour);
        Assert.Equal(3, report.Acknowledged);
        Assert.Equal(30, report.MeanSecondsToAcknowledge.Value, 1e-9);
        Assert.Equal(5, report.Calls); // a twice and worsened, b raised and unshelved
    }

    [Fact]
    public void Hours_in_which_nobody_watched_make_no_rate_look_good()
    {
        var book = new Book();
        Many(book, 0, 12, 30);
        var span = new AlarmSpan(new UtcStretch(Book.Utc(0), Book.Utc(Day)), [new UtcStretch(Book.Utc(-500), Book.Utc(Hour)), new UtcStretch(Book.Utc(Hour / 2), Book.Utc(2 * Hour))]);
        AlarmHealthReport report = AlarmHealth.Of(book.Lines, span);
        Assert.Equal(120, report.WatchedMinutes, 1e-9);
        Assert.Equal(1, report.CallsPerTenMinutes.Value, 1e-12);
        Assert.Equal((12, 1), (report.Periods, report.PeriodsOver));
        Assert.Equal(HealthVerdict.Within, Row(report, "per-10-minutes").Verdict);
        Assert.Equal(("8.3 % (1 of 12), most 12", HealthVerdict.Over), (Row(report, "periods-over").Value, Row(report, "periods-over").Verdict));
    }

    [Fact]
    public void Ten_tags_are_named_the_most_frequent_first_and_equal_ones_by_name()
    {
        var book = new Book();
        for (int i = 0; i < 12; i++)
        {
            for (int n = 0; n < (i == 7 ? 3 : 1); n++)
            {
                book.Raise((i * 100) + n, $"x{i}-{n}", $"tag{i:00}");
            }
        }

        AlarmHealthReport report = Of(book, 0, Hour);
        Assert.Equal(["tag07", "tag00", "tag01", "tag02", "tag03", "tag04", "tag05", "tag06", "tag08", "tag09"], report.MostFrequent.Select(t => t.Tag));
        Assert.Equal(12 / 14.0, report.MostFrequentShare.Value, 1e-12);
    }

    [Fact]
    public void Without_a_call_nothing_is_made_up()
    {
        AlarmHealthReport report = Of(new Book(), 0, 120);
        Assert.Equal("not enough data: 2 of 10 min watched", report.CallsPerTenMinutes.ToString());
        Assert.False(report.MostFrequentShare.IsKnown);
        Assert.False(report.MeanSecondsToAcknowledge.IsKnown);
        Assert.All(report.Priorities, p => Assert.False(p.Share.IsKnown));
        Assert.Equal(HealthVerdict.CannotTell, Row(report, "per-day").Verdict);
        Assert.Equal(HealthVerdict.CannotTell, Row(report, "time-to-acknowledge").Verdict);
    }

    [Fact]
    public void Every_target_says_where_it_comes_from()
    {
        IReadOnlyList<HealthRow> rows = HealthRows.Of(Of(new Book().Raise(5, "a"), 0, Hour));
        Assert.All(rows, r => Assert.Equal(r.Target.Length == 0, r.Source.Length == 0));
        Assert.All(rows.Where(r => r.Source.Length > 0), r => Assert.Matches("secondary sources|from memory", r.Source));
        Assert.Equal(rows.Count, rows.Select(r => r.Measure).Distinct().Count());
    }

    /// <summary>As cited; what stands in the articles and what is from memory is told apart by the source.</summary>
    [Theory]
    [InlineData("per-10-minutes", "about 1, at most 2")]
    [InlineData("per-day", "about 150, at most 300")]
    [InlineData("periods-over", "under 1 %")]
    [InlineData("floods-by-periods", "none")]
    [InlineData("floods", "none")]
    [InlineData("chattering", "none")]
    [InlineData("stale", "none, at most 4")]
    [InlineData("standing", "under 10")]
    [InlineData("waiting", "")]
    [InlineData("priority-low", "about 80 % or more")]
    [InlineData("priority-medium", "about 15 % or less")]
    [InlineData("priority-high", "about 5 % or less")]
    [InlineData("time-to-acknowledge", "")]
    [InlineData("most-frequent", "1 % to 5 % is cited, of plants with thousands of alarms; not held against one machine")]
    public void Each_measure_has_the_figure_that_is_cited_for_it(string measure, string target) =>
        Assert.Equal(target, Row(Of(new Book().Raise(5, "a"), 0, Hour), measure).Target);

    [Theory]
    [InlineData(9, HealthVerdict.Within)]
    [InlineData(10, HealthVerdict.Over)]
    public void Ten_that_stand_at_once_are_too_many(int count, HealthVerdict verdict)
    {
        var book = new Book();
        Many(book, 5, count, 1);
        Assert.Equal(verdict, Row(Of(book, 0, Hour), "standing").Verdict);
    }

    [Theory]
    [InlineData(0, HealthVerdict.Within)]
    [InlineData(4, HealthVerdict.Bearable)]
    [InlineData(5, HealthVerdict.Over)]
    public void Five_stale_ones_are_too_many(int count, HealthVerdict verdict)
    {
        var book = new Book();
        Many(book, 5, count, 1);
        Assert.Equal(verdict, Row(Of(book, 0, 2 * Day), "stale").Verdict);
    }

    [Fact]
    public void A_span_that_ends_before_it_begins_and_a_line_that_stands_twice_are_refused()
    {
        Assert.Throws<ArgumentException>(() => new AlarmSpan(new UtcStretch(5, 5)));
        Book book = new Book().Raise(5, "a");
        Assert.Throws<ArgumentException>(() => AlarmHealth.Of([book.Lines[0], book.Lines[0]], new AlarmSpan(new UtcStretch(Book.Utc(0), Book.Utc(10)))));
    }

    internal static HealthRow Row(AlarmHealthReport report, string measure) => HealthRows.Of(report).Single(r => r.Measure == measure);

    private static AlarmHealthReport Of(Book book, double from, double to) =>
        AlarmHealth.Of(book.Lines, new AlarmSpan(new UtcStretch(Book.Utc(from), Book.Utc(to))));

    private static void Many(Book book, double from, int count, double apart)
    {
        for (int i = 0; i < count; i++)
        {
            book.Raise(from + (i * apart), $"{from}-{i}");
        }
    }
}
