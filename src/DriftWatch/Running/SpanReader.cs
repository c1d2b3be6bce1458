using DriftWatch.Measurement.Time;
using DriftWatch.Storage.Queries;

namespace DriftWatch.Running;

/// <summary>
/// Columns of many channels over any span, for pages that zoom and pan. Columns lie on the grid of <see cref="SpanGrid"/>, in tiles of
/// which the newest used are kept as the store gave them, raw: a calibration that comes later converts them anew. What is missing is
/// read by two readers beside each other. Safe from any thread.
/// </summary>
internal sealed class SpanReader : IDisposable
{
    private const int TileColumns = 128;

    /// <summary>Channel tiles kept: four views of 20 channels and 1,500 columns, some 11 MB. Source: derived from the service's 150 MB.</summary>
    private const int MostTiles = 1000;

    /// <summary>A tile is kept once it lies this far back: by then its minutes are sealed, and a late line's answer has come. Source: derived, both take less than two minutes.</summary>
    private static readonly TimeSpan Settled = TimeSpan.FromMinutes(5);

    private readonly BenchReader[] _readers;
    private readonly Dictionary<TileKey, LinkedListNode<Tile>> _tiles = [];
    private readonly LinkedList<Tile> _used = new();
    private readonly Lock _gate = new();

    /// <param name="open">Opens a reader of the store; called once for each core, twice at most.</param>
    public SpanReader(Func<BenchReader> open) =>
        _readers = [.. Enumerable.Range(0, Math.Clamp(Environment.ProcessorCount, 1, 2)).Select(_ => open())];

    /// <summary>Raw buckets of each channel on the grid, in the order of <paramref name="channels"/>; empty ones are left out.</summary>
    /// <param name="channels">Keys.</param>
    /// <param name="grid">The columns.</param>
    /// <param name="now">What lies shortly before it is read again each time.</param>
    public IReadOnlyList<IReadOnlyList<RawBucket>> Read(IReadOnlyList<int> channels, SpanGrid grid, EngineTime now)
    {
        long firstTile = FloorDivide(grid.First, TileColumns);
        long lastTile = FloorDivide(grid.First + grid.Count - 1, TileColumns);
        int[] distinct = [.. channels.Distinct()];
        var found = new Dictionary<TileKey, Tile>();
        foreach ((long tile, long after, int[] missing) in MissingRuns(distinct, grid.Width, firstTile, lastTile, found))
        {
            Fetch(missing, grid.Width, tile, after, now, found);
        }

        long begin = grid.From.Nanoseconds;
        long end = grid.To.Nanoseconds;
        return
        [
            .. channels.Select(channel => (IReadOnlyList<RawBucket>)
            [
                .. Enumerable.Range(0, (int)(lastTile - firstTile + 1))
                    .SelectMany(i => found[new TileKey(grid.Width, firstTile + i, channel)].Buckets)
                    .Where(b => b.From.Nanoseconds >= begin && b.From.Nanoseconds < end),
            ]),
        ];
    }

    public void Dispose()
    {
        foreach (BenchReader reader in _readers)
        {
            reader.Dispose();
        }
    }

    /// <summary>Neighbouring tiles that lack the same channels, so that they are read in one walk; what is there goes into <paramref name="found"/>.</summary>
    private List<(long From, long After, int[] Channels)> MissingRuns(int[] channels, long width, long firstTile, long lastTile, Dictionary<TileKey, Tile> found)
    {
        var runs = new List<(long From, long After, int[] Channels)>();
        lock (_gate)
        {
            for (long tile = firstTile; tile <= lastTile; tile++)
            {
                int[] missing = [.. channels.Where(channel => !TryTake(new TileKey(width, tile, channel), found))];
                if (missing.Length == 0)
                {
                    continue;
                }

                if (runs.Count > 0 && runs[^1].After == tile && runs[^1].Channels.AsSpan().SequenceEqual(missing))
                {
                    runs[^1] = runs[^1] with { After = tile + 1 };
                }
                else
                {
                    runs.Add((tile, tile + 1, missing));
                }
            }
        }

        return runs;
    }

    private bool TryTake(TileKey key, Dictionary<TileKey, Tile> found)
    {
        if (!_tiles.TryGetValue(key, out LinkedListNode<Tile>? node))
        {
            return false;
        }

        _used.Remove(node);
        _used.AddLast(node);
        found[key] = node.Value;
        return true;
    }

    private void Fetch(int[] channels, long width, long tile, long after, EngineTime now, Dictionary<TileKey, Tile> found)
    {
        var from = new EngineTime(tile * TileColumns * width);
        var to = new EngineTime(after * TileColumns * width);
        int count = (int)(after - tile) * TileColumns;
        int share = (channels.Length + _readers.Length - 1) / _readers.Length;
        int[][] shares = [.. channels.Chunk(share)];
        var read = new IReadOnlyList<IReadOnlyList<RawBucket>>[shares.Length];
        Parallel.For(0, shares.Length, i => read[i] = _readers[i].ReadBuckets(shares[i], from, to, count));
        lock (_gate)
        {
            for (int i = 0; i < shares.Length; i++)
            {
                for (int k = 0; k < shares[i].Length; k++)
                {
                    Cut(read[i][k], new TileKey(width, tile, shares[i][k]), after, now, found);
                }
            }
        }
    }

    /// <summary>Cuts what was read of a channel into its tiles and keeps those that nothing changes any more.</summary>
    private void Cut(IReadOnlyList<RawBucket> buckets, TileKey first, long after, EngineTime now, Dictionary<TileKey, Tile> found)
    {
        int at = 0;
        for (long number = first.Number; number < after; number++)
        {
            long end = (number + 1) * TileColumns * first.Width;
            int begin = at;
            while (at < buckets.Count && buckets[at].From.Nanoseconds < end)
            {
                at++;
            }

            TileKey key = first with { Number = number };
            var tile = new Tile(key, [.. buckets.Skip(begin).Take(at - begin)]);
            found[key] = tile;
            if (end < (now - Settled).Nanoseconds && !_tiles.ContainsKey(key))
            {
                _tiles.Add(key, _used.AddLast(tile));
                if (_tiles.Count > MostTiles)
                {
                    _tiles.Remove(_used.First!.Value.Key);
                    _used.RemoveFirst();
                }
            }
        }
    }

    private static long FloorDivide(long value, long by) => (value / by) - (value % by < 0 ? 1 : 0);

    private readonly record struct TileKey(long Width, long Number, int Channel);

    private sealed record Tile(TileKey Key, RawBucket[] Buckets);
}
