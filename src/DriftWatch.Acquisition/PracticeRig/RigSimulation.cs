using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;

namespace DriftWatch.Acquisition.PracticeRig;

/// <summary>
/// A bench that does not exist: compressor, receiver, regulator, air-bearing wheel, vacuum guide, four heads and tape,
/// stepped in fixed steps from a seed and a script. Pure: no clock, no I/O; the same seed and script give the same run.
/// Read it with <see cref="Sense"/> (what an instrument says) or <see cref="Truth"/> (what is so).
/// </summary>
public sealed class RigSimulation
{
    /// <summary>One step. Periods of channels are best multiples of it.</summary>
    public const double StepSeconds = 0.01;

    private readonly RigScript _script;
    private readonly RigConditions _conditions;
    private readonly AirPlant _air;
    private readonly GuideVacuum _guide;
    private readonly TapeTransport _tape;
    private readonly RfHeads _heads;
    private readonly TimingRecord _timing;
    private readonly RigSensor[] _sensors;
    private readonly WetAir _wet;
    private readonly DamagedEdge _edge;
    private readonly double[] _loss = new double[4];
    private readonly RigRandom _airRandom;
    private readonly RigRandom _tapeRandom;
    private readonly RigRandom _headRandom;
    private readonly RigRandom _pictureRandom;
    private readonly RigRandom _frameRandom;
    private long _steps;
    private double _regulatorNoise;
    private double _settingDrift;
    private double _railNoise;
    private double _controlTrackDb = RfHeads.FloorDb;
    private double _programme;
    private double _programmeTarget;
    private double _nextScene;
    private double _loudness;
    private double _servoWander;
    private uint _frames;
    private readonly bool _hasWear;

    public RigSimulation(ulong seed, RigScript script, bool is625 = false)
        : this(seed, script, RigParameters.From(seed, is625))
    {
    }

    public RigSimulation(ulong seed, RigScript script, RigParameters parameters)
    {
        _script = script;
        Parameters = parameters;
        _hasWear = script.Faults.Any(fault => fault.Kind == RigFaultKind.HeadWear);
        _conditions = new RigConditions(script, seed);
        _airRandom = RigRandom.Stream(seed, "air");
        _tapeRandom = RigRandom.Stream(seed, "tape");
        _headRandom = RigRandom.Stream(seed, "heads");
        _pictureRandom = RigRandom.Stream(seed, "picture");
        _frameRandom = RigRandom.Stream(seed, "frames");
        double receiver = _airRandom.Between(parameters.Air.CutInPsi + 2, parameters.Air.CutOutPsi - 2);
        _air = new AirPlant(parameters.Air, receiver);
        _guide = new GuideVacuum(parameters.VenturiAreaRatio, parameters.GuideDirt);
        _tape = new TapeTransport(parameters);
        _heads = new RfHeads(parameters.Heads);
        _wet = new WetAir(parameters.Troubles, RigRandom.Stream(seed, "water"));
        _edge = new DamagedEdge(parameters.Troubles);
        _timing = new TimingRecord(parameters.RevolutionsPerSecond);
        _sensors = [.. Enum.GetValues<RigInput>().Select(input => new RigSensor(input, seed))];
    }

    public RigScript Script => _script;

    public RigParameters Parameters { get; }

    /// <summary>Seconds since the run began.</summary>
    public double Seconds => _steps / 100.0;

    /// <summary>The script's clock; equals <see cref="Seconds"/> until the script begins again.</summary>
    public double ScriptSeconds => _script.ClockAt(Seconds);

    /// <summary>Faults, acts and nuisances as they stand.</summary>
    public RigConditions Conditions => _conditions;

    public bool Locked => _tape.Locked;

