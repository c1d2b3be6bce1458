using System.Globalization;
using DriftWatch.Notices.Routes;
using DriftWatch.Storage.Mirror;

namespace DriftWatch.Mirror;

/// <summary>What is done about each answer of the server, and about what it holds.</summary>
internal sealed partial class MirrorLane
{
    /// <summary>So many lines of one batch refused by themselves are a wrong server rather than wrong lines. Source: our own choice.</summary>
    private const int MostRefusedOfBatch = 20;

    /// <summary>So often a server is asked over one connection since when it runs. Source: our own choice.</summary>
    private const int MostAsks = 3;

    /// <summary>A clock that differs by more makes windows and ages of the site's view wrong. Source: common practice, no source.</summary>
    private static readonly TimeSpan SkewLimit = TimeSpan.FromSeconds(5);

    private TimeSpan _behind;
    private string? _trouble;
    private string? _remedy;
    private long? _waitingSinceUtc;
    private TimeSpan _waitingSince; // means nothing while it does not wait; a step of the wall clock is no lag
    private bool _wasFull;
    private long _taken;
    private long? _lastTakenUtc;
    private long _refused;
    private string? _lastRefused;
    private long _compared;
    private long _missing;
    private long _doubled;
    private string? _countTrouble;
    private (CountBook Book, CountedWindow Window, Task<long?> Found)? _count; // asked for and not answered
    private TimeSpan? _clockAhead;
    private int _connections;
    private int _asksLeft;
    private string? _runsSince;

    /// <summary>What a person can do about an answer.</summary>
    /// <param name="answer">What the server said.</param>
    /// <param name="wasFull">Whether it said before that its disk is full, and has taken nothing since: some end for it.</param>
    public static string RemedyFor(in SendAnswer answer, bool wasFull = false) => answer.Result switch
    {
        _ when answer.IsOfFullDisk => "make room on the server's disk; one that goes on saying so with room on it has to be started anew. It is tried again, and nothing is lost",
        SendResult.Unreachable when wasFull => "it said before that its disk is full: make room on the server's disk and start it again; it is tried again, and nothing is lost",
        SendResult.Unwelcome => "look at the key and the user of [[mirror]], and that they may write there",
        SendResult.NoSuchPlace => "look at url, way, bucket and organisation of [[mirror]]",
        SendResult.Refused => "look at what the server keeps under these names: a field of another kind refuses every line",
        SendResult.TooLarge => "let the server take larger requests",
        SendResult.Busy or SendResult.Failing => "nothing here: it is tried again, and nothing is lost",
        _ => "look whether the server runs and can be reached; it is tried again, and nothing is lost",
    };

    private bool TryOpen()
    {
        try
        {
            _way = new MirrorConnection(_settings, _time, _options.Handler);
            return true;
        }
        catch (SecretException exception)
        {
            Hold(exception.Message, exception.Remedy);
            return false;
        }
    }

    /// <summary>Sends a batch, or the parts of it that the server takes.</summary>
    /// <returns>Whether the lines need not be sent again.</returns>
    private async Task<bool> SendAsync(Batch batch)
    {
        SendAnswer answer = await AskToTakeAsync(batch.Text);
        if (answer.Result == SendResult.Refused)
        {
            (long refused, string? newest) = (_refused, _lastRefused);
            answer = await SendInPartsAsync(batch.Text, answer, refused);
            if (!answer.IsTaken)
            {
                (_refused, _lastRefused) = (refused, newest); // the whole batch is sent again: nothing of it is given up
            }
        }

        switch (answer.Result)
        {
            case SendResult.Taken:
                Took(batch.Lines);
                return !await HasBegunAnewAsync();
            case SendResult.TooLarge when batch.Lines > FewestLines && _mostLines > FewestLines:
                _mostLines = Math.Max(FewestLines, Math.Min(_mostLines, batch.Lines) / 2);
                MirrorLog.Smaller(_options.Logger, _settings.Id, batch.Lines, _mostLines);
                _newestDue = TimeSpan.Zero;
                return false;
            default:
                Refuse(answer);
                return false;
        }
    }

    /// <summary>
    /// A server that was killed and is back before the next batch refuses nothing; but it needs a new connection, and then it is asked since when
    /// it runs.
    /// </summary>
    /// <returns>Whether it may have lost what it took; then all that is not safe is sent again, this batch too.</returns>
    private async Task<bool> HasBegunAnewAsync()
    {
        if (_settings.Counts == CountWay.None)
        {
            return false;
        }

        if (_way!.Opened != _connections)
        {
            (_connections, _asksLeft) = (_way.Opened, MostAsks);
        }

        if (_asksLeft == 0)
        {
            return false;
        }

        try
        {
            string? before = _runsSince;
            _runsSince = await ServerCounts.RunsSinceAsync(_way.Server, _settings, _stop.Token) ?? before;
            _asksLeft = 0;
            if (before is null || before == _runsSince)
            {
                return false;
            }
        }
        catch (Exception exception) when (exception is HttpRequestException or FormatException || (exception is TaskCanceledException && !_stop.IsCancellationRequested))
        {
            _countTrouble = exception.Message;
            _asksLeft--; // ask again with the next batch; one that never says is not asked for ever
            return false;
        }

        MirrorLog.Rewound(_options.Logger, _settings.Id, RewindAll());
        return true;
    }

