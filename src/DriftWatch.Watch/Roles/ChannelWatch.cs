using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Units;
using DriftWatch.Watch.Baselines;
using DriftWatch.Watch.Diagnosis;
using DriftWatch.Watch.Drifts;
using DriftWatch.Watch.Judges;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;
using DriftWatch.Watch.States;

namespace DriftWatch.Watch.Roles;

/// <summary>One channel under watch: its conversion, its newest value, its recent means, its baseline and its judges.</summary>
internal sealed class ChannelWatch
{
    private static readonly Unit Psi = Unit.Parse("psi");
    private static readonly Unit PerSecond = Unit.Parse("rev/s");
    private static readonly Unit Nanosecond = Unit.Parse("ns");

    private readonly LimitJudge _low;
    private readonly LimitJudge _high;
    private readonly PressureSag? _sag;
    private readonly VacuumLoss? _loss;
    private readonly DriftJudge? _drift;
    private readonly long _freshNanoseconds;
    private Calibration _calibration;
    private LineCalibration? _line;
    private byte[]? _enteredCalibration;
    private double _lastValue;
    private EngineTime _lastValidAt;
    private bool _hasValue;
    private double? _baseline;
    private double? _baselineCorrelation;
    private BaselineStanding _standing;
    private double? _baselineDeviation;
    private Tolerance? _tolerance;
    private double _toleranceAt = double.NaN;

    public ChannelWatch(ChannelDefinition definition, QuantityDefinition? quantity = null)
    {
        Definition = definition;
        Quantity = quantity;
        _calibration = definition.Calibration;
        _line = _calibration as LineCalibration;
        bool isPressure = Unit.TryParse(definition.Unit, out Unit unit) && unit.ConvertsTo(Psi);
        IsPressure = isPressure;
        PsiPerUnit = isPressure ? unit.Convert(1, Psi) : double.NaN;
        RevolutionsPerSecondPerUnit = unit is not null && unit.ConvertsTo(PerSecond) ? unit.Convert(1, PerSecond) : 1;
        NanosecondsPerUnit = unit is not null && unit.ConvertsTo(Nanosecond) ? unit.Convert(1, Nanosecond) : 1;
        bool isVacuum = definition is { Role: ChannelRole.GuideVacuum, Kind: ChannelKind.Series } && isPressure && definition.Limits.Any(VacuumLoss.Owns);
        _loss = isVacuum ? new VacuumLoss(definition) : null;
        _sag = definition is { Role: ChannelRole.RegulatedAir, Kind: ChannelKind.Series } && isPressure ? new PressureSag() : null;
        _low = new LimitJudge(isVacuum ? [.. definition.Limits.Where(l => !VacuumLoss.Owns(l))] : definition.Limits, LimitSide.Low);
        _high = new LimitJudge(definition.Limits, LimitSide.High);
        _drift = DriftJudge.Follows(definition) ? new DriftJudge(definition) : null;
        Absence = new AbsenceJudge(definition);

        // A value stands for the present for a few periods: long enough for one lost line, short enough to notice.
        TimeSpan fresh = TimeSpan.FromSeconds(2) > 3 * definition.Period ? TimeSpan.FromSeconds(2) : 3 * definition.Period;
        _freshNanoseconds = Math.Min(fresh.Ticks, definition.StaleAdvisory.Ticks) * TimeSpan.NanosecondsPerTick;
    }

    /// <summary>Replaced by an equal one at a reload: only words for people may differ.</summary>
    public ChannelDefinition Definition { get; set; }

    /// <summary>What it is, where it is worked out from channels instead of measured; null for a channel.</summary>
    public QuantityDefinition? Quantity { get; set; }

    public AbsenceJudge Absence { get; }

    public SecondMeans Means { get; } = new();

    /// <summary>The instrument it hangs on, where that has several channels; set by the engine.</summary>
    public InstrumentWatch? Instrument { get; set; }

    /// <summary>How it stands to its baseline, for the cause finder.</summary>
    public Movement Movement { get; } = new();

    /// <summary>What the state tracker makes of this channel.</summary>
    public Evidence Evidence { get; set; }

    public double LastValue => _lastValue;

    /// <summary>Of a derived quantity's last value, where its derivation can tell it.</summary>
    public double? StandardUncertainty { get; private set; }

    public EngineTime LastValidAt => _lastValidAt;

    public bool HasValue => _hasValue;

    public double? Baseline => _baseline;

    /// <summary>Standard deviation of second means when the baseline was taken; null without one.</summary>
    public double? BaselineDeviation => _baselineDeviation;

    /// <summary>Correlation of one second's mean with the next when the baseline was taken; null without one or where it could not be told.</summary>
    public double? BaselineCorrelation => _baselineCorrelation;

    /// <summary>Who stands behind the baseline; means nothing without one.</summary>
    public BaselineStanding Standing => _standing;

    /// <summary>Follows the drift from the baseline; null where there is no limit to drift to.</summary>
    public DriftJudge? Drift => _drift;