    public void Step()
    {
        _steps++;
        if (_steps % 100 == 1)
        {
            double cold = Math.Exp(-Seconds / 1200);
            foreach (RigSensor sensor in _sensors)
            {
                sensor.Warm = cold;
            }
        }

        _conditions.Advance(ScriptSeconds, Seconds, _tape.Locked);
        Obey();

        _settingDrift += (0.0004 * _airRandom.Normal()) - (_settingDrift * StepSeconds / 600);
        _air.SettingShiftPsi = _conditions.RegulatorKnobPsi + _settingDrift;
        _wet.Step(StepSeconds, _conditions[RigFaultKind.Moisture]);
        double throat = _conditions.VenturiIsShut ? 1 : Share(RigFaultKind.VenturiClog);
        _air.Step(StepSeconds, AirTroubles(throat));
        _regulatorNoise += (0.008 * _airRandom.Normal()) - (_regulatorNoise * StepSeconds / 0.2);

        double runOut = _conditions[RigFaultKind.TapeRunOut];
        double controlLoss = _conditions[RigFaultKind.ControlTrackLoss];
        _tape.Step(
            StepSeconds, _air.RegulatedPsi, Share(RigFaultKind.TapeLift), runOut >= 0.5, controlLoss,
            _conditions[RigFaultKind.ServoLoss] >= 0.5, _tapeRandom);
        _guide.Step(
            StepSeconds, _air.RegulatedPsi, _tape.Coverage, Share(RigFaultKind.VacuumLeak) + _wet.VacuumLossShare,
            Share(RigFaultKind.SlotsDirty), throat);
        StepPicture();

        bool tapeMoves = _tape.Running && _tape.Threaded && runOut < 0.5;
        _edge.Step(StepSeconds, tapeMoves, _conditions[RigFaultKind.EdgeDamage]);
        double common = _conditions[RigFaultKind.OxideShed] + _conditions.SpliceDb + _edge.MeanLossDb
            + (0.5 * _conditions[RigFaultKind.GuideContact]) - _conditions.Tape.LevelDb;
        for (int head = 0; head < 4; head++)
        {
            _loss[head] = common + _conditions.HeadClogDb(head + 1) + _conditions.HeadWearDb(head + 1);
        }

        _heads.Step(StepSeconds, _tape.HeadsRead, _guide.Hold, _tape.TrackingMil, _programme, _loss, _headRandom);
        _controlTrackDb = tapeMoves
            ? Math.Max(
                RfHeads.FloorDb,
                Parameters.ControlTrackDb + _conditions.Tape.ControlTrackDb - controlLoss - _edge.ControlTrackLossDb - (0.3 * _conditions.SpliceDb) + (0.1 * _tapeRandom.Normal()))
            : RfHeads.FloorDb + (0.3 * _tapeRandom.Normal());
        _railNoise += (0.00006 * _airRandom.Normal()) - (_railNoise * StepSeconds / 300);
    }

    /// <summary>What is so, in the unit of the quantity: psi, inH2O, dB, rev/s, IRE, °C …</summary>
    public double Truth(RigInput input) => input switch
    {
        RigInput.SupplyAir or RigInput.SupplyLoop => _air.ReceiverPsi,
        RigInput.RegulatedAirVolts => Math.Max(0, _air.RegulatedPsi + (_air.ValveIsOpen ? _regulatorNoise : 0)),
        RigInput.SensorRail => Math.Max(0, RigInputs.NominalRailVolts + _railNoise - _conditions[RigFaultKind.RailSag]),
        RigInput.GuideVacuum => _guide.InH2O,
        >= RigInput.RfHead1 and <= RigInput.RfHead4 => _heads.LevelDb[input - RigInput.RfHead1],
        RigInput.ControlTrack => _controlTrackDb,
        RigInput.CorrectorUse => CorrectorUse(),
        RigInput.ServoLock => _tape.Locked ? 1 : 0,
        RigInput.WheelSpeed => _tape.RevolutionsPerSecond,
        RigInput.SyncLevel => !_tape.HeadsRead ? 0 : _tape.Locked ? 40 + (0.15 * _programme) : 30 + (4 * _servoWander),
        RigInput.AudioLevel => !_tape.Running || _tape.Coverage < 0.1 ? -72 : _conditions.IsProgramme ? _loudness : -20,
        RigInput.AmbientTemperature => RoomDegC(),
        RigInput.AmbientHumidity => Parameters.RoomHumidity - (2.2 * (RoomDegC() - Parameters.RoomDegC)),
        RigInput.DewPoint => Parameters.DewPointDegC + _conditions[RigFaultKind.DryerExhausted] + (0.6 * Wave(2700, 1)),
        RigInput.ControlTrackPhase => ControlTrackPhaseDegrees(),
        RigInput.RfTilt => RfTiltDb(),
        RigInput.CompressorRunning => _air.CompressorRuns ? 1 : 0,
        _ => throw new ArgumentOutOfRangeException(nameof(input), input, "A frame has no single value; ask for Frame."),
    };