    private long RewindAll()
    {
        foreach (EventTrail trail in _events)
        {
            trail.Rewind(Elapsed);
        }

        _olderIsOpen = false; // what lies before its last means is owed again
        return Outbox.Rewind(Elapsed);
    }

    private async Task<SendAnswer> AskToTakeAsync(string lines)
    {
        SendAnswer answer;
        try
        {
            answer = await _way!.Server.SendAsync(lines, _stop.Token);
        }
        catch (SecretException exception)
        {
            return new SendAnswer(SendResult.Unwelcome, $"{exception.Message}; {exception.Remedy}");
        }

        if (answer.ServerUtc is { } server)
        {
            _clockAhead = server - _time.GetUtcNow();
        }

        return answer;
    }

    /// <summary>Halves what is refused until only what can't be taken is left: that is counted, told and not sent again.</summary>
    private async Task<SendAnswer> SendInPartsAsync(string lines, SendAnswer refused, long before)
    {
        int middle = lines.IndexOf('\n', Math.Min(lines.Length / 2, Math.Max(0, lines.Length - 2))) + 1;
        if (middle <= 0 || middle >= lines.Length)
        {
            middle = lines.LastIndexOf('\n', Math.Max(0, lines.Length - 2)) + 1;
        }

        if (middle <= 0 || middle >= lines.Length)
        {
            _refused++;
            _lastRefused = $"{lines.TrimEnd('\n')}: {refused.Said}";
            MirrorLog.Refused(_options.Logger, _settings.Id, _lastRefused);
            return new SendAnswer(SendResult.Taken, "");
        }

        foreach (string part in (string[])[lines[..middle], lines[middle..]])
        {
            if (_refused - before > MostRefusedOfBatch)
            {
                return refused;
            }

            SendAnswer answer = await AskToTakeAsync(part);
            if (answer.Result == SendResult.Refused)
            {
                answer = await SendInPartsAsync(part, answer, before);
            }

            if (!answer.IsTaken)
            {
                return answer;
            }
        }

        return new SendAnswer(SendResult.Taken, "");
    }

    private void Took(int lines)
    {
        _taken += lines;
        _lastTakenUtc = NowUtc;
        _mostLines = Math.Min(MostLines, _mostLines + FewestLines);
        if (_failures > 0 || _trouble is not null)
        {
            MirrorLog.Recovered(_options.Logger, _settings.Id);
        }

        (_failures, _trouble, _remedy, _waitingSinceUtc, _wasFull) = (0, null, null, null, false);
    }

    private void Refuse(in SendAnswer answer)
    {
        if (answer.MayHaveForgotten)
        {
            long again = RewindAll();
            if (again > 0)
            {
                MirrorLog.Rewound(_options.Logger, _settings.Id, again);
            }
        }

        _wasFull |= answer.IsOfFullDisk;
        Hold(answer.Said.Length > 0 ? answer.Said : $"the server says {answer.Result}", RemedyFor(answer, _wasFull), answer.RetryAfter);
    }

    /// <summary>Waits before the next try: longer each time, up to a minute, and as long as the server asks.</summary>
    private TimeSpan Hold(string trouble, string remedy, TimeSpan? asked = null)
    {
        _failures++;
        double seconds = Math.Min(LongestWait.TotalSeconds, Math.Pow(2, Math.Min(_failures - 1, 10)));
#pragma warning disable CA5394 // spreads tries of several benches, keeps no secret
        var wait = TimeSpan.FromSeconds(seconds * (0.8 + (0.4 * Random.Shared.NextDouble())));
#pragma warning restore CA5394
        if (asked is { } longer && longer > wait)
        {
            wait = Least(longer, TimeSpan.FromMinutes(10));
        }

        _waitUntil = Elapsed + wait;
        _waitingSince = _waitingSinceUtc is null ? Elapsed : _waitingSince;
        _waitingSinceUtc ??= NowUtc;
        if (_trouble is null || !IsAlike(_trouble, trouble))
        {
            MirrorLog.Waiting(_options.Logger, _settings.Id, trouble, remedy);
        }

        (_trouble, _remedy) = (trouble, remedy);
        Tell();
        return Least(wait, NewestEvery);
    }

