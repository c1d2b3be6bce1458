namespace DriftWatch.Web;

/// <summary>What the page and the API may be told from outside; every default is safe for one bench on one machine.</summary>
public sealed record WebSettings
{
    /// <summary>Host names, without port, that requests may carry besides the loopback names.</summary>
    public IReadOnlyList<string> AllowedHosts { get; init; } = [];

    /// <summary>
    /// File of the people and proxies that may come in from another machine; null lets in nobody from there. This machine itself
    /// needs no sign-in.
    /// </summary>
    public string? AccessFile { get; init; }

    /// <summary>
    /// Sampling, storing or judging older than this makes <c>/readyz</c> answer 503. Default 5 s, range 1 s and up;
    /// source: threshold table 'data age', advisory. A bench whose quickest channel is slower waits three of its periods.
    /// </summary>
    public TimeSpan StaleAfter { get; init; } = TimeSpan.FromSeconds(5);
}
