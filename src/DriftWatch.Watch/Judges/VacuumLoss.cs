using DriftWatch.Analysis.Pneumatics;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Baselines;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;
using DriftWatch.Watch.States;

namespace DriftWatch.Watch.Judges;

/// <summary>
/// Says that guide vacuum fell while tape is held by it, and what the air did at that moment. Judged is the share of
/// the reference that is left: the baseline of this tape, or without one the median of the last 30 s with tape on the
/// guide. As the venturi's vacuum follows its air by a known law, the share is worked out twice, as it is and with the
/// air's part removed, and the lesser counts: so vacuum that falls with the air is said, and so is a leak that rising
/// air hides. The cause is <c>fell-with-the-air</c> where the air explains half of the loss or more,
/// <c>fell-by-itself</c> where it does not, <c>unknown</c> where no air is measured.
/// When heads stop reading at the same instant, RF and control track tell tape that lifted from tape that ran out.
/// </summary>
internal sealed class VacuumLoss
{
    /// <summary>
    /// The judgement goes on for this long after the tape was last seen running: when tape runs out, heads, control
    /// track and vacuum vanish together, and the state changes before the alarm's delay is over. Source: derived, the
    /// alarm's delay of 1 s and as much again.
    /// </summary>
    public static readonly TimeSpan HoldOver = TimeSpan.FromSeconds(2);

    // Air explains the loss when it accounts for this share of it. Source: common practice, no source.
    private const double Explains = 0.5;

    private readonly LimitRules _rules;
    private readonly RuleFinding _finding = new();
    private double? _reference;
    private double? _airReferencePsi;
    private bool _isBaseline;
    private long _referenceSecond = long.MinValue;
    private EngineTime _heldSince = EngineTime.MaxValue;
    private EngineTime _judgedUntil = EngineTime.MinValue;
    private MachineState _judgedState;
    private double _leastShare = double.NaN;
    private double _worst = double.NaN;
    private double _saidShare;

    public VacuumLoss(ChannelDefinition definition)
    {
        // Held against shares of the reference, so to the rules they are absolute.
        _rules = new LimitRules([.. definition.Limits.Where(Owns).Select(l => l with { Reference = LimitReference.Absolute })], LimitSide.Low);
    }

    /// <summary>The limits that are this judge's business; others of the channel are plain limits.</summary>
    public static bool Owns(LimitDefinition limit) => limit is { Side: LimitSide.Low, Reference: LimitReference.BaselineFraction };

    public bool IsOpen => _finding.IsOpen;

    public void Sample(ChannelWatch channel, WatchContext context, double value, double lowest)
    {
        if (Weigh(channel, context, value, lowest) is not { } shares)
        {
            return;
        }

        bool changed = _rules.Sample(context.Now, shares.Value, shares.Extreme, GateOf(context));
        if (!changed && !_rules.IsBusy)
        {
            _leastShare = _worst = double.NaN;
            return;
        }

        if (!(shares.Extreme >= _leastShare))
        {
            _leastShare = shares.Extreme;
        }

        if (!(lowest >= _worst))
        {
            _worst = lowest;
        }

        Settle(channel, context, changed, isReading: true);
    }

    public void Tick(ChannelWatch channel, WatchContext context)
    {
        MachineState state = EffectiveState(context);
        if (state is MachineState.Running or MachineState.Locked)
        {
            _judgedUntil = context.Now + HoldOver;
            _judgedState = state;
        }

        // The reference is of tape that is held: it begins when vacuum says so, and ends when it says no outside a loss.
        if (channel.Evidence == Evidence.Yes)
        {
            _heldSince = _heldSince == EngineTime.MaxValue ? context.Now : _heldSince;
        }
        else if (channel.Evidence == Evidence.No && !_rules.IsBusy && GateOf(context).State < MachineState.TapeOnGuide)
        {
            _heldSince = EngineTime.MaxValue;
            _reference = null;
        }

        bool changed = _rules.Tick(context.Now, GateOf(context));
        if (changed || _finding.IsOpen)
        {
            Settle(channel, context, changed, isReading: false);
        }
    }

    public void GoneStale(WatchContext context)
    {
        _rules.DropCounting();
        _finding.GoneStale(context);
    }

    public void BeginWatching()
    {
        _rules.DropCounting();
        _referenceSecond = long.MinValue;
        _heldSince = EngineTime.MaxValue;
    }

    public void OutOfService(WatchContext context) => _finding.OutOfService(context);

