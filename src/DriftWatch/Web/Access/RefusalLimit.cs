using System.Net;
using System.Threading.RateLimiting;

namespace DriftWatch.Web.Access;

/// <summary>Says refusals often enough to be seen, and not so often that somebody fills the log by them: ten of an address, and then ten a minute (common practice, no source).</summary>
internal sealed class RefusalLimit : IDisposable
{
    private readonly Lazy<PartitionedRateLimiter<IPAddress?>> _limit = new(Rates.Attempts);

    /// <summary>Counts one.</summary>
    public bool MaySay(IPAddress? from)
    {
        using RateLimitLease lease = _limit.Value.AttemptAcquire(from);
        return lease.IsAcquired;
    }

    public void Dispose()
    {
        if (_limit.IsValueCreated)
        {
            _limit.Value.Dispose();
        }
    }
}
