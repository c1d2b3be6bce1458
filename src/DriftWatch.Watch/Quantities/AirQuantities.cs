using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.Pneumatics;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Units;
using DriftWatch.Watch.Judges;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;
using DriftWatch.Watch.States;

namespace DriftWatch.Watch.Quantities;

/// <summary>
/// What supply, regulator and dew point tell together: headroom, the compressor's period, duty and rate of fall, the use of air where the receiver's volume is known, how long the setpoint can be held if the fall goes on, how far
/// the regulator follows its supply, and the margin to frost at the venturi's throat. The physics is in <see cref="DriftWatch.Analysis.Pneumatics"/>.
/// </summary>
internal sealed class AirQuantities : Derivation
{
    /// <summary>Told where the supply is not running out, or will hold longer than this: an hour. Source: common practice, no source.</summary>
    public const double LongestReserveSeconds = 3600;

    /// <summary>Without cycles to know the switch point by, a fall counts once headroom is below this. Source: from memory, the advisory for supply over regulated air.</summary>
    private const double LowHeadroomPsi = 15;

    /// <summary>A cycle so many times as long as usual is no longer told: the compressor doesn't cycle. Source: common practice, no source.</summary>
    private const double LongestCycles = 3;

    private static readonly Unit Celsius = Unit.Parse("degC");

    private readonly SupplyCycleTracker _tracker = new();
    private readonly SupplyHistory _history = new();
    private readonly SupplyEffectTracker _effect = new();
    private readonly SupplyChange _change = new();
    private EngineTime _takenAt = EngineTime.MinValue;
    private bool _isTainted;
    private long _second = long.MinValue;
    private bool? _runs;
    private EngineTime _runsSince;

    // What follows from the bench alone is worked out anew after a restart.
    private ChannelDefinition? _convertedFor;
    private double _celsiusAtZero;
    private double _celsiusPerUnit = 1;

    public override void OnTick(WatchContext context, QuantityBoard board)
    {
        ChannelWatch? supply = Pressure(context, ChannelRole.SupplyAir);
        ChannelWatch? regulated = Pressure(context, ChannelRole.RegulatedAir);

        // A cycle in which the machine was not in use, or not all the time, tells nothing of one in which it was.
        bool isOutOfUse = context.Machine.State == MachineState.NoAir || EvidenceReader.WheelStands(context);
        _isTainted |= isOutOfUse;

        bool? runs = context.Roles.Fresh(ChannelRole.CompressorRunning, context.Now) is { } running ? running.LastValue >= 0.5 : null;
        _runsSince = runs == _runs ? _runsSince : context.Now;
        _runs = runs;
        if (supply is not null && supply.LastValidAt > _takenAt)
        {
            Take(context, board, supply, regulated);
        }

        double? headroom = supply is null || regulated is null ? null : Psi(supply) - Psi(regulated);
        Give(context, board.Of(QuantityKind.SupplyHeadroom), headroom);
        Give(context, board.Of(QuantityKind.TimeToSetpoint), Reserve(supply, regulated ?? Seated(context, ChannelRole.RegulatedAir)));

        long second = context.Now.Nanoseconds / EngineTime.NanosecondsPerSecond;
        if (second == _second)
        {
            return;
        }

        _second = second;
        if (supply is null || regulated is null || isOutOfUse)
        {
            _effect.Interrupt();
        }
        else
        {
            _effect.Add(context.Now.Seconds, Psi(supply), Psi(regulated));
        }

        SupplyCycle? cycle = supply is null ? null : Newest();
        Remember(board, cycle);
        Give(context, board.Of(QuantityKind.CompressorPeriod), cycle?.PeriodSeconds);
        Give(context, board.Of(QuantityKind.CompressorDuty), cycle is { } newest ? 100 * Duty(context.Now, newest, Psi(supply!), board.Of(QuantityKind.CompressorDuty)) : null);
        Give(context, board.Of(QuantityKind.SupplyFallRate), cycle is { } falls ? 60 * FallRate(context.Now, falls, Psi(supply!)) : null);
        Give(context, board.Of(QuantityKind.AirUse), cycle is { } used ? Slpm(board, FallRate(context.Now, used, Psi(supply!))) : null);
        Give(context, board.Of(QuantityKind.SupplyFallBend), cycle is not null && _history.FallBend() is { IsKnown: true, Value: var bend } ? 100 * bend : null);
        Give(context, board.Of(QuantityKind.SupplyRiseRate), cycle is { } rises ? 60 * RiseRate(context.Now, rises) : null);
        Uncertain? effect = cycle is not null && regulated is not null && _effect.PsiPerPsi is { IsKnown: true } known ? known.Value : null;
        Give(context, board.Of(QuantityKind.RegulatorEffect), 100 * effect?.Value, 100 * effect?.StandardUncertainty);
        Give(context, board.Of(QuantityKind.ThroatFrostMargin), FrostMargin(context, supply, regulated));
    }

