using DriftWatch.Storage;

namespace DriftWatch.Mirror;

/// <summary>Keeps how far a server has come in the cursors of the bench's records, which never expire.</summary>
/// <param name="store">Of the bench.</param>
/// <param name="id">Of the mirror, and of what is counted where that is not the log itself.</param>
/// <param name="last">The last number there is.</param>
internal sealed class MirrorBook(BenchStore store, string id, Func<long> last)
{
    private OutboxState? _saved;

    /// <summary>Where to begin. A mirror that never began starts at the end of the log, and with all that lies before it where that is wanted.</summary>
    /// <param name="sendsPast">Whether what lies before is to be sent.</param>
    /// <param name="newestAtFirst">Where what is new begins; null for the end.</param>
    public OutboxState Load(bool sendsPast, long? newestAtFirst = null)
    {
        if (store.ReadCursor(Name("begun")) == 0)
        {
            long end = newestAtFirst ?? last();
            var first = new OutboxState(end, sendsPast && end > 0 ? [new Stretch(0, end)] : []);
            Save(first);
            store.PutCursor(Name("begun"), 1);
            return first;
        }

        var older = new List<Stretch>();
        for (int i = 0; i < Outbox.MostOlder; i++)
        {
            older.Add(new Stretch(store.ReadCursor(Name($"older-{i}-after")), store.ReadCursor(Name($"older-{i}-through"))));
        }

        // Records that were restored from their copy may know less of the log than is there, never more of the server than was sent.
        return new OutboxState(Math.Min(store.ReadCursor(Name("newest")), last()), [.. older.Where(s => !s.IsDone)]);
    }

    /// <summary>Stretches are written before what is new: a crash between the two sends twice, and forgets nothing.</summary>
    public void Save(OutboxState state)
    {
        for (int i = 0; i < Outbox.MostOlder; i++)
        {
            Stretch before = _saved is not null && i < _saved.Older.Count ? _saved.Older[i] : default;
            Stretch now = i < state.Older.Count ? state.Older[i] : default;
            if (_saved is null || before != now)
            {
                store.PutCursor(Name($"older-{i}-after"), now.After);
                store.PutCursor(Name($"older-{i}-through"), now.Through);
            }
        }

        if (_saved?.Newest != state.Newest)
        {
            store.PutCursor(Name("newest"), state.Newest);
        }

        _saved = state;
    }

    private string Name(string what) => $"mirror/{id}/{what}";
}
