using DriftWatch.Storage;
using DriftWatch.Storage.Mirror;
using DriftWatch.Storage.Queries;

namespace DriftWatch.Mirror;

/// <summary>Which rows of the records are followed.</summary>
internal enum EventKind
{
    Alarms,
    Findings,
}

/// <summary>
/// How far a server has the rows of one table of the records. They are few, so nothing of before has to wait: the outbox is the same, with its
/// rows for numbers.
/// </summary>
internal sealed class EventTrail : IDisposable
{
    private readonly BenchStore _store;
    private readonly EventKind _kind;
    private readonly MirrorBook _book;
    private BenchReader? _reader;
    private Outbox? _outbox;

    public EventTrail(BenchStore store, string mirror, EventKind kind)
    {
        (_store, _kind) = (store, kind);
        _book = new MirrorBook(store, $"{mirror}/{(kind == EventKind.Alarms ? "alarms" : "findings")}", last: () => long.MaxValue);
    }

    private BenchReader Reader => _reader ??= _store.OpenReader();

    /// <summary>The next rows as lines; null where there are none.</summary>
    /// <exception cref="StoreException">The records can't be read.</exception>
    public Batch? Read(int most, IReadOnlyList<(string Name, string? Value)> tags)
    {
        _outbox ??= new Outbox(_book.Load(sendsPast: false, newestAtFirst: 0));
        var text = new LineText();
        long after = _outbox.Newest;
        long through = after;
        if (_kind == EventKind.Alarms)
        {
            foreach (StoredAlarm row in Reader.Alarms(after, most))
            {
                EventLines.Write(row.Line, tags, text);
                through = row.Cursor;
            }
        }
        else
        {
            foreach (StoredFinding row in Reader.Findings(after, most))
            {
                EventLines.Write(row.Line, tags, text);
                through = row.Cursor;
            }
        }

        int lines = text.Lines;
        return through > after ? new Batch(after, through, text.Take(), lines, 0, 0) : null;
    }

    public void Took(long through, TimeSpan now) => _outbox?.Took(through, now);

    public void Rewind(TimeSpan now) => _outbox?.Rewind(now);

    /// <exception cref="StoreException">It can't be written down.</exception>
    public void Save(TimeSpan now)
    {
        if (_outbox is not null)
        {
            _outbox.Settle(now);
            _book.Save(_outbox.Safe);
        }
    }

    public void Dispose() => _reader?.Dispose();
}