    public void Sync(StateArchive archive, FindingDesk desk)
    {
        _rules.Sync(archive);
        archive.Sync(ref _reference);
        archive.Sync(ref _airReferencePsi);
        archive.Sync(ref _isBaseline);
        archive.Sync(ref _referenceSecond);
        archive.Sync(ref _heldSince);
        archive.Sync(ref _judgedUntil);
        archive.Sync(ref _judgedState);
        archive.Sync(ref _leastShare);
        archive.Sync(ref _worst);
        archive.Sync(ref _saidShare);
        _finding.Sync(archive, desk);
    }

    /// <summary>Where no channel tells whether tape runs, tape on the guide must do.</summary>
    private static MachineState EffectiveState(WatchContext context)
    {
        MachineState state = context.Machine.State;
        return state == MachineState.TapeOnGuide && !EvidenceReader.CanTellRunning(context.Roles) ? MachineState.Running : state;
    }

    private Gate GateOf(WatchContext context)
    {
        MachineState state = EffectiveState(context);
        bool heldOver = state is MachineState.TapeOnGuide or MachineState.AirUp or MachineState.NoAir && context.Now < _judgedUntil;
        return new Gate(heldOver ? _judgedState : state, Settling: false);
    }

    /// <summary>Shares of the reference left, of the value and of its extreme; null while there is no reference.</summary>
    private (double Value, double Extreme)? Weigh(ChannelWatch channel, WatchContext context, double value, double lowest)
    {
        if (!_rules.IsBusy)
        {
            Refer(channel, context);
        }

        if (_reference is not { } reference || !(reference > 0))
        {
            return null;
        }

        // The air's part is removed where air is measured and the law holds.
        double expected = ExpectedShare(context) ?? 1;
        double divisor = reference * Math.Max(expected, 1); // the lesser of the two shares
        return (value / divisor, lowest / divisor);
    }

    private void Refer(ChannelWatch channel, WatchContext context)
    {
        if (channel.Baseline is { } baseline && IsOfHeldTape(channel, context, baseline))
        {
            _reference = baseline;
            _isBaseline = true;
            _airReferencePsi = AirBaselinePsi(context);
            return;
        }

        long second = SecondMeans.SecondOf(context.Now);
        if (second == _referenceSecond)
        {
            return;
        }

        _referenceSecond = second;
        if (_heldSince == EngineTime.MaxValue || channel.Means.MedianBefore(context.Now, 1, 3, _heldSince) is not { } median)
        {
            if (_isBaseline)
            {
                _reference = null; // the baseline was dropped
                _isBaseline = false;
            }

            return;
        }

        _reference = median;
        _isBaseline = false;
        ChannelWatch? air = Air(context);
        _airReferencePsi = air?.Means.MedianBefore(context.Now, 1, 3, _heldSince) * air?.PsiPerUnit;
    }

    /// <summary>A baseline taken with the guide open is no vacuum to lose: a share of almost nothing is noise.</summary>
    private static bool IsOfHeldTape(ChannelWatch channel, WatchContext context, double baseline) =>
        !channel.IsPressure || baseline * channel.PsiPerUnit / EvidenceReader.PsiPerInH2O >= context.Settings.TapeOnGuideInH2O;

    private static ChannelWatch? Air(WatchContext context) =>
        context.Roles.Fresh(ChannelRole.RegulatedAir, context.Now) is { IsPressure: true } air ? air : null;

    private static double? AirBaselinePsi(WatchContext context)
    {
        ChannelWatch? air = Air(context);
        return (air?.Baseline ?? air?.Definition.Setpoint) * air?.PsiPerUnit;
    }

    /// <summary>What the air alone would leave of the reference; null where it can't be told.</summary>
    private double? ExpectedShare(WatchContext context) =>
        Air(context) is { } air && _airReferencePsi is { } reference
            ? context.VacuumShare(air, reference)
            : null;

    private void Settle(ChannelWatch channel, WatchContext context, bool changed, bool isReading)
    {
        int worst = _rules.Worst;
        if (worst < 0)
        {
            if (_finding.IsOpen)
            {
                LimitDefinition rule = _rules[Math.Max(0, _finding.Rule)];
                bool left = !GateOf(context).Judges(MaskOf(rule), isActive: true, rule.Severity);
                _finding.End(context, Facts(channel, context, _finding.Rule, left ? "state-left" : "recovered"), _rules.BackSince);
            }

            return;
        }

        if (_finding.IsNews(worst, changed, isReading) || (_finding.MaySayWorse(context) && _saidShare - _leastShare > 0.05))
        {
            _saidShare = _leastShare;
            _finding.Say(context, worst, Facts(channel, context, worst, endedBy: null));
        }
    }

