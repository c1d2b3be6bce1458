using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;

namespace DriftWatch.Notices.Planning;

/// <summary>
/// What goes by one route and when: from lines of the book to rows of the outbox. It has no clock and sends nothing;
/// every change that must outlive a crash is handed to the caller, who stores it before anything is sent.
/// <para>
/// A line that calls is told at once while the route has room: no more than so many notices in so long. Beyond that, and in quiet hours, lines are
/// gathered into one digest that grows in place, so that neither the outbox nor the person is flooded and nothing is
/// lost. The top priority has a room of its own, is never quiet, and its digest waits for a minute at most.
/// </para>
/// With escalation a line is held, and taken away again if its alarm is answered for or over before it is due.
/// </summary>
internal sealed class RoutePlan
{
    /// <summary>The longest that a digest of the top priority waits. Source: derived; what is of top priority harms within about a minute.</summary>
    public static readonly TimeSpan TopDigestWait = TimeSpan.FromMinutes(1);

    /// <summary>The longest between two tries while something of the top priority waits, unless the far end asks for longer. Source: as above.</summary>
    public static readonly TimeSpan TopRetry = TimeSpan.FromSeconds(30);

    /// <summary>Tries after which a notice that the far end says it never takes makes way for the next.</summary>
    public const int MostRefusals = 10;

    private const int MostTold = 1000;

    private readonly RouteSettings _settings;
    private readonly NoticeWriter _writer;
    private readonly List<StoredNotice> _waiting = [];
    private readonly Dictionary<string, StoredNotice> _held = new(StringComparer.Ordinal);
    private readonly List<(EngineTime At, bool Top)> _sent = [];
    private readonly HashSet<string> _told = new(StringComparer.Ordinal);
    private readonly Queue<string> _toldOrder = new();
    private readonly Gathering?[] _gathering = new Gathering?[2]; // that of the top priority is the second
    private StoredNotice? _flying;
    private EngineTime _retryAt = EngineTime.MinValue;
    private EngineTime _topRetryAt = EngineTime.MinValue;

    /// <param name="settings">Of the route.</param>
    /// <param name="writer">Puts lines into words.</param>
    /// <param name="open">The route's rows that nobody was told of yet, in the order of planning.</param>
    /// <param name="latest">Its newest rows, in any order: what was sent of late counts for the rate.</param>
    public RoutePlan(RouteSettings settings, NoticeWriter writer, IEnumerable<StoredNotice> open, IEnumerable<StoredNotice> latest)
    {
        _settings = settings;
        _writer = writer;
        foreach (StoredNotice row in latest.Where(r => r.Ended is not null).OrderBy(r => r.Ended))
        {
            Tell(row);
            if (row.State == NoticeState.Sent)
            {
                _sent.Add((row.Ended!.Value, IsTop(row)));
            }
        }

        foreach (StoredNotice row in open)
        {
            if (row.State == NoticeState.Held)
            {
                _held[row.Alarm] = row;
            }
            else
            {
                Tell(row);
                _waiting.Add(row);
                if (IsDigest(row) && row.Tries == 0)
                {
                    _gathering[IsTop(row) ? 1 : 0] = new Gathering(row, NoticeJson.Read(row.Json));
                }
            }
        }
    }

    /// <summary>Rows that wait to be sent or are being sent.</summary>
    public int Waiting => _waiting.Count;

    /// <summary>Rows that wait for an answer that would spare them.</summary>
    public int Held => _held.Count;

    /// <summary>Failed tries since the last that worked.</summary>
    public int Failures { get; private set; }

    /// <summary>How long the oldest that should be out by now waits on a route that fails; zero while it doesn't.</summary>
    public TimeSpan Behind(EngineTime now, TimeOnly local) =>
        Failures > 0 && _waiting.Find(r => MayGo(r, now, local)) is { } first && now > first.Due ? now - first.Due : TimeSpan.Zero;

    /// <summary>Takes one line of the book, in the book's order.</summary>
    public void Take(AlarmTransition line, EngineTime now, TimeOnly local, List<NoticeChange> changes)
    {
        if (line.To != AlarmState.Unacknowledged && _held.Remove(line.Id, out StoredNotice? spared))
        {
            changes.Add(new NoticeChange(spared, IsRemoval: true));
        }

        bool matters = line.Priority >= _settings.LeastPriority;
        if (line.Calls && matters)
        {
            if (_settings.After > TimeSpan.Zero)
            {
                Hold(line, now, changes);
            }
            else
            {
                Place(RowOf(line, now, default), now, local, changes);
            }
        }
        else if (line.Step == AlarmStep.CauseNamed && _held.TryGetValue(line.Id, out StoredNotice? held))
        {
            Name(held, line, changes);
        }
        else if ((_settings.FollowUps || NoticeWriter.IsStoreRecovered(line)) && matters && line.Step is AlarmStep.Returned or AlarmStep.Acknowledged or AlarmStep.CauseNamed && _told.Contains(line.Id))
        {
            Place(RowOf(line, now, default), now, local, changes);
        }

        if (line.To == AlarmState.Normal)
        {
            _told.Remove(line.Id);
        }
    }

