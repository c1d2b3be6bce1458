using DriftWatch.Measurement.Channels;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Quantities;

/// <summary>
/// How deep the control track and the RF's tilt dip while their usual level stands: the distance from the median of half
/// a minute to its outermost tenth. A bent or curled edge comes by once in a turn of the reel and dips for a fraction of
/// it, too short for the delays of the levels' own limits and too seldom for their means. A splice or a dropout of less
/// than three seconds is no tenth of half a minute and does not show.
/// </summary>
internal sealed class DipQuantities : Derivation
{
    private readonly Dips _controlTrack = new(bothWays: false);
    private readonly Dips _tilt = new(bothWays: true);

    public override void OnTick(WatchContext context, QuantityBoard board)
    {
        bool read = context.Machine.State is MachineState.Running or MachineState.Locked && !context.Machine.IsSettling;
        _controlTrack.Give(context, board.Of(QuantityKind.ControlTrackDips), read ? context.Roles.Fresh(ChannelRole.ControlTrack, context.Now)?.LastValue : null);
        _tilt.Give(context, board.Of(QuantityKind.RfTiltDips), read ? context.Roles.Fresh(ChannelRole.RfTilt, context.Now)?.LastValue : null);
    }

    public override void BeginWatching()
    {
        _controlTrack.Forget();
        _tilt.Forget();
    }

    public override void Sync(StateArchive archive, FindingDesk desk)
    {
        _controlTrack.Sync(archive);
        _tilt.Sync(archive);
    }

    /// <summary>The last half minute of one channel, by ticks; looked through once a second.</summary>
    private sealed class Dips(bool bothWays)
    {
        private const int TicksASecond = 10;
        private const int TicksRemembered = 300;
        private const int Tenth = TicksRemembered / 10;

        private readonly double[] _recent = new double[TicksRemembered];
        private readonly double[] _sorted = new double[TicksRemembered];
        private int _ticks;
        private double _depth;

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

            _recent[_ticks % TicksRemembered] = now;
            _ticks = _ticks + 1 < 2 * TicksRemembered ? _ticks + 1 : _ticks + 1 - TicksRemembered;
            if (_ticks < TicksRemembered)
            {
                return;
            }

            if (_ticks % TicksASecond == 0)
            {
                _recent.CopyTo(_sorted, 0);
                Array.Sort(_sorted);
                double median = 0.5 * (_sorted[(TicksRemembered / 2) - 1] + _sorted[TicksRemembered / 2]);
                double below = median - _sorted[Tenth - 1];
                _depth = bothWays ? Math.Max(below, _sorted[TicksRemembered - Tenth] - median) : below;
            }

            output.OnDerived(context, _depth);
        }

        public void Forget() => _ticks = 0;

        public void Sync(StateArchive archive)
        {
            archive.Sync(ref _ticks);
            archive.Sync(ref _depth);
            for (int i = 0; i < _recent.Length; i++)
            {
                archive.Sync(ref _recent[i]);
            }
        }
    }
}
