using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Running;

/// <summary>Derived quantities of a span can't be told: why, and what a person does about it.</summary>
internal sealed class QuantitiesUntoldException(string why, string remedy) : Exception(why)
{
    public string Remedy { get; } = remedy;
}

/// <summary>
/// Works the derived quantities of spans out for pages that zoom and pan. One walk over the log is under way at a time, on a thread of its
/// own that rests as long as it works: sampling and judging come first. Columns lie on the grid of <see cref="SpanGrid"/>; tiles of it that
/// nothing changes any more are kept, the newest used of them. Safe from any thread.
/// </summary>
internal sealed class QuantityDesk(TimeProvider time) : IDisposable
{
    /// <summary>Longest span that is walked over. Source: our own choice, a night with its evening; as long as every reading of a span is given at once.</summary>
    public static readonly TimeSpan Longest = TimeSpan.FromHours(36);

    private const int TileColumns = 128;

    /// <summary>Some 10 MB with 25 quantities: four views. Source: derived from the service's 150 MB.</summary>
    private const int MostTiles = 48;

    /// <summary>As for channels: by then a late line's answer has come. Source: as <see cref="SpanReader"/>.</summary>
    private static readonly TimeSpan Settled = TimeSpan.FromMinutes(5);

    /// <summary>Whoever waits longer for the walks of others is told so. Source: our own choice.</summary>
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(20);

    /// <summary>A walk that takes longer is given up. Source: our own choice; twelve hours of 20 channels at 10 Hz take seconds.</summary>
    private static readonly TimeSpan LongestWalk = TimeSpan.FromSeconds(60);

    private readonly SemaphoreSlim _one = new(1, 1);
    private readonly Dictionary<TileKey, LinkedListNode<Tile>> _tiles = [];
    private readonly LinkedList<Tile> _used = new();
    private readonly Lock _gate = new();

    /// <summary>Columns of each quantity, in their order; empty ones are left out.</summary>
    /// <param name="view">The bench.</param>
    /// <param name="quantities">Of the bench in force.</param>
    /// <param name="grid">The columns.</param>
    /// <param name="cancel">Ends the walk at once.</param>
    /// <exception cref="QuantitiesUntoldException">The span is too long, the walk took too long, or the log has a hole there.</exception>
    public async Task<IReadOnlyList<IReadOnlyList<Bucket>>> ColumnsAsync(
        IBenchView view, IReadOnlyList<QuantityDefinition> quantities, SpanGrid grid, CancellationToken cancel)
    {
        if (quantities.Count == 0 || view.StoreFolder is not { } folder)
        {
            return [.. quantities.Select(_ => (IReadOnlyList<Bucket>)[])];
        }

        if (grid.To - grid.From > Longest + TimeSpan.FromTicks(2 * grid.Width / TimeSpan.NanosecondsPerTick))
        {
            throw new QuantitiesUntoldException(
                $"Derived quantities are not stored: they are worked out anew from every reading, for at most {Longest.TotalHours:0} h at once.", "Choose a shorter span.");
        }

        if (!await _one.WaitAsync(Patience, cancel))
        {
            throw new QuantitiesUntoldException("Others have derived quantities worked out, one span at a time.", "Try again in a minute.");
        }

        try
        {
            return await OnAThreadAsync(() => Read(view, folder, quantities, grid, cancel));
        }
        finally
        {
            _one.Release();
        }
    }

    public void Dispose() => _one.Dispose();

    private static Task<T> OnAThreadAsync<T>(Func<T> work)
    {
        var done = new TaskCompletionSource<T>(TaskCreationOptions.RunContinuationsAsynchronously);
        var thread = new Thread(() =>
        {
            try
            {
                done.SetResult(work());
            }
            catch (OperationCanceledException)
            {
                done.SetCanceled();
            }
            catch (Exception exception) // whoever asked is told; it must not end the service
            {
                done.SetException(exception);
            }
        })
        {
            Name = "quantities",
            IsBackground = true,
            Priority = ThreadPriority.Lowest,
        };
        thread.Start();
        return done.Task;
    }

