using DriftWatch.Storage;

namespace DriftWatch.Mirror;

/// <summary>Keeps how far a server has come in the cursors of the bench's records, which never expire.</summary>
internal sealed class MirrorBook(BenchStore store, string id)
{
    private OutboxState? _saved;

    /// <summary>Where to begin. A mirror that never began starts at the end of the log, and with all that lies before it where that is wanted.</summary>
    public OutboxState Load(bool sendsPast)
    {
        if (store.ReadCursor(Name("begun")) == 0)
        {
            long last = store.LastNumber;
            var first = new OutboxState(last, sendsPast && last > 0 ? [new Stretch(0, last)] : []);
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
        return new OutboxState(Math.Min(store.ReadCursor(Name("newest")), store.LastNumber), [.. older.Where(s => !s.IsDone)]);
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
