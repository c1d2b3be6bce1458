using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Quantities;

/// <summary>
/// The derived quantities of the bench in force and what works them out. A quantity is judged by the same
/// <see cref="ChannelWatch"/> as a channel: limits, baseline, drift, snapshots. Only silence is not judged twice: that
/// of its channels is said already.
/// </summary>
internal sealed class QuantityBoard
{
    private readonly Derivation[] _derivations =
    [
        new VacuumQuantities(),
        new HeadQuantities(),
        new ShedWatch(), // after the common level it follows
        new TimingQuantities(),
        new AirQuantities(),
        new UnrestQuantities(),
        new DipQuantities(),
    ];

    private static readonly TimeSpan Tick = TimeSpan.FromMilliseconds(100);

    private ChannelWatch?[][] _byKind = [];

    /// <summary>In the bench's order.</summary>
    public ChannelWatch[] All { get; private set; } = [];

    /// <summary>The quantity of this kind (and head), or null where the bench has none.</summary>
    public ChannelWatch? Of(QuantityKind kind, int head = 0) =>
        (uint)kind < (uint)_byKind.Length ? _byKind[(int)kind][head] : null;

    /// <summary>Seats the bench's quantities. Those that are the same but for words keep all they know.</summary>
    public void Seat(WatchContext context, IReadOnlyList<QuantityDefinition> quantities)
    {
        ChannelWatch[] former = All;
        var seated = new List<ChannelWatch>(quantities.Count);
        foreach (QuantityDefinition quantity in quantities)
        {
            ChannelDefinition definition = quantity.AsChannel(Tick);
            ChannelWatch? same = Array.Find(former, f => f.Quantity!.Kind == quantity.Kind && f.Quantity.Head == quantity.Head && IsSame(f.Quantity, quantity));
            if (same is null)
            {
                same = new ChannelWatch(definition, quantity);
                same.BeginWatching(context.Now);
            }
            else
            {
                same.Definition = definition;
                same.Quantity = quantity;
            }

            seated.Add(same);
        }

        foreach (ChannelWatch gone in former.Except(seated))
        {
            gone.OutOfService(context);
        }

        All = [.. seated];
        _byKind = [.. Enum.GetValues<QuantityKind>().Select(kind =>
            Enumerable.Range(0, 5).Select(head => Array.Find(All, q => q.Quantity!.Kind == kind && (q.Quantity.Head ?? 0) == head)).ToArray())];
    }

    public void OnTick(WatchContext context)
    {
        if (All.Length == 0)
        {
            return;
        }

        foreach (Derivation derivation in _derivations)
        {
            derivation.OnTick(context, this);
        }

        foreach (ChannelWatch quantity in All)
        {
            quantity.OnTick(context);
        }
    }

    public void OnFrame(WatchContext context, ChannelWatch channel, Frame frame)
    {
        if (All.Length == 0)
        {
            return;
        }

        foreach (Derivation derivation in _derivations)
        {
            derivation.OnFrame(context, this, channel, frame);
        }
    }

    public void BeginWatching(EngineTime now)
    {
        foreach (ChannelWatch quantity in All)
        {
            quantity.BeginWatching(now);
        }

        foreach (Derivation derivation in _derivations)
        {
            derivation.BeginWatching();
        }
    }

    public void OnBaseline(BaselineStanding standing)
    {
        foreach (Derivation derivation in _derivations)
        {
            derivation.OnBaseline(standing);
        }
    }

    public void OutOfService(WatchContext context)
    {
        foreach (Derivation derivation in _derivations)
        {
            derivation.OutOfService(context);
        }
    }

    public void Sync(StateArchive archive, FindingDesk desk)
    {
        foreach (ChannelWatch quantity in All)
        {
            quantity.Sync(archive, desk);
        }

        foreach (Derivation derivation in _derivations)
        {
            derivation.Sync(archive, desk);
        }
    }

    /// <summary>Equal in all but words. Records compare lists by reference, so limits are compared one by one.</summary>
    private static bool IsSame(QuantityDefinition left, QuantityDefinition right) =>
        left.Id == right.Id && left.Unit == right.Unit && left.ReceiverLitres == right.ReceiverLitres && left.Limits.Count == right.Limits.Count
        && left.Limits.Zip(right.Limits).All(p => p.First with { JudgedIn = [] } == p.Second with { JudgedIn = p.First.JudgedIn.SequenceEqual(p.Second.JudgedIn) ? [] : p.Second.JudgedIn });
}
