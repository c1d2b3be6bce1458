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

    private long _lost;
    private TimeSpan _lostAt;
    private bool? _saidWell; // the last that this lane said
    private TimeSpan _sayDue;

    private void SayHowItStands()
    {
        if (_missing + _refused > _lost)
        {
            (_lost, _lostAt) = (_missing + _refused, Elapsed);
        }

        bool isBehind = _report.Behind > _settings.TellAfter;
        bool loses = _lost > 0 && Elapsed - _lostAt < KeptAgainAfter;
        bool isWell = !isBehind && !loses && _waitingSinceUtc is null && _lastTakenUtc is not null; // the server has answered this process
        bool isSaid = _options.IsSaidToFail(_settings.Id);
        if (isSaid ? !isWell : !isBehind && !loses)
        {
            return;
        }

        if (isSaid != _saidWell || Elapsed >= _sayDue)
        {
            (_saidWell, _sayDue) = (isSaid, Elapsed + SaidAgainAfter);
            _options.Say(isSaid ? Takes(_settings.Id, _report.OlderInputs, _time) : Fails(isBehind));
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

    private MirrorFailsCommand Fails(bool isBehind) => new()
    {
        Id = Guid.CreateVersion7(_time.GetUtcNow()),
        By = Command.TheService,
        Identity = Command.IdentityOfTheService,
        Mirror = _settings.Id,
        For = isBehind ? _report.Behind : TimeSpan.Zero,
        May = isBehind ? _settings.TellAfter : null,
        Trouble = isBehind ? "behind" : _missing > 0 ? "lines-missing" : "lines-refused",
        Text = isBehind
            ? $"it has been behind for {_report.Behind.TotalMinutes:0} min{(_report.Trouble is { } why ? $": {why.TrimEnd('.')}" : "")}{(_report.Remedy is { } remedy ? $". Remedy: {remedy}" : "")}"
            : $"{_report.Trouble?.TrimEnd('.')}. Remedy: {_report.Remedy}",
    };
}
