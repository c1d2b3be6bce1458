namespace DriftWatch.Acquisition.PracticeRig;

/// <summary>
/// An edge of the tape bent or curled over one stretch of the pack: each turn of the reel brings the stretch to the heads
/// once, and the tips lose contact at one end of the pass. The control track runs along that edge and dips with it.
/// Rhythm from the reel: a radius r turns once in 2πr/v, and a pack grows by the tape wound on (derived). The shape of a
/// dip is an assumption.
/// </summary>
public sealed class DamagedEdge(TroubleParameters parameters)
{
    /// <summary>Thickness of the tape, inches. Source: from memory (1.4 mil).</summary>
    private const double TapeInches = 0.0014;

    /// <summary>Share of the pass that the loose end takes. Assumption.</summary>
    private const double EndShare = 0.25;

    /// <summary>Loss of the control track as a share of that at the pass's end. Assumption.</summary>
    private const double ControlTrackShare = 0.5;

    private double _radius = parameters.ReelRadiusInches;
    private double _turn;

    /// <summary>Loss at the end of the pass at this instant, dB.</summary>
    public double DipDb { get; private set; }

    /// <summary>What a detector that averages over the pass loses, dB.</summary>
    public double MeanLossDb => EndShare * DipDb;

    public double ControlTrackLossDb => ControlTrackShare * DipDb;

    /// <summary>Seconds of a turn of the reel now.</summary>
    public double TurnSeconds => 2 * Math.PI * _radius / parameters.TapeInchesPerSecond;

    /// <param name="seconds">The step.</param>
    /// <param name="tapeMoves">The reel turns.</param>
    /// <param name="damageDb">Greatest loss at the end of the pass, dB.</param>
    public void Step(double seconds, bool tapeMoves, double damageDb)
    {
        if (tapeMoves)
        {
            double turns = seconds / TurnSeconds;
            _turn = (_turn + turns) % 1;
            _radius += TapeInches * turns; // one layer a turn
        }

        double near = damageDb > 0 ? Math.Max(0, Math.Cos(2 * Math.PI * _turn)) : 0;
        DipDb = damageDb * near * near * near * near;
    }

    /// <summary>0 in the first three quarters of the pass, 1 at its end; for the other end give the angle's negative, radians.</summary>
    public static double Nearness(double angle) => Math.Clamp((angle - (Math.PI / 8)) / (Math.PI / 8), 0, 1);
}