    /// <summary>A line of the book that was told already, from memory: what follows it is told, too.</summary>
    public void Told(AlarmTransition line) => Tell(line.Id);

    /// <summary>Lets what was held and is due now go out, and hands over the digests that grew; call it after the lines there are.</summary>
    public void Turn(EngineTime now, TimeOnly local, List<NoticeChange> changes)
    {
        if (_held.Count > 0)
        {
            foreach (StoredNotice row in _held.Values.Where(r => r.Due <= now).OrderBy(r => r.Due).ThenBy(r => r.Key, StringComparer.Ordinal).ToList())
            {
                _held.Remove(row.Alarm);
                changes.Add(new NoticeChange(row, IsRemoval: true)); // its place is among those that wait from now on
                Place(row with { State = NoticeState.Waiting }, now, local, changes);
            }
        }

        foreach (Gathering? digest in _gathering)
        {
            if (digest is { HasGrown: true })
            {
                digest.HasGrown = false;
                digest.Row = digest.Row with { Json = NoticeJson.ToUtf8(_writer.Word(digest.Notice)) };
                _waiting[_waiting.FindIndex(r => r.Key == digest.Row.Key)] = digest.Row;
                changes.Add(new NoticeChange(digest.Row));
            }
        }
    }

    /// <summary>
    /// The row to send now, or null. It is on its way until <see cref="Sent"/> or <see cref="Failed"/> says what became of
    /// it, and nothing else goes by this route meanwhile. Store the changes before sending.
    /// </summary>
    public StoredNotice? Next(EngineTime now, TimeOnly local, List<NoticeChange> changes)
    {
        if (_flying is not null || (now < _retryAt && (now < _topRetryAt || !_waiting.Exists(IsTop))))
        {
            return null;
        }

        Forget(now);
        bool Goes(StoredNotice row) => MayGo(row, now, local) && !HasGrown(row);

        // Where tries fail, the top priority does not wait for the tries of another that the far end may never take.
        int place = Failures > 0 ? _waiting.FindIndex(r => IsTop(r) && Goes(r)) : -1;
        place = place < 0 ? _waiting.FindIndex(Goes) : place;
        if (place < 0)
        {
            return null;
        }

        _flying = _waiting[place] with { Tries = _waiting[place].Tries + 1 };
        _waiting[place] = _flying;
        if (IsDigest(_flying))
        {
            _gathering[IsTop(_flying) ? 1 : 0] = null;
            changes.Add(new NoticeChange(_flying)); // from here on it grows no more: a second sending is the same to the byte
        }

        return _flying;
    }

    /// <summary>What <see cref="Next"/> gave could not be stored and does not go: it waits again, in its place.</summary>
    public void TakeBack()
    {
        StoredNotice row = Land();
        _waiting[_waiting.FindIndex(r => r.Key == row.Key)] = row with { Tries = row.Tries - 1 };
    }

    public void Sent(EngineTime now, long utc, string said, List<NoticeChange> changes)
    {
        StoredNotice row = Land();
        _waiting.RemoveAll(r => r.Key == row.Key);
        _sent.Add((now, IsTop(row)));
        Failures = 0;
        _retryAt = _topRetryAt = EngineTime.MinValue;
        changes.Add(new NoticeChange(row with { State = NoticeState.Sent, Ended = now, EndedUtc = utc, Said = said }));
    }

    /// <summary>It did not get out: it is tried again after a wait. False when it is given up, because the far end has said often enough that it never takes it.</summary>
    public bool Failed(EngineTime now, long utc, string said, bool refused, TimeSpan? asked, double jitter, List<NoticeChange> changes)
    {
        StoredNotice row = Land() with { Said = said };
        Failures++;
        _retryAt = now + BackOff.After(Failures, jitter, asked);
        _topRetryAt = asked is null && _retryAt - now > TopRetry ? now + TopRetry : _retryAt;
        bool givenUp = refused && row.Tries >= MostRefusals;
        int place = _waiting.FindIndex(r => r.Key == row.Key);
        if (givenUp)
        {
            row = row with { State = NoticeState.GivenUp, Ended = now, EndedUtc = utc };
            _waiting.RemoveAt(place);
        }
        else
        {
            _waiting[place] = row;
        }

        changes.Add(new NoticeChange(row));
        return !givenUp;
    }

    private bool HasGrown(StoredNotice row) => _gathering.Any(g => g is { HasGrown: true } && g.Row.Key == row.Key);