    private static int MaskOf(LimitDefinition limit) => limit.JudgedIn.Aggregate(0, (mask, state) => mask | (1 << (int)state));

    private FindingFacts Facts(ChannelWatch channel, WatchContext context, int rule, string? endedBy)
    {
        ChannelDefinition definition = channel.Definition;
        LimitDefinition limit = _rules[rule];
        double reference = _reference ?? double.NaN;
        double worst = double.IsNaN(_worst) ? channel.LastValue : _worst;
        double dropShare = 1 - (worst / reference);
        var details = new List<FindingDetail>
        {
            new("reference", reference),
            new("referenceIs", null, _isBaseline ? "baseline" : "recent-level"),
            new("dropPercent", 100 * dropShare),
        };

        string cause = "unknown";
        if (Air(context) is { } air && _airReferencePsi is { } airReference)
        {
            double airPsi = air.LastValue * air.PsiPerUnit;
            double? expected = context.VacuumShare(air, airReference);
            bool gone = expected is null && airPsi <= ChokedVenturi.ChokedAbovePsig();
            cause = gone || (expected is { } share && 1 - share >= Explains * dropShare) ? "fell-with-the-air" : "fell-by-itself";
            details.Add(new FindingDetail("airPsi", airPsi));
            details.Add(new FindingDetail("airReferencePsi", airReference));
            details.Add(new FindingDetail("airChangePsi", air.Means.MeanOfSecond(context.Now, 5) is { } before ? airPsi - (before * air.PsiPerUnit) : null));
            details.Add(new FindingDetail("expectedByAir", expected * reference));
        }

        if (endedBy is not null)
        {
            cause = _finding.Finding!.Line.Cause; // what was the cause does not change by its ending
        }

        string tape = Tape(context);
        details.Add(new FindingDetail("tape", null, tape));
        if (endedBy is not null)
        {
            details.Add(new FindingDetail("endedBy", null, endedBy));
        }

        return new FindingFacts
        {
            Kind = FindingKinds.VacuumLoss,
            Channel = definition.Id,
            Severity = limit.Severity,
            Start = _finding.Finding?.Line.Start ?? _rules.BeyondSince(rule),
            Value = worst,
            Limit = limit.Value * reference,
            Unit = definition.Unit,
            LimitSource = limit.Source,
            Cause = cause,
            Text = Sentence(definition, worst, reference, cause, tape, endedBy),
            Details = details,
        };
    }

    private static string Sentence(ChannelDefinition definition, double worst, double reference, string cause, string tape, string? endedBy) => (endedBy, tape, cause) switch
    {
        ("recovered", _, _) => $"{definition.Label} is back near its level of {Say.Number(reference)} {definition.Unit}; lowest was {Say.Number(worst)} {definition.Unit}.",
        (not null, _, _) => $"{definition.Label} is no longer judged: the tape no longer runs on the guide; lowest was {Say.Number(worst)} {definition.Unit}.",
        (_, "lifted", _) => $"{definition.Label} fell to {Say.Number(worst)} from {Say.Number(reference)} {definition.Unit} and the heads lost the tape while the control track goes on: the tape has lifted off the guide.",
        (_, "ran-out-or-stopped", _) => $"{definition.Label} fell to {Say.Number(worst)} from {Say.Number(reference)} {definition.Unit} together with heads and control track: the tape has run out or broken.",
        (_, _, "fell-with-the-air") => $"{definition.Label} fell to {Say.Number(worst)} from {Say.Number(reference)} {definition.Unit} because the air that makes it fell: look at the air.",
        (_, _, "fell-by-itself") => $"{definition.Label} fell to {Say.Number(worst)} from {Say.Number(reference)} {definition.Unit} with the air as it should be: look at tape, guide, slots and venturi.",
        _ => $"{definition.Label} fell to {Say.Number(worst)} from {Say.Number(reference)} {definition.Unit}; without an air reading it can't be told whether the air is the cause.",
    };

    private static string Tape(WatchContext context)
    {
        Evidence rf = EvidenceReader.Level(context, ChannelRole.RfLevel, out _);
        Evidence control = EvidenceReader.Level(context, ChannelRole.ControlTrack, out _);
        return (rf, control) switch
        {
            (Evidence.Yes, _) => "still-read",
            (Evidence.No, Evidence.Yes) => "lifted",
            (Evidence.No, Evidence.No) => "ran-out-or-stopped",
            _ => "unknown",
        };
    }
}