    /// <summary>A limit of this side is being told of: up (+1) or down (−1).</summary>
    public bool IsBeyondLimit(int sign) => sign > 0 ? _high.Finding is not null : _low.Finding is not null || _loss is { IsOpen: true };

    /// <summary>Judged against a baseline, and without one.</summary>
    public bool NeedsBaseline => _baseline is null && (_low.HasBaselineLimits || _high.HasBaselineLimits || _loss is not null);

    /// <summary>True when the unit is one of pressure, so that physics in psi applies.</summary>
    public bool IsPressure { get; }

    /// <summary>Multiplies a value of this channel into psi; all pressure units share their zero.</summary>
    public double PsiPerUnit { get; }

    /// <summary>Multiplies a wheel speed into revolutions a second; 1 where the unit is none of speed.</summary>
    public double RevolutionsPerSecondPerUnit { get; }

    /// <summary>Multiplies a time of this channel into ns; 1 where the unit is none of time.</summary>
    public double NanosecondsPerUnit { get; }

    public bool IsFrame => Definition.Kind == ChannelKind.Frame;

    /// <summary>A valid reading so new that it stands for the present.</summary>
    public bool IsFresh(EngineTime now) => _hasValue && now.Nanoseconds - _lastValidAt.Nanoseconds < _freshNanoseconds;

    public void OnSample(WatchContext context, in Reading reading)
    {
        double value = Convert(reading.Raw);
        double lowest = value;
        double highest = value;
        if (reading.HasExtremes)
        {
            double one = Convert(reading.Minimum);
            double other = Convert(reading.Maximum);
            lowest = Math.Min(value, Math.Min(one, other));
            highest = Math.Max(value, Math.Max(one, other));
        }

        if (!double.IsFinite(value + lowest + highest))
        {
            OnFault(context, FaultCode.NotANumber); // a calibration that overflows says nothing about the machine
            return;
        }

        OnValue(context, value, lowest, highest);
    }

    /// <summary>A frame is judged by its greatest magnitude; a frame of the wrong length is no reading.</summary>
    public void OnFrame(WatchContext context, Frame frame)
    {
        if (Definition.Axis is { } axis && axis.Count != frame.Count)
        {
            OnFault(context, FaultCode.Garbled);
            return;
        }

        double peak = 0;
        foreach (double raw in frame.Values)
        {
            double magnitude = Math.Abs(Convert(raw));
            if (!double.IsFinite(magnitude))
            {
                OnFault(context, FaultCode.NotANumber);
                return;
            }

            peak = Math.Max(peak, magnitude);
        }

        OnValue(context, peak, peak, peak);
    }

    public void OnFault(WatchContext context, FaultCode code) => Absence.OnFault(this, context, code);

    /// <summary>A derived quantity's value at this instant.</summary>
    public void OnDerived(WatchContext context, double value, double? standardUncertainty = null)
    {
        if (double.IsFinite(value))
        {
            StandardUncertainty = standardUncertainty;
            OnValue(context, value, value, value);
        }
        else
        {
            Untold(context);
        }
    }

    /// <summary>A derived quantity can't be told now: its channels are silent, or it means nothing in this state.</summary>
    public void Untold(WatchContext context)
    {
        if (_hasValue && !IsFresh(context.Now))
        {
            _hasValue = false;
            GoneStale(context);
        }
    }

    public void OnTick(WatchContext context)
    {
        if (Quantity is null)
        {
            Absence.OnTick(this, context); // the silence of a quantity is that of its channels, which is said
        }

        _low.Tick(this, context);
        _high.Tick(this, context);
        _loss?.Tick(this, context);
        _drift?.Tick(this, context);
    }

    /// <summary>The channel has become stale: findings that last say so and wait.</summary>
    public void GoneStale(WatchContext context)
    {
        _low.GoneStale(context);
        _high.GoneStale(context);
        _sag?.GoneStale(context);
        _loss?.GoneStale(context);
        _drift?.GoneStale(context);
    }

    /// <summary>Nobody watched before this instant: nothing is known of the present, and delays begin anew.</summary>
    public void BeginWatching(EngineTime now)
    {
        _hasValue = false;
        Movement.Forget();
        Means.Clear();
        Absence.BeginWatching(now);
        _low.DropCounting();
        _high.DropCounting();
        _sag?.BeginWatching();
        _loss?.BeginWatching();
        _drift?.DropRunning();
    }

    public void Enter(Calibration calibration, byte[] asJson)
    {
        _calibration = calibration;
        _line = calibration as LineCalibration;
        _enteredCalibration = asJson;
        Means.Clear(); // means of before and after do not mix
        _drift?.Clear();
    }

    /// <summary>At a reload: a changed calibration in the bench file replaces one that was entered.</summary>
    public void KeepCalibrationOf(ChannelWatch former)
    {
        _calibration = former._calibration;
        _line = former._line;
        _enteredCalibration = former._enteredCalibration;
    }

    /// <summary>How far it may go from a level, by its limits.</summary>
    public Tolerance ToleranceAt(double level)
    {
        if (_tolerance is null || level != _toleranceAt)
        {
            _tolerance = Tolerance.Of(Definition, level);
            _toleranceAt = level;
        }

        return _tolerance.Value;
    }