    private static bool IsTop(StoredNotice row) => row.Priority == AlarmPriority.High;

    private static bool IsDigest(StoredNotice row) => row.Kind == Slugs.Of(NoticeKind.Digest);

    private StoredNotice Land()
    {
        StoredNotice row = _flying ?? throw new InvalidOperationException("Nothing was on its way.");
        _flying = null;
        return row;
    }

    private void Hold(AlarmTransition line, EngineTime now, List<NoticeChange> changes)
    {
        StoredNotice row = RowOf(line, now, _settings.After) with { State = NoticeState.Held, Due = line.At + _settings.After };
        if (_held.TryGetValue(line.Id, out StoredNotice? already))
        {
            // It worsened, or came back, while held: what is told is the newest, when is as it was.
            row = row with { Key = already.Key, Due = already.Due, Json = row.Json, Made = already.Made };
        }

        _held[line.Id] = row;
        changes.Add(new NoticeChange(row));
    }

    /// <summary>A cause was said of what is held: who is told of it later learns that, too, and what to do first.</summary>
    private void Name(StoredNotice held, AlarmTransition line, List<NoticeChange> changes)
    {
        AlarmTransition told = NoticeJson.Read(held.Json).Alarm!;
        StoredNotice row = held with { Json = NoticeJson.ToUtf8(_writer.Of(told with { Cause = line.Cause }, _settings.Id, _settings.After, line.Text)) };
        _held[line.Id] = row;
        changes.Add(new NoticeChange(row));
    }

    private void Place(StoredNotice row, EngineTime now, TimeOnly local, List<NoticeChange> changes)
    {
        Tell(row);
        bool top = IsTop(row);
        if (_gathering[top ? 1 : 0] is { } digest)
        {
            digest.Notice = NoticeWriter.Gather(digest.Notice, NoticeJson.Read(row.Json));
            digest.Row = digest.Row with { Priority = row.Priority > digest.Row.Priority ? row.Priority : digest.Row.Priority };
            digest.HasGrown = true;
            return;
        }

        Forget(now);
        int used = _sent.Count(s => s.Top == top) + _waiting.Count(r => IsTop(r) == top && !IsDigest(r));
        if (used < _settings.Most && (top || !_settings.IsQuiet(local)))
        {
            _waiting.Add(row);
            changes.Add(new NoticeChange(row));
            return;
        }

        string key = "digest/" + row.Key;
        AlarmNotice first = _writer.Digest(NoticeJson.Read(row.Json), NoticeWriter.IdOf(_writer.Bench, _settings.Id, key));
        row = row with { Key = key, Kind = Slugs.Of(NoticeKind.Digest), Alarm = "", Made = now, Due = now };
        _waiting.Add(row);
        _gathering[top ? 1 : 0] = new Gathering(row, first) { HasGrown = true };
    }

    private bool MayGo(StoredNotice row, EngineTime now, TimeOnly local)
    {
        bool top = IsTop(row);
        if (!top && _settings.IsQuiet(local))
        {
            return false;
        }

        // One that goes by itself had its room kept from when it was placed; a digest waits until there is some.
        return !IsDigest(row) || row.Tries > 0 || _sent.Count(s => s.Top == top) < _settings.Most || (top && now - row.Made >= TopDigestWait);
    }

    private void Forget(EngineTime now) => _sent.RemoveAll(s => s.At <= now - _settings.Within);

    private StoredNotice RowOf(AlarmTransition line, EngineTime now, TimeSpan unanswered)
    {
        AlarmNotice notice = _writer.Of(line, _settings.Id, unanswered);
        return new StoredNotice
        {
            Route = _settings.Id,
            Key = NoticeWriter.KeyOf(line),
            Alarm = line.Id,
            Kind = Slugs.Of(notice.Kind),
            // What follows is never of the top priority: it waits in quiet hours, and takes no room from an alarm.
            Priority = notice.Kind != NoticeKind.Alarm && line.Priority == AlarmPriority.High ? AlarmPriority.Medium : line.Priority,
            State = NoticeState.Waiting,
            Made = now,
            Due = now,
            Json = NoticeJson.ToUtf8(notice),
        };
    }

    private void Tell(StoredNotice row) => Tell(row.Alarm);

    private void Tell(string alarm)
    {
        if (alarm.Length > 0 && _told.Add(alarm))
        {
            _toldOrder.Enqueue(alarm);
            while (_toldOrder.Count > MostTold)
            {
                _told.Remove(_toldOrder.Dequeue());
            }
        }
    }

    /// <summary>A digest that still grows.</summary>
    private sealed class Gathering(StoredNotice row, AlarmNotice notice)
    {
        public StoredNotice Row { get; set; } = row;

        public AlarmNotice Notice { get; set; } = notice;

        public bool HasGrown { get; set; }
    }
}
