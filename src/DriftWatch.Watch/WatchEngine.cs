using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Alarms;
using DriftWatch.Watch.Baselines;
using DriftWatch.Watch.Diagnosis;
using DriftWatch.Watch.Judges;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;
using DriftWatch.Watch.Transfers;
using DriftWatch.Watch.Wear;

namespace DriftWatch.Watch;

/// <summary>
/// The judgement of one bench: numbered inputs in, finding lines and those of the alarm book out. It has no clock and no files; the same inputs
/// give the same lines, byte for byte, live or from a recording, with any number of snapshots and restores between.
/// Not safe for several threads at once.
/// </summary>
public sealed partial class WatchEngine
{
    private readonly WatchContext _context = new();
    private readonly AnchorTable _anchors = new();
    private readonly AutoBaseline _autoBaseline = new();
    private readonly CauseFinder _causes = new();
    private readonly HeadWearJudge _wear = new();
    private readonly StoreWatch _store = new();
    private readonly MirrorWatch _mirrors = new();
    private readonly RunningTape _tape = new();
    private readonly AlarmDesk _alarms = new();
    private readonly List<AlarmTransition> _unread = [];
    private BenchDefinition? _bench;
    private byte[]? _benchJson;
    private ChannelWatch?[] _byKey = [];
    private ChannelWatch[] _channels = [];
    private InstrumentWatch[] _instruments = [];
    private long _lastNumber;
    private long _lateInputs;
    private EngineTime _lastTime;
    private string? _transfer;
    private bool _hasStarted;
    private bool _stoppedOnPurpose;

    public WatchEngine()
    {
        _context.Desk.Use(_anchors);
        _context.Desk.Use(_tape.At);
    }

    /// <summary>The number of the last input applied; 0 before the first.</summary>
    public long LastNumber => _lastNumber;

    /// <summary>Inputs that came too late to be judged; they were only counted.</summary>
    public long LateInputs => _lateInputs;

    public MachineState State => _context.Machine.State;

    public AnchorTable Anchors => _anchors;

    /// <summary>The bench in force; null before the first bench input.</summary>
    public BenchDefinition? Bench => _bench;

    /// <summary>The latest line of each finding that lasts, in the order in which they were raised.</summary>
    public IReadOnlyCollection<FindingLine> OpenFindings => [.. _context.Desk.Open.Select(f => f.Line)];

    /// <summary>The latest line of each alarm that is not in the state normal, in the order in which they first came.</summary>
    public IReadOnlyCollection<AlarmTransition> OpenAlarms => _alarms.Open;

    /// <summary>Judges one input and adds the finding lines it gives rise to; those of the alarm book are let go.</summary>
    /// <exception cref="ArgumentException">The input's number does not follow the last one: the log has a hole or a knot.</exception>
    public void Apply(in EngineInput input, List<FindingLine> lines)
    {
        _unread.Clear();
        Apply(input, lines, _unread);
    }

    /// <summary>Judges one input and adds the lines it gives rise to: findings, and what befell alarms.</summary>
    /// <exception cref="ArgumentException">The input's number does not follow the last one: the log has a hole or a knot.</exception>
    public void Apply(in EngineInput input, List<FindingLine> lines, List<AlarmTransition> alarms)
    {
        ArgumentNullException.ThrowIfNull(lines);
        ArgumentNullException.ThrowIfNull(alarms);
        if (input.Number <= _lastNumber)
        {
            throw new ArgumentException($"Input {input.Number} comes after input {_lastNumber}: numbers must rise.", nameof(input));
        }

        _lastNumber = input.Number;
        if (input.IsLate)
        {
            _lateInputs++;
            return;
        }

        _context.Now = input.Time;
        _context.Desk.Turn(input.Time, input.Number, lines);
        _alarms.Turn(input.Number, alarms);
        int heard = lines.Count;
        switch (input.Kind)
        {
            case InputKind.Sample:
                if (ChannelOf(input.Channel) is { IsFrame: false } sampled)
                {
                    sampled.OnSample(_context, input.Reading);
                    _tape.Read(_context, sampled);
                }

                break;
            case InputKind.Tick:
                OnTick();
                break;
            case InputKind.Fault:
                ChannelOf(input.Channel)?.OnFault(_context, input.Reading.Fault);
                break;
            case InputKind.Frame:
                if (ChannelOf(input.Channel) is { IsFrame: true } framed)
                {
                    framed.OnFrame(_context, input.Frame);
                    if (framed.Definition.Axis is not { } axis || axis.Count == input.Frame.Count)
                    {
                        _context.Quantities.OnFrame(_context, framed, input.Frame);
                    }
                }

                break;
            case InputKind.Clock:
                OnClock(input.ClockEvent);
                break;
            case InputKind.Bench:
                OnBench(input.Bench, PayloadJson.ToUtf8(input));
                break;
            case InputKind.Calibration:
                OnCalibration(input);
                break;
            case InputKind.Command:
                OnCommand(input.Command);
                break;
            default:
                throw new ArgumentException($"Unknown kind of input {input.Kind}.", nameof(input));
        }

        for (int i = heard; i < lines.Count; i++)
        {
            _alarms.Hear(lines[i]);
        }

        if (input.Kind == InputKind.Tick)
        {
            _alarms.OnTick(_context, _causes.Episodes);
        }

        _lastTime = input.Time;
    }

