namespace DriftWatch.Acquisition.PracticeRig;

/// <summary>
/// What the script has done so far, what is wrong at this instant, and the nuisances nobody announced. Faults of one
/// kind add up.
/// </summary>
public sealed class RigConditions
{
    private static readonly int KindCount = Enum.GetValues<RigFaultKind>().Length;

    private readonly RigStep[] _steps;
    private readonly RigFault[] _faults;
    private readonly bool _hasNuisances;
    private readonly RigRandom _random;
    private readonly RigRandom _tapes;
    private readonly double[] _level = new double[KindCount];
    private readonly double[] _clog = new double[5];
    private readonly double[] _worn = new double[5];
    private readonly double[,] _sensor = new double[KindCount, RigInputs.Count];
    private readonly bool _hasSensorFaults;
    private int _next;
    private double _lastClock = -1;
    private double _spliceUntil = -1;
    private double _spliceDepth;
    private double _nextSplice;
    private double _nextTouch;
    private double _knobPsi;
    private double _knobMil;
    private double _handPsi;
    private double _handMil;

    public RigConditions(RigScript script, ulong seed)
    {
        _steps = [.. script.Steps];
        _faults = [.. script.Faults];
        _hasNuisances = script.HasNuisances;
        _random = RigRandom.Stream(seed, "nuisances");
        _tapes = RigRandom.Stream(seed, "tapes");
        _hasSensorFaults = script.Faults.Any(fault => fault.Input is not null);
        _nextSplice = _random.Between(200, 900);
        _nextTouch = _random.Between(900, 2400);
    }

    public bool AirIsOn { get; private set; }

    public bool WheelIsOn { get; private set; }

    public bool IsThreaded { get; private set; }

    public bool IsRunning { get; private set; }

    public bool IsProgramme { get; private set; }

    /// <summary>True while the venturi's cock is shut.</summary>
    public bool VenturiIsShut { get; private set; }

    /// <summary>What sets the tape on the machine apart from the first one.</summary>
    public RigTape Tape { get; private set; } = RigTape.First;

    /// <summary>How far the regulator's knob stands from where it was set, psi.</summary>
    public double RegulatorKnobPsi => _knobPsi + _handPsi;

    public double TrackingKnobMil => _knobMil + _handMil;

    /// <summary>Dip of a passing splice, dB.</summary>
    public double SpliceDb { get; private set; }

    /// <summary>The present magnitude of a kind of fault.</summary>
    public double this[RigFaultKind kind] => _level[(int)kind];

    public double HeadClogDb(int head) => _clog[head];

    public double HeadWearDb(int head) => _worn[head];

    /// <summary>The present magnitude of a sensor's fault.</summary>
    public double Sensor(RigFaultKind kind, RigInput input) => _hasSensorFaults ? _sensor[(int)kind, (int)input] : 0;

    /// <param name="clock">The script's clock, seconds.</param>
    /// <param name="seconds">Seconds since the run began.</param>
    /// <param name="locked">True while the machine plays: only then do splices pass.</param>
    public void Advance(double clock, double seconds, bool locked)
    {
        if (clock < _lastClock)
        {
            _next = 0; // the script begins again: knobs go back to where they were set
            _knobPsi = 0;
            _knobMil = 0;
        }

        _lastClock = clock;
        while (_next < _steps.Length && _steps[_next].AtSeconds <= clock)
        {
            Do(_steps[_next++], seconds);
        }

        if (_hasNuisances)
        {
            Disturb(seconds, locked);
        }

        SpliceDb = seconds < _spliceUntil ? _spliceDepth : 0;
        if (_faults.Length == 0)
        {
            return;
        }

        Array.Clear(_level);
        Array.Clear(_clog);
        Array.Clear(_worn);
        if (_hasSensorFaults)
        {
            Array.Clear(_sensor);
        }

        foreach (RigFault fault in _faults)
        {
            double amount = fault.At(clock);
            if (amount == 0)
            {
                continue;
            }

            _level[(int)fault.Kind] += amount;
            if (fault.Head is { } head)
            {
                (fault.Kind == RigFaultKind.HeadWear ? _worn : _clog)[head] += amount;
            }

            if (fault.Input is { } input)
            {
                _sensor[(int)fault.Kind, (int)input] += amount;
            }
        }
    }

    private void Do(RigStep step, double seconds)
    {
        switch (step.Act)
        {
            case RigAct.AirOn:
            case RigAct.AirOff:
                AirIsOn = step.Act == RigAct.AirOn;
                break;
            case RigAct.WheelOn:
            case RigAct.WheelOff:
                WheelIsOn = step.Act == RigAct.WheelOn;
                break;
            case RigAct.Thread:
            case RigAct.Unthread:
                IsThreaded = step.Act == RigAct.Thread;
                break;
            case RigAct.Run:
            case RigAct.Stop:
                IsRunning = step.Act == RigAct.Run;
                break;
            case RigAct.Programme:
            case RigAct.Bars:
                IsProgramme = step.Act == RigAct.Programme;
                break;
            case RigAct.TouchRegulator:
                _knobPsi += step.Amount;
                break;
            case RigAct.TouchTracking:
                _knobMil += step.Amount;
                break;
            case RigAct.VenturiOff:
            case RigAct.VenturiOn:
                VenturiIsShut = step.Act == RigAct.VenturiOff;
                break;
            case RigAct.NextTape:
                Tape = RigTape.Draw(_tapes);
                break;
            case RigAct.Splice:
                BeginSplice(seconds, step.Amount);
                break;
        }
    }

    /// <summary>Splices every 4 to 20 minutes of playing; a knob touched, slightly, every 15 to 60 minutes. Assumptions; all stay inside what is normal.</summary>
    private void Disturb(double seconds, bool locked)
    {
        if (seconds >= _nextSplice)
        {
            _nextSplice = seconds + _random.Between(240, 1200);
            double depth = _random.Between(3, 7);
            if (locked)
            {
                BeginSplice(seconds, depth);
            }
        }

        if (seconds >= _nextTouch)
        {
            _nextTouch = seconds + _random.Between(900, 3600);

            // A hand moves a knob and, next time, back: it never wanders off.
            _handPsi = _random.Between(-0.35, 0.35);
            _handMil = _random.Between(-0.3, 0.3);
        }
    }

    private void BeginSplice(double seconds, double depthDb)
    {
        _spliceDepth = depthDb;
        _spliceUntil = seconds + _random.Between(0.05, 0.14);
    }
}
