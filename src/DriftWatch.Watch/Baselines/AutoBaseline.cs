using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.States;

namespace DriftWatch.Watch.Baselines;

/// <summary>
/// The machine's own baselines of a tape. The first is provisional: taken once the tape has run long enough for 30 s of
/// settled readings, so that a head that clogs is found even where nobody thought of a baseline. The second replaces it after
/// some minutes of settled running (<c>baseline-after</c> of the bench file) as soon as nothing is wrong. Neither ever
/// replaces a person's, and both go with the tape. A bench that can't tell whether tape runs has the second only.
/// </summary>
internal sealed class AutoBaseline
{
    private static readonly TimeSpan Needs = TimeSpan.FromSeconds(SecondMeans.Span);
    private static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(10);

    private bool _taken;
    private bool _stableTaken;
    private EngineTime _calmSince = EngineTime.MaxValue;
    private EngineTime _nextLook = EngineTime.MinValue;
    private bool _isLinedUp;

    /// <summary>This tape has settled for the minutes of the bench file, whether or not a baseline is taken of it; true until it is noted, at looks ten seconds apart.</summary>
    public bool IsLinedUp { get; private set; }

    /// <summary>What <see cref="IsLinedUp"/> said was made use of: not again for this tape.</summary>
    public void LineUpNoted() => _isLinedUp = true;

    public void NewPass(IEnumerable<ChannelWatch> channels)
    {
        _taken = false;
        _stableTaken = false;
        _isLinedUp = false;
        _calmSince = EngineTime.MaxValue;
        foreach (ChannelWatch channel in channels)
        {
            channel.BeginTape();
        }
    }

    /// <summary>A person took one: the machine has nothing to add.</summary>
    public void Taken() => _taken = _stableTaken = true;

    /// <summary>One that was taken before judging began anew, in the middle of its tape.</summary>
    public void TakenUp(BaselineStanding standing)
    {
        _taken = true;
        _stableTaken |= standing != BaselineStanding.Provisional;
    }

    /// <summary>Nobody watched: the minutes begin anew.</summary>
    public void BeginWatching() => _calmSince = EngineTime.MaxValue;

    /// <summary>What the engine should take now; null for nothing.</summary>
    public BaselineStanding? Due(WatchContext context, ChannelWatch[] channels)
    {
        IsLinedUp = false;
        MachineState state = context.Machine.State;
        if (state is MachineState.NoAir or MachineState.AirUp && (_taken || (_stableTaken && EvidenceReader.CanTellRunning(context.Roles))))
        {
            NewPass(channels);
        }

        bool runs = state >= MachineState.Running;
        if (!runs && (state == MachineState.NoAir || EvidenceReader.CanTellRunning(context.Roles)))
        {
            _calmSince = EngineTime.MaxValue;
            return null;
        }

        EngineTime now = context.Now;
        EngineTime from = runs && context.Machine.SettledFrom > now ? context.Machine.SettledFrom : now;
        if (_calmSince == EngineTime.MaxValue || from > now)
        {
            _calmSince = from;
        }

        if (runs && !_taken && now >= context.Machine.SettledFrom + Needs)
        {
            _taken = true;
            return Array.Exists(channels, c => c.NeedsBaseline) ? BaselineStanding.Provisional : null;
        }

        if (_stableTaken || now < _nextLook || now < _calmSince + Longer(Needs, context.Settings.BaselineAfter))
        {
            return null;
        }

        _nextLook = now + LookEvery;
        IsLinedUp = runs && !_isLinedUp;
        bool isWanted = Array.Exists(channels, c => (c.Drift is not null || c.NeedsBaseline) && (c.Baseline is null || c.Standing == BaselineStanding.Provisional));
        if (isWanted && BaselineCheck.Of(context, channels).Count > 0)
        {
            return null; // it waits until nothing is wrong
        }

        _stableTaken = true;
        return isWanted ? BaselineStanding.Stable : null;
    }

    public void Sync(StateArchive archive)
    {
        archive.Sync(ref _taken);
        archive.Sync(ref _stableTaken);
        archive.Sync(ref _calmSince);
        archive.Sync(ref _nextLook);
        archive.Sync(ref _isLinedUp);
    }

    private static TimeSpan Longer(TimeSpan one, TimeSpan other) => one > other ? one : other;
}