    private ChannelWatch[] Watched => _context.Watched;

    private ChannelWatch? ChannelOf(int key) => (uint)key < (uint)_byKey.Length ? _byKey[key] : null;

    private void OnTick()
    {
        _context.Machine.OnTick(_context);
        foreach (ChannelWatch channel in _channels)
        {
            channel.OnTick(_context);
        }

        _context.Quantities.OnTick(_context);
        foreach (InstrumentWatch instrument in _instruments)
        {
            instrument.OnTick(_context);
        }

        // After the judges: what ends with the tape still names the baseline it was held against.
        if (_autoBaseline.Due(_context, Watched) is { } standing)
        {
            TakeBaseline(standing, by: "automatic", command: null);
        }

        if (_autoBaseline.IsLinedUp && KeepLineUp(BaselineCheck.Of(_context, Watched)))
        {
            _autoBaseline.LineUpNoted();
        }

        _causes.OnTick(_context);
        _context.Desk.EndShelving();
    }

    private void OnClock(ClockEvent clockEvent)
    {
        // By the anchors before: when, in UTC, the last thing was seen.
        long lastSeenUtc = _anchors.Anchors.Count == 0 ? 0 : _anchors.ToUtcNanoseconds(_lastTime);
        _anchors.Add(clockEvent.Anchor);
        long nowUtc = _anchors.ToUtcNanoseconds(_context.Now);
        double gapSeconds = Math.Max(0, (nowUtc - lastSeenUtc) / 1e9);
        switch (clockEvent.Kind)
        {
            case ClockEventKind.Started:
                if (_hasStarted)
                {
                    NoteNobodyWatched(nowUtc - lastSeenUtc);
                }

                _hasStarted = true;
                _stoppedOnPurpose = false;
                _store.BeginWatching(_context);
                BeginWatching();
                break;
            case ClockEventKind.Stopped:
                _stoppedOnPurpose = true;
                break;
            case ClockEventKind.WallStep:
                double step = clockEvent.StepNanoseconds / 1e9;
                _context.Desk.Note(new FindingFacts
                {
                    Kind = FindingKinds.ClockStep,
                    Start = _context.Now,
                    Value = step,
                    Unit = "s",
                    Cause = step >= 0 ? "put-forward" : "put-back",
                    Text = step >= 0
                        ? $"The wall clock was put forward by {Say.Number(step)} s; durations and delays are not affected."
                        : $"The wall clock was put back by {Say.Number(-step)} s; durations and delays are not affected.",
                });
                break;
            case ClockEventKind.Resumed:
                _context.Desk.Note(new FindingFacts
                {
                    Kind = FindingKinds.Asleep,
                    Start = _lastTime,
                    Value = gapSeconds,
                    Unit = "s",
                    Cause = "suspended",
                    Text = $"The computer slept for {Say.Number(gapSeconds)} s; there are no readings of that time.",
                });
                BeginWatching();
                break;
        }
    }

    private void NoteNobodyWatched(long utcNanoseconds)
    {
        // Between two processes there is only the wall clock: one that runs back tells no length, and 0 would be a lie.
        double? seconds = utcNanoseconds >= 0 ? utcNanoseconds / 1e9 : null;
        string howLong = seconds is { } known
            ? $"Nobody watched for {Say.Length(known)}"
            : "Nobody watched for an unknown time, because the wall clock was put back meanwhile";
        _context.Desk.Note(new FindingFacts
        {
            Kind = FindingKinds.NobodyWatching,
            Start = _lastTime,
            Value = seconds,
            Unit = "s",
            Cause = _stoppedOnPurpose ? "stopped-on-purpose" : "not-stopped-on-purpose",
            Text = howLong + (_stoppedOnPurpose
                ? ": watching had been stopped on purpose."
                : ": watching had ended without being stopped (power, crash or kill)."),
        });
    }

    private void BeginWatching()
    {
        foreach (ChannelWatch channel in _channels)
        {
            channel.BeginWatching(_context.Now);
        }

        _context.Quantities.BeginWatching(_context.Now);
        _autoBaseline.BeginWatching();
    }

    private void OnCalibration(in EngineInput input)
    {
        if (ChannelOf(input.Channel) is not { } channel)
        {
            return; // of a channel this bench no longer has; the record keeps it
        }

        Calibration calibration = input.Calibration.WithoutDocument(); // snapshots hold what judging needs
        channel.Enter(calibration, PayloadJson.ToUtf8(input with { Payload = calibration }));
        if (channel.Definition.Role == ChannelRole.RfLevel)
        {
            _wear.Forget(_context); // levels of before and after can't be held against each other
        }

        _context.Desk.Note(new FindingFacts
        {
            Kind = FindingKinds.Calibration,
            Channel = channel.Definition.Id,
            Start = _context.Now,
            Cause = "entered",
            Text = $"Calibration version {calibration.Version} of {channel.Definition.Label} is in force."
                + (calibration.IsAppliedBack ? $" Readings from {UtcText.FromNanoseconds(calibration.ValidFromUtcNanoseconds!.Value)} on are shown with it; what was found till now stays as it was judged." : ""),
            Details = [new FindingDetail("version", calibration.Version)],
        });
    }
}
