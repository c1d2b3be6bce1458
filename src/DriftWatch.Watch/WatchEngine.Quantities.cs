using DriftWatch.Watch.Quantities;

namespace DriftWatch.Watch;

public sealed partial class WatchEngine
{
    /// <summary>The derived quantities at the newest instant that was judged, in the bench's order.</summary>
    public IReadOnlyList<QuantityNow> Quantities =>
        [.. _context.Quantities.All.Select(q => new QuantityNow(q.Definition.Id, q.IsFresh(_context.Now) ? q.LastValue : null))];
}
