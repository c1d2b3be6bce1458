using DriftWatch.Measurement.Channels;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Quantities;

/// <summary>
/// How restless the regulated air and the guide vacuum are: the standard deviation that their changes from one second to
/// the next amount to, over the last half minute. Water in the air shows in it first. A step, as of a hand at the knob or
/// of air that is turned up, is one change of thirty and counts as no more than the tolerance; a slow drift and the
/// supply's sawtooth do not count at all.
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

    /// <summary>One quantity's memory: the last ten ticks, and the fading mean of the changes over them.</summary>
    private sealed class Unrest
    {
        private const int TicksASecond = 10;
        private const int TicksRemembered = 300;

        // E|x₂ − x₁| of independent normal readings is 2σ/√π.
        private const double SigmaPerChange = 0.886226925452758;

        // A greater change is a step. Source: common practice, no source (the tolerance of ±1 psi; of vacuum, a tenth of what is usual).
        private const double GreatestChange = 1;

        private readonly double[] _recent = new double[TicksASecond];
        private int _ticks;
        private double _meanChange;

        public void Give(WatchContext context, ChannelWatch? output, double? value)
        {
            if (value is not { } now)
            {
                Forget();
                output?.Untold(context);
                return;
            }

            int place = _ticks % TicksASecond;
            if (_ticks >= TicksASecond)
            {
                double share = Math.Max(1.0 / TicksRemembered, 1.0 / (_ticks - TicksASecond + 1)); // a plain mean until there is enough to forget
                _meanChange += share * (Math.Min(Math.Abs(now - _recent[place]), GreatestChange) - _meanChange);
            }

            _recent[place] = now;
            _ticks = _ticks + 1 < 2 * TicksRemembered ? _ticks + 1 : _ticks + 1 - TicksRemembered; // both are multiples of a second
            if (_ticks >= TicksRemembered)
            {
                output?.OnDerived(context, SigmaPerChange * _meanChange);
            }
        }

        public void Forget()
        {
            _ticks = 0;
            _meanChange = 0;
        }

        public void Sync(StateArchive archive)
        {
            archive.Sync(ref _ticks);
            archive.Sync(ref _meanChange);
            for (int i = 0; i < _recent.Length; i++)
            {
                archive.Sync(ref _recent[i]);
            }
        }
    }
}
