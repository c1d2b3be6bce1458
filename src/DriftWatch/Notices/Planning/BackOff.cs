namespace DriftWatch.Notices.Planning;

/// <summary>How long to wait after a failed try: doubling, with a cap, and jittered so that many benches don't knock together.</summary>
internal static class BackOff
{
    /// <summary>Source for all three: common practice, no source.</summary>
    public static readonly TimeSpan First = TimeSpan.FromSeconds(2);
    public static readonly TimeSpan Cap = TimeSpan.FromMinutes(5);

    /// <summary>The longest that a far end may ask us to wait.</summary>
    public static readonly TimeSpan LongestAsked = TimeSpan.FromMinutes(15);

    /// <param name="failures">Failed tries in a row, 1 or more.</param>
    /// <param name="jitter">0 to 1: takes up to half of the wait away.</param>
    /// <param name="asked">What the far end asked for; the longer of the two is waited.</param>
    public static TimeSpan After(int failures, double jitter, TimeSpan? asked = null)
    {
        TimeSpan wait = First * Math.Pow(2, Math.Min(failures - 1, 20));
        wait = (wait < Cap ? wait : Cap) * (1 - (0.5 * Math.Clamp(jitter, 0, 1)));
        TimeSpan wanted = asked is { } ask && ask < LongestAsked ? ask : asked is null ? TimeSpan.Zero : LongestAsked;
        return wanted > wait ? wanted : wait;
    }
}
