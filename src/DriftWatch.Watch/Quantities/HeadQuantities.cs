using DriftWatch.Analysis.RfHeads;
using DriftWatch.Measurement.Channels;
using DriftWatch.Watch.Roles;

namespace DriftWatch.Watch.Quantities;

/// <summary>
/// The heads beside each other, by <see cref="HeadLevels"/>: the median level (one clogged head of four hardly moves it),
/// each head over the median of the others, and the spread. With two heads the median is their mean and neither can be
/// told to be the odd one.
/// </summary>
internal sealed class HeadQuantities : Derivation
{
    public override void OnTick(WatchContext context, QuantityBoard board)
    {
        FourHeads levels = default;
        if (context.Machine.State is MachineState.Running or MachineState.Locked or MachineState.Unknown)
        {
            foreach (ChannelWatch channel in context.Roles.Of(ChannelRole.RfLevel))
            {
                if (channel.Definition.Head is { } head && channel.IsFresh(context.Now))
                {
                    levels = levels.With(head, channel.LastValue);
                }
            }
        }

        HeadPicture? all = levels.Known >= 2 ? HeadLevels.Of(levels).Value : null;
        Give(context, board.Of(QuantityKind.RfCommon), all?.CommonDb);
        Give(context, board.Of(QuantityKind.RfSpread), all?.SpreadDb);
        for (int head = 1; head <= FourHeads.Count; head++)
        {
            if (board.Of(QuantityKind.RfDifference, head) is { } output)
            {
                Give(context, output, levels.Known >= 3 && levels[head] is { } level ? level - HeadLevels.Of(levels.With(head, null)).Value.CommonDb : null);
            }
        }
    }
}