    public override void OnBaseline(BaselineStanding standing)
    {
        // At a person's line-up the cycles of now become those to compare with; too few yet, and the first to come will.
        if (standing == BaselineStanding.Confirmed && !_history.TakeReference())
        {
            _history.ForgetReference();
        }
    }

    public override void BeginWatching()
    {
        _tracker.BeginWatching();
        _effect.Interrupt();
        _isTainted = true;
    }

    public override void OutOfService(WatchContext context) => _change.OutOfService(context);

    public override void Sync(StateArchive archive, FindingDesk desk)
    {
        _tracker.Sync(archive);
        _history.Sync(archive);
        _effect.Sync(archive);
        _change.Sync(archive, desk);
        archive.Sync(ref _takenAt);
        archive.Sync(ref _isTainted);
        archive.Sync(ref _second);
        archive.Sync(ref _runsSince);
        bool knows = _runs.HasValue;
        bool runs = _runs.GetValueOrDefault();
        archive.Sync(ref knows);
        archive.Sync(ref runs);
        _runs = knows ? runs : null;
    }

    private void Take(WatchContext context, QuantityBoard board, ChannelWatch supply, ChannelWatch? regulated)
    {
        _takenAt = supply.LastValidAt;
        bool rose = _tracker.Direction > 0;
        if (_tracker.Add(_takenAt.Seconds, Psi(supply), _runs, out SupplyCycle cycle) && !_isTainted)
        {
            _history.Add(cycle with { RegulatedPsia = _effect.MeanRegulatedPsi + StandardAir.PressurePsia ?? 0 });
            _effect.EndCycle();
            _change.OnCycle(context, board.Of(QuantityKind.CompressorDuty) ?? supply, _history);
        }
        else if (!rose && _tracker.Direction > 0)
        {
            // A cut-in that ended no cycle worth keeping: what comes now is whole.
            _effect.EndCycle();
        }
        else
        {
            return;
        }

        _isTainted = false;
    }

    /// <summary>The newest cycle, while the compressor still cycles or works to: not when the supply has only fallen for long.</summary>
    private SupplyCycle? Newest() =>
        _history.Newest is { } newest && (_runs == true || FallingSeconds < LongestCycles * newest.PeriodSeconds) ? newest : null;

    /// <summary>How long the supply has been falling without a rise.</summary>
    private double FallingSeconds => _tracker.Direction < 0 ? _tracker.HoldsSinceSeconds!.Value - _tracker.TurnSeconds : 0;

    /// <summary>
    /// Line-up is often over before a few cycles are: a quantity that has no baseline then gets that of the reference cycles, until a person takes one.
    /// </summary>
    private void Remember(QuantityBoard board, SupplyCycle? cycle)
    {
        if (cycle is null || _history.Reference() is not { } then)
        {
            return;
        }

        SupplyCycle spread = _history.ReferenceSpread()!.Value;
        Remember(board.Of(QuantityKind.CompressorPeriod), then.PeriodSeconds, spread.PeriodSeconds);
        Remember(board.Of(QuantityKind.CompressorDuty), 100 * then.Duty, 100 * spread.Duty);
        Remember(board.Of(QuantityKind.SupplyFallRate), 60 * then.FallPsiPerSecond, 60 * spread.FallPsiPerSecond);
        if (Slpm(board, then.FallPsiPerSecond) is { } use)
        {
            Remember(board.Of(QuantityKind.AirUse), use, Slpm(board, spread.FallPsiPerSecond));
        }

        if (then.FallBend is { } bend)
        {
            Remember(board.Of(QuantityKind.SupplyFallBend), 100 * bend, 100 * spread.FallBend);
        }

        Remember(board.Of(QuantityKind.SupplyRiseRate), 60 * then.RisePsiPerSecond, 60 * spread.RisePsiPerSecond);
        if (_effect.PsiPerPsi is { IsKnown: true } effect)
        {
            Remember(board.Of(QuantityKind.RegulatorEffect), 100 * effect.Value.Value, null);
        }
    }

    /// <summary>Standard litres a minute that make the receiver fall so fast; null where its volume is not known.</summary>
    private static double? Slpm(QuantityBoard board, double fallPsiPerSecond) =>
        board.Of(QuantityKind.AirUse)?.Quantity?.ReceiverLitres is { } litres ? Receiver.FlowSlpm(litres, 60 * fallPsiPerSecond) : null;

    private static void Remember(ChannelWatch? quantity, double value, double? deviation)
    {
        if (quantity is { Baseline: null })
        {
            quantity.TakeBaseline(
                new BaselineValue(quantity.Definition.Id, quantity.Definition.Unit, value, deviation, null, null, SupplyHistory.ReferenceCycles, null), BaselineStanding.Provisional);
        }
    }

    /// <summary>Fall at rest: of the ramp in hand once that is half as long as the last, not below where the compressor comes on: there it may be at work.</summary>
    private double FallRate(EngineTime now, SupplyCycle newest, double psi) =>
        _tracker.Direction < 0 && _runs != true && psi > newest.CutInPsi && IsLong(now, (1 - newest.Duty) * newest.PeriodSeconds) && _tracker.Ramp is { } ramp
            ? Math.Max(0, -ramp.PsiPerSecond)
            : newest.FallPsiPerSecond;

