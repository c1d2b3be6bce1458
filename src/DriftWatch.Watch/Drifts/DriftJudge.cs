using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;
using DriftWatch.Watch.States;

namespace DriftWatch.Watch.Drifts;

/// <summary>
/// Says that a channel drifts from this tape's baseline to a limit, while there is time to do something. Four windows, of 20
/// to 160 minutes, are looked at in turn; a drift is said when in one of them
/// <list type="number">
/// <item>the line has used a good fifth of the way to the nearest limit (<see cref="DriftClaim.LeastUsed"/>; more where there are hours; what hands did at a knob is not used) and is to reach it within <see cref="Horizon"/>,</item>
/// <item>the means go on from quarter to quarter, and the newest are beyond what was seen before the window,</item>
/// <item>the slope passes the test of <see cref="DriftClaim.IsClaimed"/>, and a single step does not explain it.</item>
/// </list>
/// It is said again when the time left has halved, and ends when the drift stops, when a limit of that side has taken over,
/// when there is a new baseline that it has not left, or when the machine leaves the state in which the channel is judged.
/// </summary>
internal sealed class DriftJudge
{
    /// <summary>A limit farther off than this is no news. Source: common practice, no source (one shift).</summary>
    public static readonly TimeSpan Horizon = TimeSpan.FromHours(8);

    /// <summary>A drift to an alarm's limit is an alarm itself when less than this is left. Source: threshold table, 'time to setpoint below 5 min'.</summary>
    public static readonly TimeSpan AlarmWithin = TimeSpan.FromMinutes(5);

    // Nearer to the limit than this it is the limit's judge that has something to say. Source: common practice, no source.
    private const double MostUsedShare = 0.9;

    // A drift has stopped when its window's slope is below this share of what was said. Source: common practice, no source.
    private const double Stopped = 0.25;

    // Source: common practice, no source.
    private const double MovingShare = 0.1;

    private const long LookEvery = 6; // in spans of 10 s: once a minute for the shortest window

    private static readonly TimeSpan StateLeftAfter = TimeSpan.FromMinutes(2);

    private readonly IReadOnlyList<LimitDefinition> _limits;
    private readonly int _stateMask;
    private readonly bool _isAir;
    private readonly int _turn;
    private readonly DriftMemory _memory = new();
    private readonly HandTurns? _hands; // of the regulated air alone: it has a knob that is turned while tape runs, and rides on nothing else that jumps
    private bool _accepts;
    private EngineTime _refusedSince = EngineTime.MaxValue;
    private OpenFinding? _finding;
    private int _sign;
    private int _level;
    private double _saidSlope;
    private double _saidShare;
    private double _saidSecondsLeft;
    private bool _isRebased;
    private bool _saidStale;
    private EngineTime _quietUntil = EngineTime.MinValue;

    public DriftJudge(ChannelDefinition definition)
    {
        _limits = definition.Limits;
        _stateMask = _limits.Any(l => l.JudgedIn.Count == 0) ? 0
            : _limits.Aggregate(0, (mask, limit) => mask | limit.JudgedIn.Aggregate(0, (states, state) => states | (1 << (int)state)));
        _isAir = definition.Role == ChannelRole.RegulatedAir;
        _hands = _isAir ? new HandTurns() : null;

        // Looks are spread over the minute by the channel's name, so that no tick is heavy.
        uint hash = 2166136261;
        foreach (char c in definition.Id)
        {
            hash = (hash ^ c) * 16777619;
        }

        _turn = (int)(hash % (LookEvery * (1 << (DriftMemory.Levels - 1))));
    }

    /// <summary>Followed where there is a limit to drift to; a frame's peak is no level.</summary>
    public static bool Follows(ChannelDefinition definition) => definition is { Kind: ChannelKind.Series, Limits.Count: > 0 };

    public DriftMemory Memory => _memory;

    public void Sample(double value)
    {
        if (_accepts)
        {
            _memory.Add(value);
        }
    }

    public void Tick(ChannelWatch channel, WatchContext context)
    {
        bool closed = _memory.Advance(context.Now);
        _accepts = Accepts(channel, context);
        if (!_accepts)
        {
            _memory.Spoil();
            _refusedSince = _refusedSince == EngineTime.MaxValue ? context.Now : _refusedSince;
            if (_finding is not null && context.Now - _refusedSince >= StateLeftAfter)
            {
                End(channel, context, "state-left", null);
            }
        }
        else
        {
            _refusedSince = EngineTime.MaxValue;
        }

        if (_finding is not null && channel.IsBeyondLimit(_sign))
        {
            End(channel, context, "limit-took-over", null);
        }

        if (closed && channel.Baseline is { } held)
        {
            _hands?.Look(_memory, Following.Of(channel, context), held);
        }

        if (closed && channel.Baseline is { } baseline && (_memory.Bin + _turn) % LookEvery == 0)
        {
            long look = (_memory.Bin + _turn) / LookEvery;
            for (int level = 0; level < DriftMemory.Levels; level++)
            {
                if (look % (1 << level) == 0)
                {
                    Look(channel, context, level, baseline);
                }
            }
        }
        else if (closed && _finding is not null && channel.Baseline is null)
        {
            End(channel, context, "new-baseline", null);
        }
    }

