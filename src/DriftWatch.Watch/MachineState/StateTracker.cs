using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.States; // not '…MachineState': a namespace of that name would hide the state itself

/// <summary>What one channel says about the machine. Append only: it is part of snapshots.</summary>
internal enum Evidence
{
    /// <summary>No channel, no fresh reading, or no number to hold it against.</summary>
    Silent,
    Yes,
    No,
}

/// <summary>
/// Infers how far the machine has come. Each channel says yes or no with hysteresis; the tracker weighs them and lets
/// a new state stand for its dwell. Vacuum helps to infer 'tape on the guide' and is judged only there, so the rules
/// that keep the circle open are: going up needs no more than evidence for it; going down needs evidence from a
/// channel other than the one whose judgement it would switch off, and nothing that speaks against it. A collapse of
/// vacuum while heads still read tape is a loss of vacuum, not a change of state. Where only the channel itself says
/// so, the state becomes unknown, which judges everything. Worked on ticks only.
/// </summary>
internal sealed class StateTracker
{
    // Dwells. Source: common practice, no source. Leaving 'running' is quicker than the shortest delay of an RF alarm
    // (0.5 s), so that an ordinary stop of the tape is not told as four clogged heads.
    private static readonly TimeSpan UpDwell = TimeSpan.FromSeconds(1);
    private static readonly TimeSpan TapeStopsDwell = TimeSpan.FromSeconds(0.4);
    private static readonly TimeSpan LockDwell = TimeSpan.FromSeconds(0.2);
    private static readonly TimeSpan DownDwell = TimeSpan.FromSeconds(2);

    private MachineState _state;
    private MachineState _candidate;
    private EngineTime _candidateSince;
    private EngineTime _settledFrom = EngineTime.MinValue;
    private EngineTime _since;
    private bool _vacuumLeftAlone;
    private bool _airLeftAlone;
    private bool _tapeLeftAlone;
    private bool _isSettling;

    public MachineState State => _state;

    public EngineTime Since => _since;

    /// <summary>From when on readings of running tape count as settled; only meaningful while tape runs.</summary>
    public EngineTime SettledFrom => _settledFrom;

    /// <summary>Tape has just got going or the servos have just locked: judgements bound to that wait.</summary>
    public bool IsSettling => _isSettling;

    /// <summary>
    /// Evidence says that tape no longer runs, and the dwell has yet to pass: what would be said of heads and levels now is
    /// said of a stop.
    /// </summary>
    public bool IsStopping => _state >= MachineState.Running && _candidate is > MachineState.Unknown and < MachineState.Running;

    /// <summary>A pass began or ended: what was lost before has nothing to do with what comes.</summary>
    public void ForgetLosses() => _vacuumLeftAlone = _airLeftAlone = _tapeLeftAlone = false;

    public void OnTick(WatchContext context)
    {
        EngineTime now = context.Now;
        MachineState target = Weigh(context);
        if (target != _candidate)
        {
            _candidate = target;
            _candidateSince = now;
        }

        if (target != _state && now - _candidateSince >= DwellTo(target))
        {
            Enter(context, target);
        }

        _isSettling = now < _settledFrom;
    }

    public void Sync(StateArchive archive)
    {
        archive.Sync(ref _state);
        archive.Sync(ref _candidate);
        archive.Sync(ref _candidateSince);
        archive.Sync(ref _settledFrom);
        archive.Sync(ref _since);
        archive.Sync(ref _vacuumLeftAlone);
        archive.Sync(ref _airLeftAlone);
        archive.Sync(ref _tapeLeftAlone);
        archive.Sync(ref _isSettling);
    }

    private TimeSpan DwellTo(MachineState target)
    {
        if (target == MachineState.Locked || (_state == MachineState.Locked && target == MachineState.Running))
        {
            return LockDwell;
        }

        if (_state >= MachineState.Running && target < _state)
        {
            return target == MachineState.Unknown ? DownDwell : TapeStopsDwell;
        }

        return target > _state ? UpDwell : DownDwell;
    }

