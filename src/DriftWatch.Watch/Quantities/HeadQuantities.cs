using DriftWatch.Measurement.Channels;
using DriftWatch.Watch.Roles;

namespace DriftWatch.Watch.Quantities;

/// <summary>
/// The heads beside each other: the median level (one clogged head of four hardly moves it), each head over the median
/// of the others, and the spread. With two heads the median is their mean and neither can be told to be the odd one.
/// </summary>
internal sealed class HeadQuantities : Derivation
{
    private readonly double[] _levels = new double[4];
    private readonly int[] _heads = new int[4];
    private readonly double[] _sorted = new double[4];

    public override void OnTick(WatchContext context, QuantityBoard board)
    {
        int n = 0;
        bool runs = context.Machine.State is MachineState.Running or MachineState.Locked or MachineState.Unknown;
        foreach (ChannelWatch head in context.Roles.Of(ChannelRole.RfLevel))
        {
            if (runs && n < 4 && head.IsFresh(context.Now))
            {
                _levels[n] = head.LastValue;
                _heads[n++] = head.Definition.Head ?? 0;
            }
        }

        Give(context, board.Of(QuantityKind.RfCommon), n >= 2 ? MedianWithout(n, -1) : null);
        Give(context, board.Of(QuantityKind.RfSpread), n >= 2 ? Spread(n) : null);
        for (int head = 1; head <= 4; head++)
        {
            if (board.Of(QuantityKind.RfDifference, head) is { } output)
            {
                int place = Array.IndexOf(_heads, head, 0, n);
                Give(context, output, place >= 0 && n >= 3 ? _levels[place] - MedianWithout(n, place) : null);
            }
        }
    }

    private double MedianWithout(int n, int place)
    {
        int m = 0;
        for (int i = 0; i < n; i++)
        {
            if (i != place)
            {
                _sorted[m++] = _levels[i];
            }
        }

        Array.Sort(_sorted, 0, m);
        return m % 2 == 1 ? _sorted[m / 2] : 0.5 * (_sorted[(m / 2) - 1] + _sorted[m / 2]);
    }

    private double Spread(int n)
    {
        double least = _levels[0];
        double greatest = _levels[0];
        for (int i = 1; i < n; i++)
        {
            least = Math.Min(least, _levels[i]);
            greatest = Math.Max(greatest, _levels[i]);
        }

        return greatest - least;
    }
}