    public void GoneStale(WatchContext context)
    {
        if (_finding is not null && !_saidStale)
        {
            _saidStale = true;
            context.Desk.Restate(_finding, cause: "stale");
        }
    }

    /// <summary>Nobody watched, or the calibration changed from here on.</summary>
    public void DropRunning() => _memory.DropRunning();

    /// <summary>What was seen has nothing to do with what comes: another calibration.</summary>
    public void Clear()
    {
        _memory.Clear();
        _hands?.Clear();
    }

    /// <summary>Another tape: channels that mean something only while tape runs begin anew.</summary>
    public void BeginTape()
    {
        if (_stateMask != 0)
        {
            _memory.Clear();
        }
    }

    public void Rebase() => _isRebased = true;

    public void OutOfService(WatchContext context) => context.Desk.TakeOutOfService(ref _finding, context.Now);

    /// <summary>
    /// In the last minutes the value has gone on by a tenth of the way to its nearest limit, beyond doubt: too much for a
    /// baseline to be taken. Asked of as many 10 s means as there are of the last five minutes, two minutes at least.
    /// </summary>
    public bool IsMoving(WatchContext context, double level)
    {
        DriftWindow window = context.DriftWindow;
        return window.Glance(_memory, 30) && window.Student > 5
            && LimitAhead.Of(_limits, level, window.Slope < 0 ? -1 : 1) is { } limit
            && window.Rise > MovingShare * Math.Abs(limit.Limit - level);
    }

    /// <summary>What the best window tells now: that of the finding, else the one of 40 minutes, else any that is covered; null where none is.</summary>
    public WindowDrift? Best(ChannelWatch channel, WatchContext context)
    {
        DriftWindow window = context.DriftWindow;
        Following? following = Following.Of(channel, context);
        ReadOnlySpan<int> order = _finding is null ? [1, 0, 2, 3] : [_level, 1, 0, 2, 3];
        foreach (int level in order)
        {
            if (window.Look(_memory, level, following, _hands))
            {
                return window.Estimate();
            }
        }

        return null;
    }

    public LimitAhead? LimitAheadOf(double baseline, int sign) => LimitAhead.Of(_limits, baseline, sign);

    public void Sync(StateArchive archive, FindingDesk desk)
    {
        _memory.Sync(archive);
        _hands?.Sync(archive);
        archive.Sync(ref _accepts);
        archive.Sync(ref _refusedSince);
        archive.Sync(ref _sign);
        archive.Sync(ref _level);
        archive.Sync(ref _saidSlope);
        archive.Sync(ref _saidShare);
        archive.Sync(ref _saidSecondsLeft);
        archive.Sync(ref _isRebased);
        archive.Sync(ref _saidStale);
        archive.Sync(ref _quietUntil);
        desk.Sync(archive, ref _finding);
    }

    /// <summary>
    /// Judged and settled. An unknown state judges limits ungated, but where something could tell that tape runs and does not, a
    /// level that means something only then is no part of a drift.
    /// </summary>
    private bool Accepts(ChannelWatch channel, WatchContext context)
    {
        if (_isAir)
        {
            return channel.Gate(context).Judges(_stateMask, isActive: false, Severity.Advisory);
        }

        if (_stateMask == 0)
        {
            return true;
        }

        MachineState state = context.Machine.State;
        return state == MachineState.Unknown
            ? !EvidenceReader.CanTellRunning(context.Roles)
            : (_stateMask & (1 << (int)state)) != 0 && !context.Machine.IsSettling;
    }

    private void Look(ChannelWatch channel, WatchContext context, int level, double baseline)
    {
        DriftWindow window = context.DriftWindow;
        Following? following = Following.Of(channel, context);
        if (!window.Look(_memory, level, following, _hands))
        {
            return;
        }

        window.TakeOutJumps();
        int sign = Math.Sign(window.Slope);
        if (_finding is not null)
        {
            if (level == _level)
            {
                Follow(channel, context, window, baseline);
            }

            return;
        }

        if (sign == 0 || (sign == _sign && context.Now < _quietUntil) || channel.IsBeyondLimit(sign) || LimitAhead.Of(_limits, baseline, sign) is not { } tolerance)
        {
            return;
        }

        // The cheap questions first: on a sound night nearly every look ends here.
        double used = tolerance.UsedShare(baseline, window.Now);
        if (_hands is { } hands)
        {
            used = Math.Min(used, tolerance.UsedShare(baseline, window.Now - hands.SinceBaseline));
        }

        double seconds = Math.Abs((tolerance.Limit - window.Now) / window.Slope);
        if (!(used >= DriftClaim.LeastUsed(seconds) && used < MostUsedShare) || seconds > Horizon.TotalSeconds || window.Student < 5 || !window.GoesOn())
        {
            return;
        }

        // The shortest window alone, with nothing before it, is too easily half of a slow swing.
        double? ground = window.NewGround(_memory) / (used * Math.Abs(tolerance.Limit - baseline));
        if (ground is null ? level == 0 : ground < DriftClaim.LittleNewGround)
        {
            return;
        }

        // Jumps are taken out of the window, so a fall that was mended at once still looks like one: ask where it stands.
        if (channel.Means.MeanAt(context.Now) is { } stands && tolerance.UsedShare(baseline, stands) < 0.5 * used)
        {
            return;
        }

        // What is worked out with a known uncertainty must have left its baseline, which is no surer.
        if (Math.Abs(window.Now - baseline) < DriftClaim.Beyond * Math.Sqrt(2) * (channel.StandardUncertainty ?? 0))
        {
            return;
        }

        WindowDrift drift = window.Estimate();
        if (!DriftClaim.IsClaimed(window, drift, ground) || Math.Sign(drift.Slope) != sign || HasStopped(window, level, following, drift.Slope))
        {
            return;
        }

        _sign = sign;
        _level = level;
        Say(channel, context, drift, tolerance, baseline);
    }

