using System.Net;
using System.Threading.RateLimiting;

namespace DriftWatch.Web.Access;

/// <summary>Says refusals often enough to be seen, and not so often that somebody fills the log by them: ten of an address, and then ten a minute (common practice, no source).</summary>
internal sealed class RefusalLimit : IDisposable
{
    private readonly PartitionedRateLimiter<IPAddress?> _limit = Rates.Attempts();

    public bool MaySay(IPAddress? from)
    {
        using RateLimitLease lease = _limit.AttemptAcquire(from);
        return lease.IsAcquired;
    }

    public void Dispose() => _limit.Dispose();
}