    /// <summary>
    /// What the instrument says, in the input's native unit, or a fault. Each call draws from the sensor's own stream:
    /// call it once for each input and step at most.
    /// </summary>
    public Reading Sense(RigInput input)
    {
        RigSensor sensor = _sensors[(int)input];
        if (_conditions.Sensor(RigFaultKind.SensorDead, input) > 0)
        {
            return Reading.Failed(FaultCode.NoAnswer);
        }

        double humAngle = 2 * Math.PI * Parameters.MainsHz * Seconds;
        double value = sensor.Sense(Electrical(input, Truth(input)), humAngle, _conditions.Sensor(RigFaultKind.SensorNoisy, input));
        if (_conditions.Sensor(RigFaultKind.SensorStuck, input) > 0)
        {
            value = sensor.Stuck(value);
        }
        else
        {
            sensor.Unstick();
        }

        if (_conditions.Sensor(RigFaultKind.SensorOverRange, input) > 0)
        {
            value = sensor.OverRange();
        }

        return Reading.Of(_conditions.Sensor(RigFaultKind.SensorOpenLoop, input) > 0 ? sensor.Open() : value);
    }

    /// <summary>One revolution of timing error on an axis, as the instrument says it, or null when it gives no answer.</summary>
    public Frame? Frame(FrameAxis axis)
    {
        _frames++;
        if (_conditions.Sensor(RigFaultKind.SensorDead, RigInput.TimingError) > 0)
        {
            return null;
        }

        TimingGeometry geometry = Geometry();
        double air = Math.Clamp((48.5 - _air.RegulatedPsi) / 4, 0, 4);
        double whirlNs = Math.Sqrt(2) * Parameters.TimingNoiseNs * (0.4 + (2.5 * air) + MoreWhirl());
        double whirlPhase = _frameRandom.Between(0, 2 * Math.PI);
        double offset = _tape.Locked ? 12 * _servoWander : 900 * _servoWander;
        double noise = Parameters.TimingNoiseNs * (1 + _conditions.Sensor(RigFaultKind.SensorNoisy, RigInput.TimingError));
        var values = new double[axis.Count];
        double looseEnds = (0.3 * _conditions[RigFaultKind.GuideContact]) + (0.5 * _edge.DipDb);
        RigSensor converter = _sensors[(int)RigInput.TimingError];
        for (int i = 0; i < values.Length; i++)
        {
            int head = axis.Heads[i] - 1;
            double angle = axis.AnglesDegrees[i] * Math.PI / 180;
            double wheel = angle + (head * Math.PI / 2);

            // Sub-synchronous whirl of a gas bearing, 0.48 of a revolution: no two revolutions show the same phase.
            double error = _timing.ErrorNs(geometry, head, angle) + offset
                + (whirlNs * Math.Sin((0.48 * wheel) + whirlPhase)) + (noise * (1 + (looseEnds * DamagedEdge.Nearness(angle * Parameters.Troubles.LooseEnd))) * _frameRandom.Normal());
            values[i] = converter.Sense(_tape.HeadsRead ? error : 400 * _frameRandom.Normal(), 0, 0);
        }

        double first = ((axis.AnglesDegrees[0] + (90 * (axis.Heads[0] - 1))) % 360 + 360) % 360;
        return new Frame(_frames, first, values);
    }

    private TimingGeometry Geometry() => Parameters.Timing with
    {
        PenetrationMil = Parameters.Timing.PenetrationMil + _conditions[RigFaultKind.GuidePenetrationShift] - _conditions.Tape.PenetrationMil,
        HeightMil = Parameters.Timing.HeightMil + _conditions[RigFaultKind.GuideHeightShift] - _conditions.Tape.HeightMil,
        ProjectionMil = _hasWear ? WornProjectionMil() : Parameters.Timing.ProjectionMil,
        Hold = Math.Clamp(_guide.Hold, 0, 1),
    };

    private double[] WornProjectionMil() =>
        [.. Parameters.Timing.ProjectionMil.Select((mil, head) => mil - (Parameters.Troubles.WearMilPerDb * _conditions.HeadWearDb(head + 1)))];

    /// <summary>Whirl of a bearing in distress or with water in it, rms as a multiple of the timing noise.</summary>
    private double MoreWhirl() => (Parameters.Troubles.WhirlPerDistress * _conditions[RigFaultKind.BearingDistress]) + _wet.Whirl;

    private double Share(RigFaultKind kind) => Math.Clamp(_conditions[kind], 0, 1);

    private AirTroubles AirTroubles(double throat) => new()
    {
        CompressorLoss = Share(RigFaultKind.CompressorFailing),
        RegulatorShiftPsi = _conditions[RigFaultKind.RegulatorCreep] - _conditions[RigFaultKind.RegulatorSag] + _wet.RegulatorPsi,
        FilterExtraPsi = _conditions[RigFaultKind.FilterClog],
        SupplyLeakLitresPerMinute = _conditions[RigFaultKind.SupplyLeak],
        LineLeakLitresPerMinute = _conditions[RigFaultKind.LeakDownstream],
        FeedThroughMore = _conditions[RigFaultKind.RegulatorFollowsSupply],
        BearingFlowMore = _conditions[RigFaultKind.BearingDistress],
        VenturiFlowLess = throat,
    };