    /// <summary>What a baseline taken now would be; null without a reading in the last 30 s.</summary>
    public BaselineValue? Present(EngineTime now)
    {
        if (Means.MeanAt(now) is not { } mean)
        {
            return null;
        }

        (double Correlation, double EffectiveSize)? memory = Means.MemoryAt(now);
        return new BaselineValue(
            Definition.Id, Definition.Unit, mean, Means.DeviationAt(now), memory?.Correlation, memory?.EffectiveSize, Means.CountAt(now),
            Quantity is null ? _calibration.Version : null);
    }

    public void TakeBaseline(BaselineValue taken, BaselineStanding standing)
    {
        _baseline = taken.Value;
        _baselineDeviation = taken.Deviation;
        _baselineCorrelation = taken.Correlation;
        _standing = standing;
        Rebase();
    }

    /// <summary>Another tape: the machine's baseline was that of the last one.</summary>
    public void BeginTape()
    {
        _drift?.BeginTape();
        if (_baseline is not null && _standing != BaselineStanding.Confirmed)
        {
            _baseline = null;
            _baselineDeviation = null;
            _baselineCorrelation = null;
            _standing = BaselineStanding.Provisional;
            Rebase();
        }
    }

    public void OutOfService(WatchContext context)
    {
        Absence.OutOfService(context);
        _low.OutOfService(context);
        _high.OutOfService(context);
        _sag?.OutOfService(context);
        _loss?.OutOfService(context);
        _drift?.OutOfService(context);
    }

    public Gate Gate(WatchContext context)
    {
        MachineState state = context.Machine.State;
        return Definition.Role switch
        {
            // The lock channel alone ends the locked state; it must not switch its own limits off by that.
            ChannelRole.ServoLock => new Gate(state == MachineState.Running ? MachineState.Locked : state, false),
            ChannelRole.RegulatedAir => AirGate(context, state),
            ChannelRole.SupplyAir or ChannelRole.GuideVacuum => new Gate(state, false),
            _ => new Gate(state, context.Machine.IsSettling || context.Machine.IsStopping),
        };
    }

    public bool IsGatedOff(WatchContext context, LimitDefinition limit) =>
        !Gate(context).Judges(limit.JudgedIn.Aggregate(0, (mask, state) => mask | (1 << (int)state)), isActive: true, limit.Severity);

    public void Sync(StateArchive archive, FindingDesk desk)
    {
        archive.Sync(ref _enteredCalibration);
        if (!archive.IsWriting && _enteredCalibration is { } json)
        {
            _calibration = (Calibration)PayloadJson.FromUtf8(InputKind.Calibration, json);
            _line = _calibration as LineCalibration;
        }

        archive.Sync(ref _lastValue);
        archive.Sync(ref _lastValidAt);
        archive.Sync(ref _hasValue);
        double? uncertainty = StandardUncertainty;
        archive.Sync(ref uncertainty);
        StandardUncertainty = uncertainty;
        archive.Sync(ref _baseline);
        archive.Sync(ref _standing);
        archive.Sync(ref _baselineDeviation);
        archive.Sync(ref _baselineCorrelation);
        Movement.Sync(archive);
        Evidence evidence = Evidence;
        archive.Sync(ref evidence);
        Evidence = evidence;
        Means.Sync(archive);
        Absence.Sync(archive, desk);
        _low.Sync(archive, desk);
        _high.Sync(archive, desk);
        _sag?.Sync(archive, desk);
        _loss?.Sync(archive, desk);
        _drift?.Sync(archive, desk);
    }

    private void OnValue(WatchContext context, double value, double lowest, double highest)
    {
        _lastValue = value;
        _lastValidAt = context.Now;
        _hasValue = true;
        Absence.OnValid(this, context);
        Means.Add(context.Now, value);
        if (!_low.IsEmpty)
        {
            _low.Sample(this, context, value, lowest);
        }

        if (!_high.IsEmpty)
        {
            _high.Sample(this, context, value, highest);
        }

        _sag?.Sample(this, context, value, lowest);
        _loss?.Sample(this, context, value, lowest);
        _drift?.Sample(value);
    }

    /// <summary>
    /// The alarms of the air guard a turning bearing. While the wheel stands only advisories are judged, and none once
    /// the air is off: a machine at rest, with the wheel as the other witness that this needs. Once it turns, all are.
    /// </summary>
    private static Gate AirGate(WatchContext context, MachineState state)
    {
        bool stands = EvidenceReader.WheelStands(context);
        return new Gate(state, Settling: false, Resting: stands && state <= MachineState.NoAir, AdvisoryOnly: stands);
    }

    private void Rebase()
    {
        _low.Rebase(_baseline);
        _high.Rebase(_baseline);
        _drift?.Rebase();
    }

    /// <summary>A raw value in the channel's unit, by the calibration in force.</summary>
    public double InUnit(double raw) => Convert(raw);

    private double Convert(double raw) => _line is { } line ? (line.Gain * raw) + line.Offset : _calibration.Convert(raw);
}