    /// <summary>Whether both say the same but for numbers: a server names the port of each request, and is not to be logged anew for it.</summary>
    private static bool IsAlike(string one, string other) => one.Where(c => !char.IsAsciiDigit(c)).SequenceEqual(other.Where(c => !char.IsAsciiDigit(c)));

    /// <summary>Holds one window of what was sent against what the server counts; sending goes on while the server thinks about it.</summary>
    private async Task CompareAsync()
    {
        if (_count is { } asked)
        {
            if (asked.Found.IsCompleted && IsStill(asked.Book))
            {
                _count = null;
                await TakeCountAsync(asked.Book, asked.Window, asked.Found);
            }

            return;
        }

        foreach (CountBook book in (CountBook[])[_counts, _olderCounts])
        {
            if (_settings.Counts == CountWay.None || !IsStill(book) || book.Due(Elapsed) is not { } window)
            {
                continue;
            }

            if (Outbox.Owes(new Stretch(window.After, window.Through)))
            {
                book.Later(window, Elapsed, window.IsSentAgain);
                continue;
            }

            _count = (book, window, ServerCounts.AskAsync(_way!.Server, _settings, Bench, window.FromUtcMilliseconds, window.ToUtcMilliseconds, _stop.Token));
            return;
        }
    }

    /// <summary>The cursor of older readings counts on another thread while it makes a batch.</summary>
    private bool IsStill(CountBook book) => book != _olderCounts || _prepared is not { IsCompleted: false };

    private async Task TakeCountAsync(CountBook book, CountedWindow window, Task<long?> found)
    {
        try
        {
            if (await found is { } count)
            {
                _countTrouble = null;
                Judge(book, window, count);
            }
        }
        catch (Exception exception) when (exception is HttpRequestException or FormatException || (exception is TaskCanceledException && !_stop.IsCancellationRequested))
        {
            _countTrouble = exception.Message;
            book.Later(window, Elapsed, window.IsSentAgain);
        }
    }

    private void Judge(CountBook book, CountedWindow window, long found)
    {
        if (found < window.Count && !window.IsSentAgain)
        {
            MirrorLog.Short(_options.Logger, _settings.Id, found, window.Count, Measurement.Time.UtcText.FromNanoseconds(window.FromUtcMilliseconds * 1_000_000));
            Outbox.Add(new Stretch(window.After, window.Through));
            book.Later(window, Elapsed, isSentAgain: true);
            return;
        }

        _compared += window.Count;
        _missing += Math.Max(0, window.Count - found);
        _doubled += Math.Max(0, found - window.Count);
        if (found < window.Count)
        {
            MirrorLog.StillShort(_options.Logger, _settings.Id, window.Count - found);
        }
        else if (found > window.Count && _doubled == found - window.Count)
        {
            MirrorLog.Doubles(_options.Logger, _settings.Id, found - window.Count);
        }

        book.Done(window);
    }

    private void Tell()
    {
        NoteLosses();
        (string? trouble, string? remedy) = _trouble is not null ? (_trouble, _remedy)
            : IsLosing ? Loss()
            : _doubled > 0 ? ($"the server holds {Count(_doubled, "reading")} more than once: what is sent again after an outage is doubled there", "let it keep one of each; the README of the mirror says how")
            : _clockAhead is { } ahead && ahead.Duration() > SkewLimit ? ($"the server's clock is {Math.Abs(ahead.TotalSeconds):0} s {(ahead > TimeSpan.Zero ? "ahead of" : "behind")} this one", "set both by the same time server")
            : ((string?)null, (string?)null);
        long open = _olderIsOpen && _loaded?.Next is { } last ? last.Through - last.After : 0; // no server can have them yet
        long older = (_loaded?.OlderInputs ?? 0) - open;
        _report = new MirrorReport
        {
            Settings = _settings,
            State = _waitingSinceUtc is not null ? MirrorState.Waiting : older > 0 || _behind > TimeSpan.FromSeconds(10) ? MirrorState.CatchingUp : MirrorState.Level,
            Trouble = trouble,
            Remedy = remedy,
            WaitingSinceUtc = _waitingSinceUtc,
            Taken = _taken,
            LastTakenUtc = _lastTakenUtc,
            Behind = _waitingSinceUtc is null ? _behind : Elapsed - _waitingSince + _behind,
            OlderInputs = older,
            IsBinOpen = _olderIsOpen || _newest.IsWaiting,
            Expired = Expired,
            Refused = _refused,
            LastRefused = _lastRefused,
            Compared = _compared,
            Missing = _missing,
            Doubled = _doubled,
            CountTrouble = _countTrouble,
            ClockAhead = _clockAhead,
        };
        SayHowItStands();
    }

    private static string Count(long number, string what) => string.Create(CultureInfo.InvariantCulture, $"{number} {what}{(number == 1 ? "" : "s")}");
}
