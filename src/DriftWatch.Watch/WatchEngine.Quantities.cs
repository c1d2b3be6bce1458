using DriftWatch.Watch.Quantities;
using DriftWatch.Watch.Roles;

namespace DriftWatch.Watch;

public sealed partial class WatchEngine
{
    /// <summary>The derived quantities at the newest instant that was judged, in the bench's order.</summary>
    public IReadOnlyList<QuantityNow> Quantities =>
        [.. _context.Quantities.All.Select(q => new QuantityNow(q.Definition.Id, q.IsFresh(_context.Now) ? q.LastValue : null))];

    /// <summary>The same into a list that is used again, for who asks at every tick of a long log.</summary>
    public void ReadQuantities(List<QuantityNow> into)
    {
        into.Clear();
        foreach (ChannelWatch quantity in _context.Quantities.All)
        {
            into.Add(new QuantityNow(quantity.Definition.Id, quantity.IsFresh(_context.Now) ? quantity.LastValue : null));
        }
    }
}