    private void Enter(WatchContext context, MachineState target)
    {
        MachineState from = _state;
        _state = target;
        EngineTime began = _candidateSince;
        _since = context.Now;
        if (target == MachineState.Locked || (target == MachineState.Running && from < MachineState.Running))
        {
            _settledFrom = context.Now + context.Settings.SettleAfterLock;
        }

        context.Desk.Use(target);
        context.Desk.Note(new FindingFacts
        {
            Kind = FindingKinds.State,
            Start = began,
            Cause = Slugs.Of(target),
            Text = $"The machine went from '{Words(from)}' to '{Words(target)}'.",
            Details = [new FindingDetail("from", null, Slugs.Of(from)), new FindingDetail("to", null, Slugs.Of(target))],
        });
    }

    private MachineState Weigh(WatchContext context)
    {
        Evidence air = EvidenceReader.Air(context);
        Evidence supply = EvidenceReader.Supply(context);
        Evidence vacuum = EvidenceReader.Vacuum(context);
        Evidence rf = EvidenceReader.Level(context, ChannelRole.RfLevel, out int rfNo);
        Evidence control = EvidenceReader.Level(context, ChannelRole.ControlTrack, out int controlNo);
        Evidence servo = EvidenceReader.Lock(context);
        _vacuumLeftAlone &= vacuum != Evidence.Yes;
        _airLeftAlone &= air != Evidence.Yes;

        // Servos report their lock a while longer than there is tape: heads and control track together know better.
        bool nothingRead = rf == Evidence.No && control == Evidence.No;
        bool reads = rf == Evidence.Yes || control == Evidence.Yes || (servo == Evidence.Yes && !nothingRead);
        _tapeLeftAlone &= !reads;

        if (reads)
        {
            if (air == Evidence.No)
            {
                return _state; // heads can't read tape without air: one of the two is wrong, so nothing changes
            }

            return servo == Evidence.Yes ? MachineState.Locked : MachineState.Running;
        }

        int saysNo = rfNo + controlNo + (servo == Evidence.No ? 1 : 0);
        if (_state >= MachineState.Running && saysNo == 1 && vacuum != Evidence.No && air != Evidence.No)
        {
            _tapeLeftAlone = true; // one channel alone says that the tape does not run
        }

        if (_tapeLeftAlone && saysNo == 1 && air != Evidence.No && vacuum != Evidence.No)
        {
            return MachineState.Unknown;
        }

        bool stands = saysNo > 0;
        if (air == Evidence.No)
        {
            if (vacuum == Evidence.Yes)
            {
                return _state; // no vacuum without air: one of the two is wrong
            }

            bool borneOut = supply == Evidence.No || vacuum == Evidence.No || stands;
            if (!borneOut && _state > MachineState.NoAir)
            {
                _airLeftAlone = true;
            }

            return _airLeftAlone && !borneOut ? MachineState.Unknown : MachineState.NoAir;
        }

        if (vacuum == Evidence.Yes)
        {
            // Tape is on the guide. Whether it runs can't be told while all that could say so are silent, and a
            // judgement must not rest because its witnesses are gone.
            return stands || !EvidenceReader.CanTellRunning(context.Roles) ? MachineState.TapeOnGuide : MachineState.Unknown;
        }

        if (vacuum == Evidence.No)
        {
            if (!stands && _state >= MachineState.TapeOnGuide)
            {
                _vacuumLeftAlone = true; // only vacuum itself says that the tape is gone
            }

            if (_vacuumLeftAlone)
            {
                return MachineState.Unknown;
            }
        }

        if (air == Evidence.Yes)
        {
            return MachineState.AirUp;
        }

        // Air is silent. Two channels that agree that no tape runs, or a state that nothing speaks against, will do:
        // being unknown would hold a machine at rest to the limits of one that plays.
        bool rests = saysNo >= 2 || (_state is MachineState.NoAir or MachineState.AirUp && (stands || vacuum == Evidence.No));
        return !rests ? MachineState.Unknown : _state == MachineState.NoAir ? MachineState.NoAir : MachineState.AirUp;
    }

    private static string Words(MachineState state) => state switch
    {
        MachineState.NoAir => "no air",
        MachineState.AirUp => "air up",
        MachineState.TapeOnGuide => "tape on the guide",
        MachineState.Running => "tape running",
        MachineState.Locked => "locked",
        _ => "not known",
    };
}
