using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Judges;

/// <summary>
/// Holds one side of one channel to its limits. Several severities make one finding that rises and falls between
/// them. It starts when the limit that raised it was first crossed and is raised when that limit's delay was over,
/// on a tick if no reading comes just then. It ends when the last active limit came to rest, never by silence.
/// The low side of regulated air is the finding <c>air-below-setpoint</c>, whose cause names where to look. While a
/// wheel speed says that the wheel stands only advisories are judged, and none once the air is off: nothing floats.
/// </summary>
internal sealed class LimitJudge
{
    // A worse value is worth a line when it is this much farther out than the last one said, or by the deadband.
    // Source: common practice, no source.
    private const double WorthSaying = 0.1;

    private readonly LimitSide _side;
    private readonly LimitRules _rules;
    private readonly RuleFinding _finding = new();
    private double _worst = double.NaN;
    private double _said;

    public LimitJudge(IReadOnlyList<LimitDefinition> limits, LimitSide side)
    {
        _side = side;
        _rules = new LimitRules(limits, side);
    }

    public bool IsEmpty => _rules.Count == 0;

    public bool HasBaselineLimits => _rules.HasBaselineLimits;

    public OpenFinding? Finding => _finding.Finding;

    public void Rebase(double? baseline) => _rules.Rebase(baseline);

    public void Sample(ChannelWatch channel, WatchContext context, double value, double extreme)
    {
        bool changed = _rules.Sample(context.Now, value, extreme, channel.Gate(context));
        if (!changed && !_rules.IsBusy)
        {
            return;
        }

        // Numbers compare false with NaN, so the first value always becomes the worst.
        if (_side == LimitSide.Low ? !(extreme >= _worst) : !(extreme <= _worst))
        {
            _worst = extreme;
        }

        Settle(channel, context, changed, isReading: true);
    }

    public void Tick(ChannelWatch channel, WatchContext context)
    {
        bool changed = _rules.Tick(context.Now, channel.Gate(context));
        if (changed || _finding.IsOpen)
        {
            Settle(channel, context, changed, isReading: false);
        }
    }

    /// <summary>The channel has gone silent: what is open stays open and says so.</summary>
    public void GoneStale(WatchContext context)
    {
        _rules.DropCounting();
        _finding.GoneStale(context);
    }

    /// <summary>Nobody watched: delays begin anew.</summary>
    public void DropCounting() => _rules.DropCounting();

    public void OutOfService(WatchContext context) => _finding.OutOfService(context);

    public void Sync(StateArchive archive, FindingDesk desk)
    {
        _rules.Sync(archive);
        archive.Sync(ref _worst);
        archive.Sync(ref _said);
        _finding.Sync(archive, desk);
    }

    private void Settle(ChannelWatch channel, WatchContext context, bool changed, bool isReading)
    {
        int worst = _rules.Worst;
        if (worst < 0)
        {
            if (_finding.IsOpen)
            {
                bool gated = channel.IsGatedOff(context, _rules[Math.Max(_finding.Rule, 0)]);
                _finding.End(context, Facts(channel, context, _finding.Rule, gated ? "state-left" : "recovered"), _rules.BackSince);
            }

            if (!_rules.IsBusy)
            {
                _worst = double.NaN;
            }

            return;
        }

        if (_finding.IsNews(worst, changed, isReading) || (_finding.MaySayWorse(context) && IsWorthSaying(worst)))
        {
            _said = _worst;
            _finding.Say(context, worst, Facts(channel, context, worst, endedBy: null));
        }
    }

    private bool IsWorthSaying(int rule)
    {
        double said = Math.Abs(_said - _rules.ThresholdOf(rule));
        double now = Math.Abs(_worst - _rules.ThresholdOf(rule));
        return now - said > Math.Max(WorthSaying * said, _rules[rule].Deadband);
    }

    private FindingFacts Facts(ChannelWatch channel, WatchContext context, int rule, string? endedBy)
    {
        LimitDefinition limit = _rules[rule];
        double threshold = _rules.ThresholdOf(rule);
        ChannelDefinition definition = channel.Definition;
        bool isAir = definition.Role == ChannelRole.RegulatedAir && _side == LimitSide.Low;
        (string cause, List<FindingDetail> details) = isAir ? AirCause.Of(channel, context) : ("beyond-limit", []);
        if (channel.Baseline is { } baseline && limit.Reference != LimitReference.Absolute)
        {
            details.Add(new FindingDetail("baseline", baseline));
        }

        if (endedBy is not null)
        {
            details.Add(new FindingDetail("endedBy", null, endedBy));
        }

        string text = (isAir, _side, endedBy) switch
        {
            (_, _, "state-left") => $"{definition.Label} is no longer held to {Say.Number(threshold)} {definition.Unit}: the machine has left the state in which the limit is judged.",
            (true, _, null) => $"{definition.Label} is {Say.Number(_worst)} {definition.Unit}, below the limit of {Say.Number(threshold)} {definition.Unit}: {AirCause.Hint(cause)}.",
            (true, _, _) => $"{definition.Label} is back above {Say.Number(threshold)} {definition.Unit}; lowest was {Say.Number(_worst)} {definition.Unit}.",
            (_, LimitSide.Low, null) => $"{definition.Label} is {Say.Number(_worst)} {definition.Unit}, below the limit of {Say.Number(threshold)} {definition.Unit}.",
            (_, LimitSide.High, null) => $"{definition.Label} is {Say.Number(_worst)} {definition.Unit}, above the limit of {Say.Number(threshold)} {definition.Unit}.",
            (_, LimitSide.Low, _) => $"{definition.Label} is back above {Say.Number(threshold)} {definition.Unit}; lowest was {Say.Number(_worst)} {definition.Unit}.",
            _ => $"{definition.Label} is back below {Say.Number(threshold)} {definition.Unit}; highest was {Say.Number(_worst)} {definition.Unit}.",
        };
        return new FindingFacts
        {
            Kind = isAir ? FindingKinds.AirBelowSetpoint : _side == LimitSide.Low ? FindingKinds.BelowLimit : FindingKinds.AboveLimit,
            Channel = definition.Id,
            Severity = limit.Severity,
            Start = Finding?.Line.Start ?? _rules.BeyondSince(rule),
            Value = double.IsNaN(_worst) ? null : _worst,
            Limit = double.IsNaN(threshold) ? null : threshold,
            Unit = definition.Unit,
            LimitSource = limit.Source,
            Cause = cause,
            Text = text,
            Details = details,
        };
    }
}
