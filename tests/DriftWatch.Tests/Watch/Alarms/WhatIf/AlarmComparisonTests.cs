using CsCheck;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Tests.Watch.Alarms.Health;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Alarms.WhatIf;
using Xunit;

namespace DriftWatch.Tests.Watch.Alarms.WhatIf;

public sealed class AlarmComparisonTests
{
    [Fact]
    public void Alarms_of_one_tag_that_stand_at_the_same_time_are_one_and_all_others_came_or_went()
    {
        Book was = new Book()
            .Raise(100, "a.1", "a").Return(200, "a.1", AlarmState.Normal)
            .Raise(1000, "a.2", "a").Return(1100, "a.2", AlarmState.Normal)
            .Raise(3000, "b.1", "b");
        Book would = new Book()
            .Raise(150, "a.3", "a").Return(160, "a.3", AlarmState.Normal) // the same, told later
            .Raise(2000, "c.1", "c")
            .Raise(4000, "b.2", "b"); // b still stands
        Assert.Equal(
            [("a", AlarmFate.Kept, 100.0, 150.0), ("a", AlarmFate.Gone, 1000.0, null), ("c", AlarmFate.New, null, 2000.0), ("b", AlarmFate.Kept, 3000.0, 4000.0)],
            Compare(was, would));
    }

    [Theory]
    [InlineData(260, AlarmFate.Kept)] // a minute after the first was over
    [InlineData(260.001, AlarmFate.Gone)]
    public void A_minute_may_lie_between_two_that_are_one(double raised, AlarmFate fate)
    {
        Book was = new Book().Raise(100, "a.1", "a").Return(200, "a.1", AlarmState.Normal);
        Book would = new Book().Raise(raised, "a.2", "a");
        Assert.Equal(fate, Compare(was, would)[0].Fate);
    }

    [Fact]
    public void Each_coming_has_one_partner_at_most()
    {
        Book was = new Book().Raise(100, "a.1", "a");
        Book would = new Book().Raise(110, "a.2", "a").Return(120, "a.2").Raise(130, "a.3", "a");
        Assert.Equal([AlarmFate.Kept, AlarmFate.New], Compare(was, would).Select(c => c.Fate));
    }

    [Fact]
    public void Only_alarms_of_the_span_are_told_but_partners_may_lie_outside()
    {
        Book was = new Book().Raise(99, "a.1", "a").Return(150, "a.1", AlarmState.Normal).Raise(500, "b.1", "b");
        Book would = new Book().Raise(101, "a.2", "a");
        var span = new UtcStretch(Book.Utc(100), Book.Utc(200));
        ComparedAlarm only = Assert.Single(AlarmComparison.Of(was.Lines, would.Lines, span));
        Assert.Equal((AlarmFate.Kept, Book.Utc(99)), (only.Fate, only.RaisedUtc));
    }

    [Fact]
    public void A_book_is_its_own_equal_and_turned_round_gone_is_new() =>
        Gen.Select(Comings, Comings).Sample((left, right) =>
        {
            Assert.All(AlarmComparison.Of(left.Lines, left.Lines), c => Assert.Equal(AlarmFate.Kept, c.Fate));
            IReadOnlyList<ComparedAlarm> one = AlarmComparison.Of(left.Lines, right.Lines);
            IReadOnlyList<ComparedAlarm> other = AlarmComparison.Of(right.Lines, left.Lines);
            Assert.Equal(Count(one, AlarmFate.Gone), Count(other, AlarmFate.New));
            Assert.Equal(Count(one, AlarmFate.Kept), Count(other, AlarmFate.Kept));
            Assert.Equal(AlarmStory.Of(left.Lines).Count, Count(one, AlarmFate.Gone) + Count(one, AlarmFate.Kept));
            Assert.Equal(AlarmStory.Of(right.Lines).Count, Count(one, AlarmFate.New) + Count(one, AlarmFate.Kept));
        });

    private static Gen<Book> Comings => Gen.Select(Gen.Int[0, 2], Gen.Int[1, 400], Gen.Int[1, 400]).Array[0, 12].Select(comings =>
    {
        var book = new Book();
        double[] free = new double[3];
        for (int i = 0; i < comings.Length; i++)
        {
            (int tag, int after, int lasts) = comings[i];
            book.Raise(free[tag] += after, $"t{tag}.{i}", $"t{tag}").Return(free[tag] += lasts, $"t{tag}.{i}", AlarmState.Normal);
        }

        return book;
    });

    private static int Count(IReadOnlyList<ComparedAlarm> compared, AlarmFate fate) => compared.Count(c => c.Fate == fate);

    private static List<(string Tag, AlarmFate Fate, double? Was, double? Would)> Compare(Book was, Book would) =>
        [.. AlarmComparison.Of(was.Lines, would.Lines).Select(c => (c.Tag, c.Fate, Seconds(c.Was), Seconds(c.Would)))];

    private static double? Seconds(AlarmStory? story) => story is null ? null : (story.RaisedUtc - Book.Base) / 1e9;
}
