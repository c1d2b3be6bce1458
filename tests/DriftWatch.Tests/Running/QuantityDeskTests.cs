using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Tests.Storage;
using DriftWatch.Tests.Web;
using Xunit;

namespace DriftWatch.Tests.Running;

/// <summary>A zoom into derived quantities is answered from what was worked out for the night, and tells what working it out afresh would.</summary>
public sealed class QuantityDeskTests : IDisposable
{
    private readonly StoreFolder _folder = new();
    private readonly StoredView _view;
    private readonly QuantityDesk _desk = new(TimeProvider.System);

    public QuantityDeskTests()
    {
        KnownHeadroomFixture.Fill(_folder);
        _view = new StoredView(_folder.Path);
    }

    public void Dispose()
    {
        _desk.Dispose();
        _view.Dispose();
        _folder.Dispose();
    }

    /// <summary>Three hours, into the gap and out of it, around the dip, and finer than a second.</summary>
    [Theory]
    [InlineData(0, 10_000, 30)]
    [InlineData(6900, 8100, 10)]
    [InlineData(4800, 5400, 1)]
    [InlineData(4990, 5060, 0.5)]
    [InlineData(5020, 5030, 0.1)]
    [InlineData(8000, 8010, 0.1)]
    public async Task What_is_put_together_after_a_look_at_the_night_is_what_is_worked_out_afresh(double from, double to, double step)
    {
        SpanGrid wide = Over(0, KnownHeadroomFixture.Seconds, 60);
        await ColumnsAsync(_desk, wide);
        SpanGrid grid = Over(from, to, step);
        using var fresh = new QuantityDesk(TimeProvider.System);
        IReadOnlyList<Bucket> expected = await ColumnsAsync(fresh, grid);
        Assert.NotEmpty(expected);
        Assert.Equal(expected, await ColumnsAsync(_desk, grid));
        Assert.Equal(expected, await ColumnsAsync(_desk, grid)); // from what it kept of that
    }

    [Fact]
    public async Task Another_zoom_of_whole_seconds_reads_nothing_of_the_store_again()
    {
        await ColumnsAsync(_desk, Over(0, 9000, 60));
        IReadOnlyList<Bucket> there = await ColumnsAsync(_desk, Over(4800, 5400, 2));
        string away = _folder.Path + "-away";
        Directory.Move(_folder.Path, away);
        try
        {
            Assert.Equal(there, await ColumnsAsync(_desk, Over(4800, 5400, 2)));
            Assert.Equal(62.5, (await ColumnsAsync(_desk, Over(5000, 5060, 1))).Max(b => b.Maximum));
            await Assert.ThrowsAsync<StoreException>(() => ColumnsAsync(_desk, Over(9000, 9600, 1))); // nobody has looked there yet
        }
        finally
        {
            Directory.Move(away, _folder.Path);
        }
    }

    [Fact]
    public void What_is_kept_stays_within_its_bound_and_the_newest_used_is_there()
    {
        var shelf = new QuantityShelf();
        var piece = new QuantityPiece([new KeptColumn[65_536]], null); // a megabyte
        for (int i = 0; i < 100; i++)
        {
            shelf.Keep(Key(i), piece);
            Assert.NotNull(shelf.Find(Key(0)));
            Assert.InRange(shelf.Bytes, 1, QuantityShelf.MostBytes);
        }

        Assert.NotNull(shelf.Find(Key(99)));
        Assert.Null(shelf.Find(Key(50)));

        static QuantityKey Key(long number) => new("bench", "hash", EngineTime.NanosecondsPerSecond, number);
    }

    private async Task<IReadOnlyList<Bucket>> ColumnsAsync(QuantityDesk desk, SpanGrid grid) =>
        (await desk.ColumnsAsync(_view, _view.Bench.Quantities, grid, CancellationToken.None))[0];

    private SpanGrid Over(double from, double to, double step)
    {
        EngineTime begin = _view.FromUtcNanoseconds(UtcText.ToNanoseconds(KnownNight.Begin.AddSeconds(from)));
        return SpanGrid.Over(begin, begin + TimeSpan.FromSeconds(to - from), (int)Math.Ceiling((to - from) / step));
    }
}
