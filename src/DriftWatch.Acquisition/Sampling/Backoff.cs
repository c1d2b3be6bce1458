namespace DriftWatch.Acquisition.Sampling;

/// <summary>
/// Waits between tries: the first 0.25 s, each twice the one before up to a cap, every one spread by ±20 % so that
/// lines which went down together do not come back in step. Never gives up. Source: common practice, no source; the
/// cap of 1.5 s lets an instrument that returns be read within 2 s.
/// </summary>
public sealed class Backoff
{
    public static readonly TimeSpan First = TimeSpan.FromMilliseconds(250);
    public static readonly TimeSpan LocalCap = TimeSpan.FromMilliseconds(1500);
    public static readonly TimeSpan NetworkCap = TimeSpan.FromSeconds(30);
    private const double Spread = 0.2;

    private readonly TimeSpan _cap;
    private readonly Random _random;
    private TimeSpan _next = First;

    /// <param name="cap">No wait is longer, jitter included.</param>
    /// <param name="seed">The same seed gives the same waits.</param>
    public Backoff(TimeSpan cap, int seed)
    {
        _cap = cap;
#pragma warning disable CA5394 // Jitter is no secret.
        _random = new Random(seed);
#pragma warning restore CA5394
    }

    public static Backoff For(bool isLocal, string name) =>
        new(isLocal ? LocalCap : NetworkCap, unchecked((int)System.IO.Hashing.XxHash32.HashToUInt32(System.Text.Encoding.UTF8.GetBytes(name))));

    /// <summary>The wait before the next try.</summary>
    public TimeSpan Next()
    {
#pragma warning disable CA5394
        double jitter = 1 + (Spread * ((2 * _random.NextDouble()) - 1));
#pragma warning restore CA5394
        TimeSpan wait = _next * jitter;
        _next = _next * 2 < _cap ? _next * 2 : _cap;
        return wait < _cap ? wait : _cap;
    }

    /// <summary>Only for a valid reading: a port that opens and stays mute is still down.</summary>
    public void Reset() => _next = First;
}
