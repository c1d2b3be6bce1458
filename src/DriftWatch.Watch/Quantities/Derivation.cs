using DriftWatch.Measurement.Samples;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Quantities;

/// <summary>
/// Works out one or more quantities from channels. It finds its channels by role in the context and its outputs on the
/// board, each time anew, so that a reload needs no wiring; fields are for what must be remembered, and each is named in
/// <see cref="Sync"/>. An output that can't be told now is given <see cref="ChannelWatch.Untold"/>, never its last value.
/// </summary>
internal abstract class Derivation
{
    /// <summary>Every 100 ms of event time, before limits are judged.</summary>
    public virtual void OnTick(WatchContext context, QuantityBoard board)
    {
    }

    /// <summary>A frame of this channel has come, of the length its axis declares.</summary>
    public virtual void OnFrame(WatchContext context, QuantityBoard board, ChannelWatch channel, Frame frame)
    {
    }

    /// <summary>Nobody watched before this instant.</summary>
    public virtual void BeginWatching()
    {
    }

    /// <summary>The bench has no use for it any more, or its outputs are gone.</summary>
    public virtual void OutOfService(WatchContext context)
    {
    }

    public virtual void Sync(StateArchive archive, FindingDesk desk)
    {
    }
}
