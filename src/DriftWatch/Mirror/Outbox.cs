namespace DriftWatch.Mirror;

/// <summary>A stretch of the log that is still to be sent: the inputs after one number, through another.</summary>
internal readonly record struct Stretch(long After, long Through)
{
    public bool IsDone => After >= Through;
}

/// <summary>What of an outbox is written down. Whoever begins from it sends again what a server may have lost.</summary>
internal sealed record OutboxState(long Newest, IReadOnlyList<Stretch> Older);

/// <summary>
/// How far one server has the log of a bench, by input numbers. What is new is sent first and followed closely; what is older, such as a
/// year from before the mirror was set up or a night without a network, lies in stretches that are sent beside it, oldest first.
/// <para>
/// What a server has said yes to is not safe yet: one that is killed loses what it had not written to its disk (measured: everything of
/// the last 8 s, nothing of 20 s). So an acknowledgement counts only after <see cref="SafeAfter"/>; when the server fails before that, or
/// this process begins anew, what came after the last safe number is sent again. A server keeps one of each, or must be told to.
/// </para>
/// Pure: times come in as readings of a clock that only grows.
/// </summary>
internal sealed class Outbox
{
    /// <summary>
    /// After so long what was acknowledged is on the server's disk. Derived: of what was acknowledged 8 s before a kill all was lost, of
    /// 20 s nothing; four times that.
    /// </summary>
    public static readonly TimeSpan SafeAfter = TimeSpan.FromSeconds(80);

    /// <summary>Beyond this many stretches the newest is lengthened instead: what lies between is sent twice.</summary>
    public const int MostOlder = 8;

    private readonly Trail _newest;
    private readonly List<Trail> _older = [];

    public Outbox(OutboxState state)
    {
        _newest = new Trail(state.Newest);
        foreach (Stretch stretch in state.Older.Where(s => !s.IsDone))
        {
            _older.Add(new Trail(stretch.After) { Through = stretch.Through });
        }
    }

    /// <summary>The last input that was sent of what is new.</summary>
    public long Newest => _newest.At;

    /// <summary>The oldest stretch still to send; null where there is none.</summary>
    public Stretch? Next => _older.Find(t => t.At < t.Through) is { } trail ? new Stretch(trail.At, trail.Through) : null;

    /// <summary>Inputs of older stretches still to send.</summary>
    public long OlderInputs => _older.Sum(t => Math.Max(0, t.Through - t.At));

    /// <summary>Whether some of a stretch is still to be sent, or sent again.</summary>
    public bool Owes(Stretch stretch) => (_newest.At < stretch.Through && _newest.At >= stretch.After) || _older.Exists(t => t.At < stretch.Through && t.Through > stretch.After);

    /// <summary>What to begin from after a crash.</summary>
    public OutboxState Safe => new(_newest.Safe, [.. _older.Select(t => new Stretch(t.Safe, t.Through)).Where(s => !s.IsDone)]);

    /// <summary>What is new was taken through a number.</summary>
    public void Took(long through, TimeSpan now)
    {
        _newest.Take(through, now);
        Settle(now);
    }

    /// <summary>Of the oldest stretch, what goes through a number was taken.</summary>
    public void TookOlder(long through, TimeSpan now)
    {
        _older.Find(t => t.At < t.Through)?.Take(through, now);
        Settle(now);
    }

    /// <summary>What is new lies too far behind: it becomes a stretch, and what is new begins after a number.</summary>
    public void Leap(long to, TimeSpan now)
    {
        if (to > _newest.At)
        {
            Add(new Stretch(_newest.Safe, to));
            _newest.Restart(to);
            Settle(now);
        }
    }

    /// <summary>Found missing on the server: to be sent again.</summary>
    public void Add(Stretch stretch)
    {
        if (stretch.IsDone)
        {
            return;
        }

        if (_older.Count < MostOlder)
        {
            _older.Add(new Trail(stretch.After) { Through = stretch.Through });
            return;
        }

        Trail last = _older[^1];
        last.Restart(Math.Min(last.Safe, stretch.After));
        last.Through = Math.Max(last.Through, stretch.Through);
    }

    /// <summary>The server may have lost what it said yes to: everything that is not safe is to be sent again.</summary>
    /// <returns>How many inputs that is.</returns>
    public long Rewind(TimeSpan now)
    {
        Settle(now);
        return _newest.Rewind() + _older.Sum(t => t.Rewind());
    }

    /// <summary>Lets acknowledgements that are old enough count, and drops stretches that are over and safe.</summary>
    public void Settle(TimeSpan now)
    {
        _newest.Settle(now - SafeAfter);
        foreach (Trail trail in _older)
        {
            trail.Settle(now - SafeAfter);
        }

        _older.RemoveAll(t => t.Safe >= t.Through);
    }

    /// <summary>One place in the log that moves on, and where it was at what instant.</summary>
    private sealed class Trail(long at)
    {
        private readonly Queue<(TimeSpan When, long Number)> _taken = new();

        public long At { get; private set; } = at;

        public long Safe { get; private set; } = at;

        public long Through { get; set; }

        public void Take(long through, TimeSpan now)
        {
            At = through;
            _taken.Enqueue((now, through));
        }

        public void Settle(TimeSpan before)
        {
            while (_taken.TryPeek(out (TimeSpan When, long Number) oldest) && oldest.When <= before)
            {
                Safe = oldest.Number;
                _taken.Dequeue();
            }
        }

        public long Rewind()
        {
            long back = At - Safe;
            At = Safe;
            _taken.Clear();
            return back;
        }

        public void Restart(long at)
        {
            (At, Safe) = (at, at);
            _taken.Clear();
        }
    }
}
