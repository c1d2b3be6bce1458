using DriftWatch.Measurement.Channels;
using DriftWatch.Storage;
using DriftWatch.Storage.Mirror;
using DriftWatch.Storage.Queries;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Mirror;

/// <summary>Which rows of the records are followed.</summary>
internal enum EventKind
{
    Alarms,
    Findings,

    /// <summary>Of the book of transfers.</summary>
    Entries,
}

/// <summary>
/// How far a server has the rows of one table of the records. They are few, so nothing of before has to wait: the outbox is the same, with its
/// rows for numbers.
/// </summary>
internal sealed class EventTrail : IDisposable
{
    private readonly BenchStore _store;
    private readonly string _bench;
    private readonly EventKind _kind;
    private readonly MirrorBook _book;
    private BenchReader? _reader;
    private Outbox? _outbox;
    private TransferBook _transfers = TransferBook.Empty;
    private long _folded;

    public EventTrail(BenchStore store, string bench, string mirror, EventKind kind)
    {
        (_store, _bench, _kind) = (store, bench, kind);
        _book = new MirrorBook(store, $"{mirror}/{Slugs.Of(kind)}", last: () => long.MaxValue);
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
        switch (_kind)
        {
            case EventKind.Alarms:
                foreach (StoredAlarm row in Reader.Alarms(after, most))
                {
                    EventLines.Write(row.Line, tags, text);
                    through = row.Cursor;
                }

                break;
            case EventKind.Findings:
                foreach (StoredFinding row in Reader.Findings(after, most))
                {
                    EventLines.Write(row.Line, tags, text);
                    through = row.Cursor;
                }

                break;
            default:
                through = WriteEntries(after, most, tags, text);
                break;
        }

        int lines = text.Lines;
        return through > after ? new Batch(after, through, text.Take(), lines, 0, 0) : null;
    }

    /// <summary>How a pass stands follows from all entries before: they are folded once, and again only after a step back.</summary>
    private long WriteEntries(long after, int most, IReadOnlyList<(string Name, string? Value)> tags, LineText text)
    {
        if (_folded > after)
        {
            (_transfers, _folded) = (TransferBook.Empty, 0);
        }

        foreach (StoredEntry row in Reader.Entries(_folded))
        {
            if (row.Number > after && text.Lines == most)
            {
                break;
            }

            bool isRefused = _transfers.Add(row.Entry, out _transfers) is not null;
            _folded = row.Number;
            if (row.Number > after && !isRefused)
            {
                EventLines.Write(row.Entry, _transfers, _bench, tags, text);
            }
        }

        return Math.Max(after, _folded);
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
