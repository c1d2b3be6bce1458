using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Snapshots;

namespace DriftWatch.Watch.Judges;

/// <summary>
/// The limits of one side of one channel as a state machine, without words. Each limit is beyond, counts its delay,
/// becomes active; comes back by more than its deadband, counts its off-delay, rests. A limit without an on-delay is
/// held against the extreme inside the period, so a short dropout counts; a delayed one against the value itself,
/// because what must persist can't be judged by the worst instant of each period.
/// </summary>
internal sealed class LimitRules
{
    private readonly LimitDefinition[] _limits;
    private readonly int[] _stateMasks;
    private readonly Rule[] _rules;
    private readonly double _sign;
    private bool _counting;

    public LimitRules(IReadOnlyList<LimitDefinition> limits, LimitSide side)
    {
        // Most severe first, then the farthest out, then the bench file's order: one order for ever.
        _limits = [.. limits.Where(l => l.Side == side)
            .OrderByDescending(l => l.Severity)
            .ThenBy(l => side == LimitSide.Low ? l.Value : -l.Value)];
        _stateMasks = [.. _limits.Select(l => l.JudgedIn.Aggregate(0, (mask, state) => mask | (1 << (int)state)))];
        _rules = new Rule[_limits.Length];
        _sign = side == LimitSide.Low ? 1 : -1;
        Rebase(null);
    }

    public int Count => _limits.Length;

    public bool HasBaselineLimits => Array.Exists(_limits, l => l.Reference != LimitReference.Absolute);

    /// <summary>Anything beyond or active, so that the worst value counts.</summary>
    public bool IsBusy { get; private set; }

    /// <summary>Index of the most severe active limit, or −1.</summary>
    public int Worst
    {
        get
        {
            for (int i = 0; i < _rules.Length; i++)
            {
                if (_rules[i].Active)
                {
                    return i;
                }
            }

            return -1;
        }
    }

    /// <summary>When the limit that ended last came back.</summary>
    public EngineTime BackSince { get; private set; }

    public LimitDefinition this[int index] => _limits[index];

    public double ThresholdOf(int index) => _rules[index].Threshold;

    public EngineTime BeyondSince(int index) => _rules[index].Since;

    /// <summary>Works the thresholds out anew; null where there is no baseline, so that limits against it rest.</summary>
    public void Rebase(double? baseline)
    {
        for (int i = 0; i < _limits.Length; i++)
        {
            LimitDefinition limit = _limits[i];
            ref Rule rule = ref _rules[i];
            rule.Threshold = limit.At(baseline) ?? double.NaN; // nothing is beyond NaN
            rule.Deadband = limit.Reference == LimitReference.BaselineFraction && baseline is { } b ? Math.Abs(b * limit.Deadband) : limit.Deadband;
        }
    }

    /// <summary>A new value; true when a limit became active or came to rest.</summary>
    public bool Sample(EngineTime time, double value, double extreme, in Gate gate)
    {
        bool changed = false;
        bool busy = false;
        bool counting = false;
        for (int i = 0; i < _rules.Length; i++)
        {
            ref Rule rule = ref _rules[i];
            TimeSpan onDelay = _limits[i].OnDelay;
            double depth = _sign * (rule.Threshold - (onDelay == TimeSpan.Zero ? extreme : value));
            if (!(depth > 0) && !rule.Beyond && !rule.Active)
            {
                continue; // the common case
            }

            if (!gate.Judges(_stateMasks[i], rule.Active, _limits[i].Severity))
            {
                changed |= rule.Active;
                if (rule.Active)
                {
                    BackSince = time;
                }

                rule.Rest();
                continue;
            }

            if (depth > 0)
            {
                if (!rule.Beyond)
                {
                    rule.Beyond = true;
                    rule.Since = time;
                }

                rule.Back = false;
            }
            else
            {
                rule.Beyond = false;
                if (double.IsNaN(depth) || depth < -rule.Deadband)
                {
                    if (!rule.Back)
                    {
                        rule.Back = true;
                        rule.BackAt = time;
                    }
                }
                else
                {
                    rule.Back = false;
                }
            }

            changed |= Elapse(ref rule, _limits[i], time);
            busy |= rule.Beyond || rule.Active;
            counting |= (rule.Beyond && !rule.Active) || rule.Active;
        }

        IsBusy = busy;
        _counting = counting;
        return changed;
    }

