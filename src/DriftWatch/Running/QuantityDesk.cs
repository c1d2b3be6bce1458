using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch;

namespace DriftWatch.Running;

/// <summary>Derived quantities of a span can't be told: why, and what a person does about it.</summary>
internal sealed class QuantitiesUntoldException(string why, string remedy) : Exception(why)
{
    public string Remedy { get; } = remedy;
}

/// <summary>
/// Works the derived quantities of spans out for pages that zoom and pan. One walk over the log is under way at a time, on a thread of its
/// own that rests as long as it works: sampling and judging come first. Columns lie on the grid of <see cref="SpanGrid"/>. What was walked over is kept by the second, with what the
/// judgement knew at every five minutes, so that another zoom is put together from it and one below seconds walks over minutes, not hours.
/// What may still change is not kept. Safe from any thread.
/// </summary>
internal sealed class QuantityDesk(TimeProvider time) : IDisposable
{
    /// <summary>Longest span that is walked over. Source: our own choice, a night with its evening; as long as every reading of a span is given at once.</summary>
    public static readonly TimeSpan Longest = TimeSpan.FromHours(36);

    private const int TileColumns = 128;

    /// <summary>Seconds that are kept together, and walked again from. Source: our own choice; as much again is walked over before a fine zoom, in some tenths of a second.</summary>
    public const int BlockSeconds = 300;

    private const long Second = EngineTime.NanosecondsPerSecond;

    /// <summary>As for channels: by then a late line's answer has come. Source: as <see cref="SpanReader"/>.</summary>
    private static readonly TimeSpan Settled = TimeSpan.FromMinutes(5);

    /// <summary>Whoever waits longer for the walks of others is told so. Source: our own choice.</summary>
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(20);

    /// <summary>A walk that takes longer is given up. Source: our own choice; twelve hours of 20 channels at 10 Hz take seconds.</summary>
    private static readonly TimeSpan LongestWalk = TimeSpan.FromSeconds(60);

    /// <summary>Work of so long is done without a rest, at the lowest priority. Source: our own choice; a fine zoom takes no longer.</summary>
    private static readonly TimeSpan Unnoticed = TimeSpan.FromMilliseconds(300);

    private readonly SemaphoreSlim _one = new(1, 1);
    private readonly QuantityShelf _kept = new();

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
        // Columns of whole seconds are put together from seconds, which serve every zoom; finer ones are walked for.
        bool isFine = grid.Width % Second != 0;
        (long width, int pieces) = isFine ? (grid.Width, TileColumns) : (Second, BlockSeconds);
        long first = FloorDivide(grid.From.Nanoseconds, width * pieces);
        long last = FloorDivide(grid.To.Nanoseconds - 1, width * pieces);
        var found = new Dictionary<long, QuantityPiece>();
        for (long number = first; number <= last; number++)
        {
            if (_kept.Find(new(view.Bench.Id, view.Bench.SourceHash, width, number)) is { } kept)
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

            Walk(view, folder, new SpanGrid(width, number * pieces, (int)(after - number) * pieces), pieces, found, cancel);
        }

        var rows = new QuantityColumn[quantities.Count][];
        for (int i = 0; i < rows.Length; i++)
        {
            rows[i] = new QuantityColumn[grid.Count];
            int place = all.TakeWhile(q => q.Id != quantities[i].Id).Count();
            for (long number = first; number <= last; number++)
            {
                KeptColumn[] kept = place < found[number].Rows.Length ? found[number].Rows[place] : [];
                long from = number * pieces * width;
                for (int k = 0; k < kept.Length; k++, from += width)
                {
                    if (from >= grid.From.Nanoseconds && from < grid.To.Nanoseconds)
                    {
                        rows[i][(from - grid.From.Nanoseconds) / grid.Width].Add(kept[k]);
                    }
                }
            }
        }

        return [.. rows.Select(row => BucketsOf(row, grid))];
    }

    private static List<Bucket> BucketsOf(QuantityColumn[] row, SpanGrid grid)
    {
        var made = new List<Bucket>();
        for (int i = 0; i < row.Length; i++)
        {
            if (row[i].Ticks > 0)
            {
                made.Add(KeptColumn.Of(row[i]).AsBucket((grid.First + i) * grid.Width, grid.Width));
            }
        }

        return made;
    }

    /// <summary>Walks over the grid from where an earlier walk left what it knew, or from a while before; every piece of it is found afterwards.</summary>
    private void Walk(IBenchView view, string folder, SpanGrid grid, int pieces, Dictionary<long, QuantityPiece> found, CancellationToken cancel)
    {
        IReadOnlyList<QuantityDefinition> all = view.Bench.Quantities;
        EngineTime settled = view.Now - Settled;
        long firstPiece = grid.First / pieces;
        long began = time.GetTimestamp();
        long since = began;
        byte[]? known = null;
        WatchEngine engine = _kept.EngineAt(view.Bench.Id, view.Bench.SourceHash, grid.From, WhatIfPass.Lead) ?? new WatchEngine();
        using Reports.SpanSource source = engine.Bench is null
            ? new(folder, grid.From - WhatIfPass.Lead, grid.To) : new(folder, engine.LastNumber, grid.To);
        for (long number = firstPiece; number < firstPiece + (grid.Count / pieces); number++)
        {
            found[number] = QuantityPiece.Empty;
        }

        try
        {
            QuantityPass.Run(source, engine, all, grid, pieces, Rest, _ => known = grid.Width == Second ? QuantityShelf.Packed(engine) : null, Keep);
        }
        catch (InvalidDataException hole)
        {
            throw new QuantitiesUntoldException(hole.Message, "Choose a span without them.");
        }

        void Keep(int piece, QuantityColumn[][] columns)
        {
            long number = firstPiece + piece;
            var kept = new QuantityPiece([.. columns.Select(row => row.Any(c => c.Ticks > 0) ? row.Select(c => KeptColumn.Of(c)).ToArray() : [])], known);
            found[number] = kept;
            if ((number + 1) * pieces * grid.Width < settled.Nanoseconds)
            {
                _kept.Keep(new(view.Bench.Id, view.Bench.SourceHash, grid.Width, number), kept);
            }
        }

        void Rest()
        {
            if (time.GetElapsedTime(began) > LongestWalk)
            {
                throw new QuantitiesUntoldException(
                    $"To work the derived quantities of this span out would take longer than {LongestWalk.TotalSeconds:0} s.", "Choose a shorter span.");
            }

            if (time.GetElapsedTime(began) > Unnoticed)
            {
                cancel.WaitHandle.WaitOne(time.GetElapsedTime(since));
            }

            cancel.ThrowIfCancellationRequested();
            since = time.GetTimestamp();
        }
    }

    private static long FloorDivide(long value, long by) => (value / by) - (value % by < 0 ? 1 : 0);
}
