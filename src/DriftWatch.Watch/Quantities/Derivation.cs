using DriftWatch.Measurement.Baselines;
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

    /// <summary>The present means became the baseline: by a person, or provisionally by the machine itself.</summary>
    public virtual void OnBaseline(BaselineStanding standing)
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

    /// <summary>An output gets its value, or that it can't be told now.</summary>
    /// <param name="context">Of now.</param>
    /// <param name="output">Null where the bench does without it.</param>
    /// <param name="value">In its unit.</param>
    /// <param name="standardUncertainty">Of the value, where that is known.</param>
    protected static void Give(WatchContext context, ChannelWatch? output, double? value, double? standardUncertainty = null)
    {
        if (value is { } told)
        {
            output?.OnDerived(context, told, standardUncertainty);
        }
        else
        {
            output?.Untold(context);
        }
    }

    public virtual void Sync(StateArchive archive, FindingDesk desk)
    {
    }
}
