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

    /// <summary>One channel's half minute and the depth of its dips.</summary>
    private sealed class Dips(bool bothWays)
    {
        private const int Tenth = HalfMinute.Ticks / 10;

        private readonly HalfMinute _recent = new();
        private double _depth;

        public void Give(WatchContext context, ChannelWatch? output, double? value)
        {
            if (value is not { } now)
            {
                Forget();
                output?.Untold(context);
                return;
            }

            if (_recent.Add(now))
            {
                double below = _recent.Median - _recent.Sorted[Tenth - 1];
                _depth = bothWays ? Math.Max(below, _recent.Sorted[^Tenth] - _recent.Median) : below;
            }

            if (_recent.IsFull)
            {
                output?.OnDerived(context, _depth);
            }
        }

        public void Forget() => _recent.Forget();

        public void Sync(StateArchive archive)
        {
            _recent.Sync(archive);
            archive.Sync(ref _depth);
        }
    }
}