    /// <summary>A shorter window says that it no longer goes on. The eyes look elsewhere then: ask this last.</summary>
    private bool HasStopped(DriftWindow window, int level, Following? following, double slope)
    {
        for (int shorter = level - 1; shorter >= 0; shorter--)
        {
            if (window.Look(_memory, shorter, following, _hands))
            {
                window.TakeOutJumps();
                double along = window.Slope * Math.Sign(slope);
                double error = window.Student > 0 ? Math.Abs(window.Slope) / window.Student : 0;
                if (along + error < Stopped * Math.Abs(slope))
                {
                    return true;
                }
            }
        }

        return false;
    }

    private void Follow(ChannelWatch channel, WatchContext context, DriftWindow window, double baseline)
    {
        double used = LimitAhead.Of(_limits, baseline, _sign) is { } tolerance ? tolerance.UsedShare(baseline, window.Now) : 0;
        if (used < 0.5 * Math.Min(_saidShare, DriftClaim.UsedShareOfDoubt * 2))
        {
            End(channel, context, _isRebased ? "new-baseline" : "drift-stopped", null);
            return;
        }

        if (window.Slope * _sign < Stopped * Math.Abs(_saidSlope))
        {
            End(channel, context, "drift-stopped", null);
            return;
        }

        tolerance = LimitAhead.Of(_limits, baseline, _sign)!.Value;
        if (used >= 1)
        {
            return; // at the limit: its own judge is about to say so
        }

        double seconds = Math.Abs((tolerance.Limit - window.Now) / window.Slope);
        bool alarmDue = IsAlarm(tolerance, seconds) && _finding!.Line.Severity != Severity.Alarm;
        bool halved = seconds <= 0.5 * _saidSecondsLeft && _saidSecondsLeft > AlarmWithin.TotalSeconds; // below that every look would halve it
        if (halved || alarmDue || _saidStale)
        {
            WindowDrift drift = window.Estimate();
            if (alarmDue || _saidStale || drift.SecondsTo(tolerance.Limit).Best <= 0.5 * _saidSecondsLeft)
            {
                Say(channel, context, drift, tolerance, baseline);
            }
        }
    }

    private static bool IsAlarm(LimitAhead tolerance, double secondsLeft) =>
        tolerance.Severity == Severity.Alarm && secondsLeft < AlarmWithin.TotalSeconds;

    private void Say(ChannelWatch channel, WatchContext context, WindowDrift drift, LimitAhead tolerance, double baseline)
    {
        double secondsLeft = Math.Abs((tolerance.Limit - drift.Now) / drift.Slope);
        double used = tolerance.UsedShare(baseline, drift.Now);
        (double earliest, double best, double latest) = drift.SecondsTo(tolerance.Limit);
        _saidSlope = drift.Slope;
        _saidShare = used;
        _saidSecondsLeft = best;
        _saidStale = false;
        _isRebased = false;
        FindingFacts facts = DriftWords.Facts(channel, context.Now, _finding, drift, tolerance, baseline, used, (earliest, best, latest), IsAlarm(tolerance, secondsLeft) ? Severity.Alarm : Severity.Advisory);
        if (_finding is null)
        {
            _finding = context.Desk.Raise(facts);
        }
        else
        {
            context.Desk.Update(_finding, facts);
        }
    }

    private void End(ChannelWatch channel, WatchContext context, string endedBy, string? cause)
    {
        context.Desk.End(_finding!, context.Now, endedBy, DriftWords.Ended(channel.Definition, endedBy), cause ?? DriftWords.Cause(_sign));
        _finding = null;
        _saidStale = false;

        // The other windows still hold what is over.
        _quietUntil = endedBy == "drift-stopped" ? context.Now + TimeSpan.FromSeconds(DriftMemory.Bins * DriftMemory.SecondsOf(_level)) : EngineTime.MinValue;
    }
}
