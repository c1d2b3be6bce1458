namespace DriftWatch.Notices.Routes;

/// <summary>What became of a try.</summary>
/// <param name="Done">Whether the far end took it; for a check, whether it would.</param>
/// <param name="Said">What it said, or what went wrong, in one line.</param>
internal sealed record RouteAnswer(bool Done, string Said)
{
    /// <summary>What to do about it; null where nothing is to be done or nothing is known to help.</summary>
    public string? Remedy { get; init; }

    /// <summary>How long the far end asks us to wait.</summary>
    public TimeSpan? RetryAfter { get; init; }

    /// <summary>Whether it is this very notice that the far end never takes.</summary>
    public bool Refused { get; init; }
}

/// <summary>
/// One way out. It tries once and says what happened: when to try again, in which order and how often is not its
/// business. One call at a time.
/// </summary>
internal interface INoticeRoute : IAsyncDisposable
{
    /// <summary>May throw: what an exception means is told by <see cref="RouteWords"/>.</summary>
    Task<RouteAnswer> SendAsync(AlarmNotice notice, int tries, CancellationToken cancel);

    /// <summary>Goes as far as it can without telling anybody anything.</summary>
    Task<RouteAnswer> CheckAsync(CancellationToken cancel);
}
