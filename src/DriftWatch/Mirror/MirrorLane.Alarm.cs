using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;

namespace DriftWatch.Mirror;

/// <summary>
/// Says that the mirror fails, and that it takes again, as inputs of the bench: so it is an alarm of the book as any other. What is said
/// already is asked of the engine and not remembered here, so that a restart or a changed bench file says nothing twice and forgets nothing.
/// </summary>
internal sealed partial class MirrorLane
{
    /// <summary>A server that has kept all it took for so long is mended, or told of nothing it could be held to. Source: common practice, no source.</summary>
    public static readonly TimeSpan KeptAgainAfter = TimeSpan.FromHours(1);

    /// <summary>What was said is judged by then, or was lost. Source: our own choice, many times the merge's lateness.</summary>
    private static readonly TimeSpan SaidAgainAfter = TimeSpan.FromMinutes(1);

    /// <summary>A server that is away for so long is told of by that. Source: our own choice, the longest wait between two tries.</summary>
    private static readonly TimeSpan OutageFrom = TimeSpan.FromMinutes(1);

    private (long Missing, long Refused, long Expired) _losses;
    private LossKind _loss;
    private TimeSpan? _lostAt;
    private long _leastOlder = long.MaxValue;
    private TimeSpan _leastOlderAt;
    private string? _said; // the last that this lane said; empty where all is well
    private TimeSpan _sayDue;

    private enum LossKind
    {
        /// <summary>It said yes to readings that it does not hold.</summary>
        LinesMissing,

        /// <summary>It refused lines by themselves.</summary>
        LinesRefused,

        /// <summary>The bench's own retention was faster than the server.</summary>
        LinesExpired,
    }

    private long Expired => _newest.Expired + _older.Expired;

    private bool IsLosing => _lostAt is { } lost && Elapsed - lost < KeptAgainAfter;

    /// <summary>What grew last is what is told.</summary>
    private void NoteLosses()
    {
        (long missing, long refused, long expired) = _losses;
        LossKind? grown = _missing > missing ? LossKind.LinesMissing : _refused > refused ? LossKind.LinesRefused : Expired > expired ? LossKind.LinesExpired : null;
        _losses = (_missing, _refused, Expired);
        (_loss, _lostAt) = grown is { } kind ? (kind, Elapsed) : (_loss, _lostAt);
    }

    private (string What, string Remedy) Loss() => _loss switch
    {
        LossKind.LinesMissing => ($"the server said yes to {Count(_missing, "reading")} that it does not hold, though sent twice", "look at the server's own log, and whether it keeps as far back as it is sent (past = false sends no past); they are kept here, and driftwatch export has them"),
        LossKind.LinesRefused => ($"the server refused {Count(_refused, "line")}; the newest: {_lastRefused}", "look at what the server keeps under these names; they are kept here"),
        _ => ($"{Count(Expired, "input")} were dropped by the bench's own retention before the server had them", "keep raw readings longer ([retention]), or give the server a faster line"),
    };

    /// <summary>Older inputs become no fewer for as long as the mirror may be behind: the server, or the line to it, is slower than the bench.</summary>
    private bool IsTooSlow(long older)
    {
        bool isAway = _waitingSinceUtc is not null && Elapsed - _waitingSince > OutageFrom;
        if (older == 0 || older < _leastOlder || isAway)
        {
            (_leastOlder, _leastOlderAt) = (isAway ? long.MaxValue : older, Elapsed); // after an outage it has its time to catch up
        }

        return older > 0 && Elapsed - _leastOlderAt > _settings.TellAfter;
    }

    private void SayHowItStands()
    {
        bool isBehind = _report.Behind > _settings.TellAfter;
        bool isTooSlow = IsTooSlow(_report.OlderInputs);
        string trouble = isBehind || isTooSlow ? "behind" : IsLosing ? Slugs.Of(_loss) : "";
        string? said = _options.SaidTrouble(_settings.Id);
        bool isKnown = trouble.Length > 0 || (_waitingSinceUtc is null && _lastTakenUtc is not null); // a server that has not answered this process is not well yet
        if (trouble == (said ?? "") || !isKnown)
        {
            return;
        }

        if (trouble != _said || Elapsed >= _sayDue)
        {
            (_said, _sayDue) = (trouble, Elapsed + SaidAgainAfter);
            _options.Say(trouble.Length == 0 ? Takes(_settings.Id, _report.OlderInputs, _time) : Fails(trouble, isBehind));
        }
    }

    /// <param name="mirror">The mirror's id.</param>
    /// <param name="older">Older inputs still to be sent; null where it is a mirror no more.</param>
    /// <param name="time">For the id.</param>
    public static MirrorTakesCommand Takes(string mirror, long? older, TimeProvider time) => new()
    {
        Id = Guid.CreateVersion7(time.GetUtcNow()),
        By = Command.TheService,
        Identity = Command.IdentityOfTheService,
        Mirror = mirror,
        Older = older,
    };

    private string Why => _report.Trouble is { } trouble ? $": {trouble.TrimEnd('.')}" : "";

    private MirrorFailsCommand Fails(string trouble, bool isBehind)
    {
        bool isLate = trouble == "behind";
        TimeSpan since = isBehind ? _report.Behind : Elapsed - _leastOlderAt;
        (string what, string? remedy) = !isLate ? Loss()
            : isBehind ? ($"it has been behind for {since.TotalMinutes:0} min{Why}", _report.Remedy)
            : ($"it takes less than the bench makes: {Count(_report.OlderInputs, "older input")} wait, and were fewer {since.TotalMinutes:0} min ago{Why}", _report.Remedy ?? "give it a faster line or server, or let it have means (detail = \"minute\")");
        return new MirrorFailsCommand
        {
            Id = Guid.CreateVersion7(_time.GetUtcNow()),
            By = Command.TheService,
            Identity = Command.IdentityOfTheService,
            Mirror = _settings.Id,
            For = isLate ? since : TimeSpan.Zero,
            May = isLate ? _settings.TellAfter : null,
            Trouble = trouble,
            Text = remedy is null ? what : $"{what}. Remedy: {remedy}",
        };
    }
}