    /// <summary>Rise at work: of the ramp in hand once that is half as long as the last; nothing where the compressor is known to work and the supply falls.</summary>
    private double RiseRate(EngineTime now, SupplyCycle newest) =>
        (_tracker.Direction > 0 || _runs == true) && IsLong(now, newest.Duty * newest.PeriodSeconds) && _tracker.Ramp is { } ramp
            ? Math.Max(0, ramp.PsiPerSecond)
            : newest.RisePsiPerSecond;

    private bool IsLong(EngineTime now, double lastSeconds) => now.Seconds - _tracker.TurnSeconds > 0.5 * lastSeconds;

    /// <summary>
    /// A compressor that has to work ever longer completes no cycle to tell of it: the duty of the one in hand is at least what it has worked already beside the
    /// newest time of rest. Where no channel tells that it works, the supply does by not falling; below where it comes on it has to work.
    /// </summary>
    private double Duty(EngineTime now, SupplyCycle newest, double psi, ChannelWatch? told)
    {
        double since = _runs == true ? _runsSince.Seconds : _runs == false ? now.Seconds : _tracker.HoldsSinceSeconds ?? now.Seconds;
        double works = now.Seconds - since;
        double duty = Math.Max(newest.Duty, works / (works + ((1 - newest.Duty) * newest.PeriodSeconds)));
        bool isCalledFor = _runs is null && psi < newest.CutInPsi && told is { HasValue: true };
        return isCalledFor ? Math.Max(duty, told!.LastValue / 100) : duty;
    }

    /// <summary>
    /// Seconds until the regulator has lost its headroom if the supply goes on falling: counted only where the compressor should have come on and has not, or does not hold.
    /// An hour where it isn't so. Null without a supply or a setpoint.
    /// </summary>
    private double? Reserve(ChannelWatch? supply, ChannelWatch? regulated)
    {
        if (supply is null || regulated is not { IsPressure: true, Definition.Setpoint: { } setpoint })
        {
            return null;
        }

        double psi = Psi(supply);
        double set = setpoint * regulated.PsiPerUnit;
        double counts = _history.Usual() is { IsKnown: true, Value: var usual }
            ? usual.CutInPsi - Math.Max(_tracker.HysteresisPsi, SupplyHistory.LeastChangeShare * (usual.CutOutPsi - usual.CutInPsi))
            : set + LowHeadroomPsi;
        if (psi > counts || _tracker.Direction >= 0 || _tracker.Ramp is not { PsiPerSecond: < 0 } ramp)
        {
            return LongestReserveSeconds;
        }

        double seconds = TimeToSetpoint.From(psi, set + TimeToSetpoint.HeadroomPsi, new Uncertain(-ramp.PsiPerSecond, 0)).Seconds;
        return Math.Min(LongestReserveSeconds, seconds);
    }

    private double? FrostMargin(WatchContext context, ChannelWatch? supply, ChannelWatch? regulated)
    {
        if (context.Roles.Fresh(ChannelRole.DewPoint, context.Now) is not { } dew || regulated is null)
        {
            return null;
        }

        if (!ReferenceEquals(_convertedFor, dew.Definition))
        {
            _convertedFor = dew.Definition;
            bool converts = Unit.TryParse(dew.Definition.Unit, out Unit unit) && unit.ConvertsTo(Celsius);
            _celsiusAtZero = converts ? unit.Convert(0, Celsius) : 0;
            _celsiusPerUnit = converts ? unit.Convert(1, Celsius) - _celsiusAtZero : 1;
        }

        double celsius = _celsiusAtZero + (_celsiusPerUnit * dew.LastValue);
        double room = context.Roles.Fresh(ChannelRole.AmbientTemperature, context.Now) is { Definition.Unit: "degC" } ambient ? ambient.LastValue : 20;
        if (celsius > HumidAir.HighestOverWaterC || !(room is > -40 and < 80) || Psi(regulated) < 0)
        {
            return null;
        }

        var answer = ThroatFrost.At(
            new Uncertain(celsius, ThroatFrost.DewPointUncertaintyK), Math.Max(0, supply is null ? Psi(regulated) : Psi(supply)), Psi(regulated), new Uncertain(room, ThroatFrost.TemperatureUncertaintyK));
        return answer.IsKnown ? answer.Value.MarginK.Value : null;
    }

    private static double Psi(ChannelWatch channel) => channel.LastValue * channel.PsiPerUnit;

    private static ChannelWatch? Pressure(WatchContext context, ChannelRole role) =>
        context.Roles.Fresh(role, context.Now) is { IsPressure: true } channel ? channel : null;

    /// <summary>A setpoint holds while its channel is silent.</summary>
    private static ChannelWatch? Seated(WatchContext context, ChannelRole role) =>
        context.Roles.Of(role) is [var first, ..] ? first : null;
}
