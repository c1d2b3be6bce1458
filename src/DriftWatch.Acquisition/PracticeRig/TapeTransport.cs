namespace DriftWatch.Acquisition.PracticeRig;

/// <summary>Wheel, tape and servos: what turns, what runs, and whether it is locked.</summary>
public sealed class TapeTransport(RigParameters parameters)
{
    /// <summary>Time constants in seconds. Assumptions.</summary>
    private const double SpinUp = 2.0;
    private const double SpinDown = 4.0;
    private const double ThreadLag = 0.15;

    /// <summary>Lock needs this much of the control track, dB below its normal level. Assumption.</summary>
    private const double ServoMarginDb = 20;

    /// <summary>The pressure switch lets the wheel start again this far above its trip. Assumption.</summary>
    private const double SwitchDeadbandPsi = 3;

    private double _good;
    private double _bad;
    private double _swing;
    private bool _airIsGood;

    public bool WheelOn { get; set; }

    public bool Threaded { get; set; }

    public bool Running { get; set; }

    /// <summary>Share of the guide's slots closed by tape, 0 to 1.</summary>
    public double Coverage { get; private set; }

    public double RevolutionsPerSecond { get; private set; }

    public bool Locked { get; private set; }

    /// <summary>Tracking error common to all heads, mil.</summary>
    public double TrackingMil { get; private set; }

    /// <summary>The operator's tracking knob, mil.</summary>
    public double TrackingKnobMil { get; set; }

    /// <summary>True while heads pass over moving tape.</summary>
    public bool HeadsRead { get; private set; }

    public void Step(double seconds, double regulatedPsi, double lift, bool runOut, double controlTrackLossDb, bool servoLost, RigRandom random)
    {
        // The machine's own switch: it stops the wheel, and lets it start again only on full air.
        _airIsGood = regulatedPsi >= parameters.PressureSwitchPsi + (_airIsGood ? 0 : SwitchDeadbandPsi);
        bool turns = WheelOn && _airIsGood;
        double speedTarget = turns ? parameters.RevolutionsPerSecond : 0;
        RevolutionsPerSecond += (speedTarget - RevolutionsPerSecond) * seconds / (turns ? SpinUp : SpinDown);

        double coverageTarget = Threaded && !runOut ? 1 - lift : 0;
        Coverage += (coverageTarget - Coverage) * seconds / (seconds + ThreadLag);

        bool atSpeed = RevolutionsPerSecond > 0.98 * parameters.RevolutionsPerSecond;
        bool tapeMoves = Running && Threaded && !runOut;
        HeadsRead = tapeMoves && RevolutionsPerSecond > 0.7 * parameters.RevolutionsPerSecond && Coverage > 0.02;
        if (tapeMoves && atSpeed && Coverage > 0.5 && controlTrackLossDb < ServoMarginDb && !servoLost)
        {
            _bad = 0;
            _good += seconds;
            Locked |= _good >= parameters.LockSeconds;
        }
        else
        {
            _good = 0;
            _bad += seconds;
            Locked &= _bad < 0.4;
        }

        // Unlocked, the capstan slides through the tracks: a triangle of half a pitch either way, twice in three seconds.
        _swing = Locked ? 0 : (_swing + (seconds / 1.5)) % 1;
        double sliding = 7.8 * ((4 * Math.Abs(_swing - 0.5)) - 1);
        double steady = parameters.TrackingMil + TrackingKnobMil + (0.08 * random.Normal());
        TrackingMil = Locked ? steady : sliding;
    }
}
