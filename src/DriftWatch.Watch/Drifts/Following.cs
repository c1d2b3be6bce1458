using DriftWatch.Measurement.Channels;
using DriftWatch.Watch.Roles;

namespace DriftWatch.Watch.Drifts;

/// <summary>
/// What a channel does only because another one moves: the regulated air rides on its supply's sawtooth. Taken out of a window before
/// the line is laid, a knob that was touched stands out of what is left, and a drift is sure sooner.
/// </summary>
/// <param name="Memory">Of the channel that is followed.</param>
/// <param name="Share">By how much the follower moves, in its unit, for each unit of the other.</param>
internal readonly record struct Following(DriftMemory Memory, double Share)
{
    /// <summary>What this channel follows by its physics and as it was measured here; null where nothing is known.</summary>
    public static Following? Of(ChannelWatch channel, WatchContext context) =>
        channel is { IsPressure: true, Definition.Role: ChannelRole.RegulatedAir }
        && context.Quantities.Of(QuantityKind.RegulatorEffect) is { } effect && effect.IsFresh(context.Now)
        && context.Roles.Fresh(ChannelRole.SupplyAir, context.Now) is { IsPressure: true, Drift: { } drift } supply
            ? new Following(drift.Memory, effect.LastValue / 100 * supply.PsiPerUnit / channel.PsiPerUnit)
            : null;
}
