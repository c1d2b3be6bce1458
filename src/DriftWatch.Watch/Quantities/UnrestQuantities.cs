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

    /// <summary>One quantity's memory: the last second's ticks, and the last half minute's changes over a second; looked through once a second.</summary>
    private sealed class Unrest
    {
        private const int TicksASecond = 10;
        private const int TicksRemembered = 300;

        // Median of |x₂ − x₁| of independent normal readings is 0.6745·√2·σ. Source: derived, the quartile of the normal distribution.
        private const double SigmaPerMedian = 1.048358;

        private readonly double[] _second = new double[TicksASecond];
        private readonly double[] _changes = new double[TicksRemembered];
        private readonly double[] _sorted = new double[TicksRemembered];
        private int _ticks;
        private double _unrest;

        public void Give(WatchContext context, ChannelWatch? output, double? value)
        {
            if (output is null)
            {
                return;
            }

            if (value is not { } now)
            {
                Forget();
                output.Untold(context);
                return;
            }

            if (_ticks >= TicksASecond)
            {
                _changes[_ticks % TicksRemembered] = Math.Abs(now - _second[_ticks % TicksASecond]);
            }

            _second[_ticks % TicksASecond] = now;
            _ticks = _ticks + 1 < 3 * TicksRemembered ? _ticks + 1 : _ticks + 1 - TicksRemembered; // multiples of a second and of the memory
            if (_ticks < TicksRemembered + TicksASecond)
            {
                return;
            }

            if (_ticks % TicksASecond == 0)
            {
                _changes.CopyTo(_sorted, 0);
                Array.Sort(_sorted);
                _unrest = SigmaPerMedian * 0.5 * (_sorted[(TicksRemembered / 2) - 1] + _sorted[TicksRemembered / 2]);
            }

            output.OnDerived(context, _unrest);
        }

        public void Forget() => _ticks = 0;

        public void Sync(StateArchive archive)
        {
            archive.Sync(ref _ticks);
            archive.Sync(ref _unrest);
            for (int i = 0; i < _second.Length; i++)
            {
                archive.Sync(ref _second[i]);
            }

            for (int i = 0; i < _changes.Length; i++)
            {
                archive.Sync(ref _changes[i]);
            }
        }
    }
}