    /// <summary>Wavelength 62.5 mil of the control track's sine (published tape standard): 360/62.5 = 5.76° a mil.</summary>
    private double ControlTrackPhaseDegrees()
    {
        if (_controlTrackDb < Parameters.ControlTrackDb - 20)
        {
            return 0;
        }

        double phase = (5.76 * _tape.TrackingMil) + Parameters.Troubles.PhaseZeroDegrees;
        return phase - (360 * Math.Round(phase / 360));
    }

    private double RfTiltDb() => !_tape.HeadsRead
        ? 0
        : Parameters.Troubles.TiltDb - (Parameters.Troubles.LooseEnd * (_conditions[RigFaultKind.GuideContact] + _edge.DipDb));

    private void Obey()
    {
        _air.ValveIsOpen = _conditions.AirIsOn;
        _tape.WheelOn = _conditions.WheelIsOn;
        _tape.Threaded = _conditions.IsThreaded;
        _tape.Running = _conditions.IsRunning;
        _tape.TrackingKnobMil = _conditions.TrackingKnobMil + _conditions[RigFaultKind.TrackingShift] + _conditions.Tape.TrackingMil;
    }

    /// <summary>Scenes change every few seconds and move the carrier, and with it every head's level; speech moves the meter.</summary>
    private void StepPicture()
    {
        if (Seconds >= _nextScene)
        {
            _nextScene = Seconds + _pictureRandom.Between(2, 14);
            _programmeTarget = _conditions.IsProgramme ? _pictureRandom.Normal() : 0;
        }

        _programme += (_programmeTarget - _programme) * (StepSeconds / 0.3);
        _loudness += ((-24 - _loudness) * (StepSeconds / 0.8)) + (0.9 * _pictureRandom.Normal());
        _servoWander += (0.14 * _pictureRandom.Normal()) - (_servoWander * StepSeconds);
        _servoWander = Math.Clamp(_servoWander, -2, 2);
    }

    /// <summary>
    /// Greatest timing error of a revolution as a share of the corrector's range of ±500 ns (assumption). From the
    /// geometry's amplitudes, three deviations of noise, and what is left of the servo's wander.
    /// </summary>
    private double CorrectorUse()
    {
        if (!_tape.HeadsRead)
        {
            return 0;
        }

        if (!_tape.Locked)
        {
            return 100;
        }

        TimingGeometry g = Geometry();
        double peak = 0;
        for (int head = 0; head < 4; head++)
        {
            double middle = _timing.ErrorNs(g, head, 0);
            double ends = Math.Max(
                Math.Abs(_timing.ErrorNs(g, head, Math.PI / 4) - (0.5 * middle)),
                Math.Abs(_timing.ErrorNs(g, head, -Math.PI / 4) - (0.5 * middle)));
            peak = Math.Max(peak, Math.Max(ends, Math.Abs(0.5 * middle)));
        }

        return Math.Min(100, (peak + 40 + (3 * Parameters.TimingNoiseNs * (1 + MoreWhirl())) + (12 * Math.Abs(_servoWander))) / 5);
    }

    private double RoomDegC() =>
        Parameters.RoomDegC + (1.2 * Wave(86400, 0)) + (0.25 * Wave(1100, 2)) + (1.2 * (1 - Math.Exp(-Seconds / 2400)));

    private double Wave(double periodSeconds, int harmonic) =>
        Math.Sin((2 * Math.PI * Seconds / periodSeconds) + Parameters.Phase + harmonic);

    /// <summary>From the quantity to what reaches the converter.</summary>
    private double Electrical(RigInput input, double truth) => input switch
    {
        RigInput.SupplyLoop => 4 + (16 * truth / RigInputs.SupplyFullScalePsi),
        RigInput.SupplyAir => Truth(RigInput.SensorRail) * (0.1 + (0.8 * truth / RigInputs.SupplyFullScalePsi)),
        RigInput.RegulatedAirVolts => Truth(RigInput.SensorRail) * (0.1 + (0.8 * truth / RigInputs.RegulatedFullScalePsi)),
        RigInput.GuideVacuum => 0.5 + (4 * truth / RigInputs.VacuumFullScaleInH2O),
        >= RigInput.RfHead1 and <= RigInput.ControlTrack =>
            RigInputs.DetectorVoltsPerDb * (truth - RigInputs.DetectorInterceptDb),
        _ => truth,
    };
}