    /// <summary>Time goes on without a new value; true when a limit became active or came to rest.</summary>
    public bool Tick(EngineTime time, in Gate gate)
    {
        if (!_counting)
        {
            return false;
        }

        bool changed = false;
        bool busy = false;
        for (int i = 0; i < _rules.Length; i++)
        {
            ref Rule rule = ref _rules[i];
            if ((rule.Beyond || rule.Active) && !gate.Judges(_stateMasks[i], rule.Active, _limits[i].Severity))
            {
                changed |= rule.Active;
                if (rule.Active)
                {
                    BackSince = time;
                }

                rule.Rest();
                continue;
            }

            changed |= Elapse(ref rule, _limits[i], time);
            busy |= rule.Beyond || rule.Active;
        }

        IsBusy = busy;
        return changed;
    }

    /// <summary>Forgets what was counting: silence is no persistence. What is active stays so.</summary>
    public void DropCounting()
    {
        bool busy = false;
        for (int i = 0; i < _rules.Length; i++)
        {
            ref Rule rule = ref _rules[i];
            rule.Back = false;
            rule.Beyond &= rule.Active;
            busy |= rule.Active;
        }

        IsBusy = busy;
    }

    /// <summary>Lets everything rest, as when the machine leaves the states in which it means something.</summary>
    public void RestAll(EngineTime time)
    {
        for (int i = 0; i < _rules.Length; i++)
        {
            _rules[i].Rest();
        }

        BackSince = time;
        IsBusy = false;
        _counting = false;
    }

    public void Sync(StateArchive archive)
    {
        bool busy = IsBusy;
        EngineTime backSince = BackSince;
        archive.Sync(ref busy);
        archive.Sync(ref _counting);
        archive.Sync(ref backSince);
        IsBusy = busy;
        BackSince = backSince;
        for (int i = 0; i < _rules.Length; i++)
        {
            ref Rule rule = ref _rules[i];
            archive.Sync(ref rule.Threshold);
            archive.Sync(ref rule.Deadband);
            archive.Sync(ref rule.Beyond);
            archive.Sync(ref rule.Since);
            archive.Sync(ref rule.Active);
            archive.Sync(ref rule.Back);
            archive.Sync(ref rule.BackAt);
        }
    }

    private bool Elapse(ref Rule rule, LimitDefinition limit, EngineTime time)
    {
        if (!rule.Active)
        {
            rule.Active = rule.Beyond && time - rule.Since >= limit.OnDelay;
            rule.Back = false;
            return rule.Active;
        }

        if (rule.Back && time - rule.BackAt >= limit.OffDelay)
        {
            BackSince = rule.BackAt;
            rule.Rest();
            return true;
        }

        return false;
    }

    private struct Rule
    {
        public double Threshold;
        public double Deadband;
        public bool Beyond;
        public EngineTime Since;
        public bool Active;
        public bool Back;
        public EngineTime BackAt;

        public void Rest() => Beyond = Active = Back = false;
    }
}

/// <summary>
/// Whether the machine's state lets a limit be judged. An unknown state judges everything; a limit without states is
/// judged always. For a while after the tape has got up to speed or the servos have locked, limits bound to those
/// states wait ('settling'), but one that is active already is kept.
/// </summary>
/// <param name="State">The machine's state.</param>
/// <param name="Settling">Limits bound to a state wait.</param>
/// <param name="Resting">Nothing is judged at all: the machine is at rest by another channel's witness.</param>
/// <param name="AdvisoryOnly">Alarms rest: what they guard is not in use.</param>
internal readonly record struct Gate(MachineState State, bool Settling, bool Resting = false, bool AdvisoryOnly = false)
{
    public static Gate Open { get; } = new(MachineState.Unknown, false);

    public bool Judges(int stateMask, bool isActive, Severity severity) =>
        !Resting && !(AdvisoryOnly && severity == Severity.Alarm) && JudgesAwake(stateMask, isActive);

    private bool JudgesAwake(int stateMask, bool isActive) =>
        stateMask == 0 || State == MachineState.Unknown || ((stateMask & (1 << (int)State)) != 0 && (!Settling || isActive));
}
