using DriftWatch.Measurement.Channels;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Quantities;

/// <summary>
/// How restless the regulated air and the guide vacuum are: the standard deviation that their changes from one second to
/// the next amount to, by the median of the last half minute's. Water in the air shows in it first. A sag, a step, a hand
/// at the knob is over in less than half of that and does not count; a slow drift and the supply's sawtooth do not either.
/// </summary>
internal sealed class UnrestQuantities : Derivation
{
    private readonly Unrest _air = new();
    private readonly Unrest _vacuum = new();

    public override void OnTick(WatchContext context, QuantityBoard board)
    {
        ChannelWatch? air = context.Roles.Fresh(ChannelRole.RegulatedAir, context.Now);
        _air.Give(context, board.Of(QuantityKind.RegulatedUnrest), air is { IsPressure: true } ? air.LastValue * air.PsiPerUnit : null);

        ChannelWatch? vacuum = context.Roles.Fresh(ChannelRole.GuideVacuum, context.Now);
        bool held = context.Machine.State is MachineState.Running or MachineState.Locked;
        _vacuum.Give(context, board.Of(QuantityKind.VacuumUnrest), held && vacuum is { IsPressure: true } ? vacuum.LastValue * vacuum.PsiPerUnit / States.EvidenceReader.PsiPerInH2O : null);
    }

    public override void BeginWatching()
    {
        _air.Forget();
        _vacuum.Forget();
    }

    public override void Sync(StateArchive archive, FindingDesk desk)
    {
        _air.Sync(archive);
        _vacuum.Sync(archive);
    }

    /// <summary>One quantity's memory: the last second's ticks, and the last half minute's changes over a second.</summary>
    private sealed class Unrest
    {
        // Median of |x₂ − x₁| of independent normal readings is 0.6745·√2·σ. Source: derived, the quartile of the normal distribution.
        private const double SigmaPerMedian = 1.048358;

        private readonly double[] _second = new double[HalfMinute.TicksASecond];
        private readonly HalfMinute _changes = new();
        private int _ticks;
        private double _unrest;

        public void Give(WatchContext context, ChannelWatch? output, double? value)
        {
            if (value is not { } now)
            {
                Forget();
                output?.Untold(context);
                return;
            }

            int place = _ticks % HalfMinute.TicksASecond;
            double before = _second[place];
            _second[place] = now;
            if (_ticks >= HalfMinute.TicksASecond && _changes.Add(Math.Abs(now - before)))
            {
                _unrest = SigmaPerMedian * _changes.Median;
            }

            _ticks = _ticks + 1 < 2 * HalfMinute.TicksASecond ? _ticks + 1 : HalfMinute.TicksASecond; // stays at a second and more

            if (_changes.IsFull)
            {
                output?.OnDerived(context, _unrest);
            }
        }

        public void Forget()
        {
            _ticks = 0;
            _changes.Forget();
        }

        public void Sync(StateArchive archive)
        {
            archive.Sync(ref _ticks);
            archive.Sync(ref _unrest);
            for (int i = 0; i < _second.Length; i++)
            {
                archive.Sync(ref _second[i]);
            }

            _changes.Sync(archive);
        }
    }
}