    private IReadOnlyList<IReadOnlyList<Bucket>> Read(
        IBenchView view, string folder, IReadOnlyList<QuantityDefinition> quantities, SpanGrid grid, CancellationToken cancel)
    {
        IReadOnlyList<QuantityDefinition> all = view.Bench.Quantities;
        EngineTime settled = view.Now - Settled;
        long first = FloorDivide(grid.First, TileColumns);
        long last = FloorDivide(grid.First + grid.Count - 1, TileColumns);
        var found = new Dictionary<long, Tile>();
        for (long number = first; number <= last; number++)
        {
            if (TryTake(new TileKey(view.Bench.Id, view.Bench.SourceHash, grid.Width, number)) is { } kept)
            {
                found[number] = kept;
            }
        }

        for (long number = first; number <= last; number++)
        {
            if (found.ContainsKey(number))
            {
                continue;
            }

            long after = number + 1;
            while (after <= last && !found.ContainsKey(after))
            {
                after++;
            }

            Walk(number, after);
        }

        var places = quantities.Select(q => all.Select((a, i) => (a.Id, i)).FirstOrDefault(a => a.Id == q.Id, (q.Id, -1)).Item2).ToList();
        return
        [
            .. places.Select(place => (IReadOnlyList<Bucket>)
            [
                .. Enumerable.Range(0, (int)(last - first + 1))
                    .SelectMany(i => place < 0 ? [] : found[first + i].Columns[place])
                    .Where(b => b.From >= grid.From && b.From < grid.To),
            ]),
        ];

        void Walk(long from, long to)
        {
            var piece = new SpanGrid(grid.Width, from * TileColumns, (int)(to - from) * TileColumns);
            long began = time.GetTimestamp();
            long since = began;
            using var source = new Reports.SpanSource(folder, piece.From - WhatIfPass.Lead, piece.To);
            IReadOnlyList<IReadOnlyList<Bucket>> columns;
            try
            {
                columns = QuantityPass.Run(source, all, piece, Rest);
            }
            catch (InvalidDataException hole)
            {
                throw new QuantitiesUntoldException(hole.Message, "Choose a span without them.");
            }

            for (long number = from; number < to; number++)
            {
                long begin = number * TileColumns * grid.Width;
                long end = (number + 1) * TileColumns * grid.Width;
                var tile = new Tile(
                    new TileKey(view.Bench.Id, view.Bench.SourceHash, grid.Width, number),
                    [.. columns.Select(c => c.Where(b => b.From.Nanoseconds >= begin && b.From.Nanoseconds < end).ToArray())]);
                found[number] = tile;
                if (end < settled.Nanoseconds)
                {
                    Keep(tile);
                }
            }

            void Rest()
            {
                if (time.GetElapsedTime(began) > LongestWalk)
                {
                    throw new QuantitiesUntoldException(
                        $"To work the derived quantities of this span out would take longer than {LongestWalk.TotalSeconds:0} s.", "Choose a shorter span.");
                }

                cancel.WaitHandle.WaitOne(time.GetElapsedTime(since));
                cancel.ThrowIfCancellationRequested();
                since = time.GetTimestamp();
            }
        }
    }

    private Tile? TryTake(TileKey key)
    {
        lock (_gate)
        {
            if (!_tiles.TryGetValue(key, out LinkedListNode<Tile>? node))
            {
                return null;
            }

            _used.Remove(node);
            _used.AddLast(node);
            return node.Value;
        }
    }

    private void Keep(Tile tile)
    {
        lock (_gate)
        {
            if (_tiles.ContainsKey(tile.Key))
            {
                return;
            }

            _tiles.Add(tile.Key, _used.AddLast(tile));
            if (_tiles.Count > MostTiles)
            {
                _tiles.Remove(_used.First!.Value.Key);
                _used.RemoveFirst();
            }
        }
    }

    private static long FloorDivide(long value, long by) => (value / by) - (value % by < 0 ? 1 : 0);

    private readonly record struct TileKey(string Bench, string Hash, long Width, long Number);

    private sealed record Tile(TileKey Key, Bucket[][] Columns);
}
