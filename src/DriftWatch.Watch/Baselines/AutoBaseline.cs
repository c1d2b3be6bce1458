using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;

namespace DriftWatch.Watch.Baselines;

/// <summary>
/// Takes a provisional baseline once a pass, when the tape has run long enough for 30 s of settled readings and no
/// person has taken one: so that a head that clogs is found even where nobody thought of a baseline. It never replaces
/// a person's, and it is dropped with the tape.
/// </summary>
internal sealed class AutoBaseline
{
    private static readonly TimeSpan Needs = TimeSpan.FromSeconds(SecondMeans.Span);

    private bool _taken;

    public void NewPass(IEnumerable<ChannelWatch> channels)
    {
        _taken = false;
        foreach (ChannelWatch channel in channels)
        {
            channel.BeginTape();
        }
    }

    /// <summary>Someone else took one.</summary>
    public void Taken() => _taken = true;

    /// <summary>True when the engine should take one now.</summary>
    public bool IsDue(WatchContext context, ChannelWatch[] channels)
    {
        MachineState state = context.Machine.State;
        if (state is MachineState.NoAir or MachineState.AirUp && _taken)
        {
            NewPass(channels);
        }

        if (_taken || state < MachineState.Running || context.Now < context.Machine.SettledFrom + Needs)
        {
            return false;
        }

        _taken = true;
        return Array.Exists(channels, c => c.NeedsBaseline);
    }

    public void Sync(StateArchive archive) => archive.Sync(ref _taken);
}
