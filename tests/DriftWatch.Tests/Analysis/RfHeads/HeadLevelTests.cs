using CsCheck;
using DriftWatch.Analysis;
using DriftWatch.Analysis.RfHeads;

namespace DriftWatch.Tests.Analysis.RfHeads;

public sealed class HeadLevelTests
{
    [Theory]
    [InlineData(0, 0.2, -0.3, 0.5, HeadsTell.Agree, 0)]
    [InlineData(0, 0.2, -6.3, 0.5, HeadsTell.OneApart, 3)]
    [InlineData(3, 0.2, -0.3, 0.5, HeadsTell.OneApart, 1)]
    [InlineData(0, 0.2, -6.3, -6.5, HeadsTell.Divided, 0)]
    [InlineData(0, 1.9, 1.9, 3.8, HeadsTell.Divided, 0)]
    [InlineData(0, 0.2, -6.3, null, HeadsTell.OneApart, 3)]
    [InlineData(0, 3, -6.3, null, HeadsTell.Divided, 0)]
    [InlineData(0, null, -6.3, null, HeadsTell.EitherOfTwo, 0)]
    [InlineData(0, null, -1.3, null, HeadsTell.Agree, 0)]
    [InlineData(null, null, -1.3, null, HeadsTell.OneHeadOnly, 0)]
    public void What_can_be_told_depends_on_the_heads_there_are(object? one, object? two, object? three, object? four, HeadsTell tells, int odd)
    {
        HeadPicture picture = HeadLevels.Of(Heads(one, two, three, four)).Value;
        Assert.Equal(tells, picture.Tells);
        Assert.Equal(odd, picture.OddHead);
    }

    [Fact]
    public void A_head_that_goes_down_leaves_the_common_part_where_it_was()
    {
        HeadPicture before = HeadLevels.Of(new FourHeads(0, 0.2, 0.1, 0.3)).Value;
        HeadPicture after = HeadLevels.Of(new FourHeads(0, 0.2, -20, 0.3)).Value;
        Assert.Equal(0.15, before.CommonDb, 1e-12);
        Assert.Equal(0.1, after.CommonDb, 1e-12);
        Assert.Equal(-20.1, after.DifferencesDb[3]!.Value, 1e-12);
        Assert.Equal(20.3, after.SpreadDb, 1e-12);
    }

    [Fact]
    public void Without_heads_nothing_is_said_and_a_wrong_level_or_head_names_its_argument()
    {
        Assert.Equal(new Shortfall("heads with a level", 0, 1), HeadLevels.Of(default).Missing);
        Assert.Equal("three", Assert.Throws<ArgumentException>(() => new FourHeads(1, 2, double.NaN, 4)).ParamName);
        Assert.Equal("head", Assert.Throws<ArgumentOutOfRangeException>(() => default(FourHeads)[0]).ParamName);
        Assert.Equal("agreeWithinDb", Assert.Throws<ArgumentOutOfRangeException>(() => HeadLevels.Of(default, 0)).ParamName);
        Assert.Equal("time", Assert.Throws<ArgumentException>(() => Backwards(new HeadLevelTracker(1))).ParamName);
    }

    [Fact]
    public void Level_by_level_the_tracker_gives_what_the_whole_record_gives()
    {
        Gen<(double Step, int Head, double Level)> gen = Gen.Select(Gen.Double[0.01, 0.4], Gen.Int[1, 4], Gen.Double[-20, 5]);
        gen.Array[1, 200].Sample(readings =>
        {
            var tracker = new HeadLevelTracker(1);
            double time = 0;
            var heard = new List<(double Time, int Head, double Level)>();
            foreach ((double step, int head, double level) in readings)
            {
                time += step;
                heard.Add((time, head, level));
                tracker.Add(time, head, level);
                double?[] batch = [.. Enumerable.Range(1, 4).Select(h => heard.Where(r => r.Head == h && time - r.Time <= 1).Select(r => (double?)r.Level).LastOrDefault())];
                var expected = new FourHeads(batch[0], batch[1], batch[2], batch[3]);
                Assert.Equal(expected, tracker.At(time));

                // The median by sorting, as anyone would.
                double[] there = [.. batch.Where(b => b is not null).Select(b => b!.Value).Order()];
                double median = (there[(there.Length - 1) / 2] + there[there.Length / 2]) / 2;
                HeadPicture picture = HeadLevels.Of(tracker.At(time)).Value;
                Assert.Equal(median, picture.CommonDb, 1e-12);
                Assert.Equal(there[^1] - there[0], picture.SpreadDb, 1e-12);
            }
        });
    }

    [Fact]
    public void The_tracker_allocates_nothing()
    {
        var tracker = new HeadLevelTracker(1);
        double sum = Feed(tracker, 0);
        long before = GC.GetAllocatedBytesForCurrentThread();
        sum += Feed(tracker, 1000);
        Assert.Equal(0, GC.GetAllocatedBytesForCurrentThread() - before);
        Assert.True(double.IsFinite(sum));
    }

    private static double Feed(HeadLevelTracker tracker, double from)
    {
        double sum = 0;
        for (int i = 0; i < 1000; i++)
        {
            tracker.Add(from + (0.1 * i), 1 + (i % 4), -i % 7);
            sum += HeadLevels.Of(tracker.At(from + (0.1 * i))).Value.CommonDb;
        }

        return sum;
    }

    private static void Backwards(HeadLevelTracker tracker)
    {
        tracker.Add(1, 1, 0);
        tracker.Add(0.5, 1, 0);
    }

    private static FourHeads Heads(params object?[] levels)
    {
        double?[] db = [.. levels.Select(l => l is null ? (double?)null : Convert.ToDouble(l))];
        return new FourHeads(db[0], db[1], db[2], db[3]);
    }
}
