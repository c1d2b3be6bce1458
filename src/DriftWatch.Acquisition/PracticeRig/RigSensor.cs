namespace DriftWatch.Acquisition.PracticeRig;

/// <summary>
/// One sensor with its wire and its converter: gain and zero error, a zero that moves while it warms up, noise, mains
/// hum, the converter's steps and its ends. Works in the input's native unit.
/// </summary>
public sealed class RigSensor
{
    /// <summary>Steps of the converter per native unit; a reading is a whole number divided by it, so it stays a short decimal.</summary>
    private readonly double _codesPerUnit;
    private readonly double _least;
    private readonly double _greatest;
    private readonly double _gain;
    private readonly double _zero;
    private readonly double _warmUp;
    private readonly double _noise;
    private readonly double _hum;
    private readonly double _humPhase;
    private readonly double _openLevel;
    private readonly RigRandom _random;
    private double? _stuckAt;
    private double _warm = 1;

    public RigSensor(RigInput input, ulong seed)
    {
        _random = RigRandom.Stream(seed, "sensor " + RigInputs.NameOf(input));
        SensorKind kind = KindOf(input);
        _codesPerUnit = kind.CodesPerUnit;
        _least = kind.Least;
        _greatest = kind.Greatest;
        _openLevel = kind.OpenLevel;
        _gain = 1 + (kind.GainError * _random.Between(-1, 1));
        _zero = kind.ZeroError * _random.Between(-1, 1);
        _warmUp = kind.WarmUp * _random.Between(-1, 1);
        _noise = kind.Noise * _random.Between(0.7, 1.3);
        _hum = kind.Hum * _random.Between(0.3, 1);
        _humPhase = _random.Between(0, 2 * Math.PI);
    }

    /// <summary>Share of the warm-up error that is left, 1 cold to 0 warm; set now and then by the rig.</summary>
    public double Warm { set => _warm = value; }

    /// <summary>What the converter gives now.</summary>
    /// <param name="truth">The quantity in the native unit.</param>
    /// <param name="humAngle">Mains phase, radians.</param>
    /// <param name="noisy">Further noise as a multiple of the sensor's own.</param>
    public double Sense(double truth, double humAngle, double noisy)
    {
        double hum = _hum > 0 ? _hum * Math.Sin(humAngle + _humPhase) : 0;
        return Convert((truth * _gain) + _zero + (_warmUp * _warm) + hum + (_noise * (1 + noisy) * _random.Normal()));
    }

    public double Open() => Convert(_openLevel + (Math.Abs(_openLevel) * 0.1 * _random.Normal()));

    public double OverRange() => Convert(double.MaxValue);

    /// <summary>Holds the first value seen since the fault began.</summary>
    public double Stuck(double value) => _stuckAt ??= value;

    public void Unstick() => _stuckAt = null;

    private double Convert(double value) =>
        Math.Round(Math.Clamp(value, _least, _greatest) * _codesPerUnit, MidpointRounding.ToEven) / _codesPerUnit;

    /// <summary>
    /// Sizes of the errors in native units. Assumptions of the usual order: 0.2 % gain, a sixteen-bit converter of
    /// 0.2 mV for pressures, twelve bits of 1.25 mV for detectors (0.05 dB).
    /// </summary>
    private static SensorKind KindOf(RigInput input) => input switch
    {
        RigInput.SupplyAir => new(5000, 0, 6.5534, GainError: .0015, ZeroError: .005, WarmUp: .004, Noise: .0012, Hum: .002, OpenLevel: .01),
        RigInput.SupplyLoop => new(500, 0, 25, GainError: .0015, ZeroError: .02, WarmUp: .015, Noise: .004, Hum: .006, OpenLevel: .02),
        RigInput.RegulatedAirVolts => new(5000, 0, 6.5534, GainError: .001, ZeroError: .004, WarmUp: .004, Noise: .0012, Hum: .002, OpenLevel: .01),
        RigInput.SensorRail => new(5000, 0, 6.5534, GainError: .0005, ZeroError: .001, Noise: .0004, Hum: .0006, OpenLevel: .01),
        RigInput.GuideVacuum => new(5000, 0, 6.5534, GainError: .003, ZeroError: .006, WarmUp: .006, Noise: .003, Hum: .002, OpenLevel: .01),
        >= RigInput.RfHead1 and <= RigInput.ControlTrack =>
            new(800, 0, 5.11875, GainError: .002, ZeroError: .005, WarmUp: .004, Noise: .001, Hum: .001, OpenLevel: .01),
        RigInput.CorrectorUse => new(10, 0, 100, Noise: .2),
        RigInput.WheelSpeed => new(1000, 0, 500, Noise: .003),
        RigInput.SyncLevel => new(100, 0, 200, GainError: .004, Noise: .05),
        RigInput.AudioLevel => new(10, -90, 30, Noise: .1),
        RigInput.AmbientTemperature => new(100, -40, 85, ZeroError: .3, Noise: .01),
        RigInput.AmbientHumidity => new(100, 0, 100, ZeroError: 1.5, Noise: .03),
        RigInput.DewPoint => new(10, -80, 30, ZeroError: .8, Noise: .05),
        RigInput.TimingError => new(4, -8000, 8000, GainError: .002),
        RigInput.ControlTrackPhase => new(100, -180, 180, ZeroError: 2, WarmUp: .3, Noise: .3),
        RigInput.RfTilt => new(100, -40, 40, ZeroError: .1, Noise: .08),
        _ => new(1, 0, 1),
    };

    private readonly record struct SensorKind(
        double CodesPerUnit, double Least, double Greatest, double GainError = 0, double ZeroError = 0, double WarmUp = 0,
        double Noise = 0, double Hum = 0, double OpenLevel = 0);
}
