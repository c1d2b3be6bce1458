using DriftWatch.Measurement.Alarms;
using DriftWatch.Storage.Records;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage;

/// <summary>The outbox of notices, which lives in the records file beside the book of alarms that it is made from.</summary>
public sealed partial class BenchStore
{
    /// <summary>
    /// The cursor in the book of alarms up to which notices are planned. Where none were ever planned it is the end of
    /// the book as it stands: nobody is told of what lies in the past.
    /// </summary>
    public long NoticeCursor()
    {
        lock (_gate)
        {
            return Guard(_records.Path, () =>
            {
                if (NoticeTable.ReadCursor(_records.Connection) is { } known)
                {
                    return known;
                }

                long end = NoticeTable.EndOfBook(_records.Connection);
                using SqliteTransaction transaction = _records.Connection.BeginTransaction(deferred: false);
                NoticeTable.PutCursor(_records.Connection, transaction, end);
                transaction.Commit();
                return end;
            });
        }
    }

    /// <summary>
    /// Changes the outbox and moves its place in the book, in one transaction, on the disk when this returns: what is
    /// planned is planned once, whatever happens between.
    /// </summary>
    /// <param name="cursor">The new place in the book; null leaves it.</param>
    /// <param name="changes">In order. A row that has ended stays as it is.</param>
    public void CommitNotices(long? cursor, IReadOnlyList<NoticeChange> changes)
    {
        ArgumentNullException.ThrowIfNull(changes);
        lock (_gate)
        {
            ObjectDisposedException.ThrowIf(_disposed, this);
            Guard(_records.Path, () =>
            {
                using SqliteTransaction transaction = _records.Connection.BeginTransaction(deferred: false);
                foreach (NoticeChange change in changes)
                {
                    if (change.IsRemoval)
                    {
                        NoticeTable.Remove(_records.Connection, transaction, change.Row.Route, change.Row.Key);
                    }
                    else
                    {
                        NoticeTable.Put(_records.Connection, transaction, change.Row);
                    }
                }

                if (cursor is { } place)
                {
                    NoticeTable.PutCursor(_records.Connection, transaction, place);
                }

                transaction.Commit();
                return 0;
            });
        }
    }

    /// <summary>What is held or waits to be sent, in the order of planning.</summary>
    public IReadOnlyList<StoredNotice> OpenNotices()
    {
        lock (_gate)
        {
            return Guard(_records.Path, () => NoticeTable.Open(_records.Connection));
        }
    }

    /// <summary>The newest rows of a route, the newest first.</summary>
    public IReadOnlyList<StoredNotice> LatestNotices(string route, int limit)
    {
        lock (_gate)
        {
            return Guard(_records.Path, () => NoticeTable.Latest(_records.Connection, route, limit));
        }
    }

    /// <summary>Forgets notices that ended before an instant; the book of alarms keeps what they told. Gives how many.</summary>
    public int PruneNotices(long endedBeforeUtc)
    {
        lock (_gate)
        {
            return Guard(_records.Path, () => NoticeTable.Prune(_records.Connection, endedBeforeUtc));
        }
    }

    /// <summary>The alarms nobody had answered for at a place in the book, each by the last line about its tag up to there.</summary>
    public IReadOnlyList<AlarmTransition> UnansweredAlarms(long through)
    {
        lock (_gate)
        {
            return Guard(_records.Path, () => NoticeTable.Unanswered(_records.Connection, through));
        }
    }
}
