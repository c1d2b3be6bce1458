namespace DriftWatch.Analysis.TimingGeometry;

/// <summary>How the error is made visible.</summary>
public enum SetUpProcedure
{
    /// <summary>A new recording after every move, reproduced so that the machine's own error stands in it with opposite sense: playback and record halves add.</summary>
    NewRecordingOppositeSense,

    /// <summary>A recording of this machine replayed on it without having moved anything: both halves cancel and nothing is seen.</summary>
    ReplayUnmoved,

    /// <summary>A tape to be preserved: the guide is set to the tape, and nothing is recorded.</summary>
    ArchivePlayback,
}

/// <summary>Where the loop stands.</summary>
public enum HalfErrorState
{
    /// <summary>Wants the error seen in the first recording.</summary>
    WaitsForFirst,

    /// <summary>Gives a move; wants the error seen in a new recording.</summary>
    Move,

    /// <summary>The error is within what can be seen or matters.</summary>
    Settled,

    /// <summary>Four re-recordings did not settle it.</summary>
    GaveUp,

    /// <summary>The error grew twice, and each move made it grow: the knob turns the other way.</summary>
    WrongSense,

    /// <summary>The error grew twice without following the moves: backlash, or something else moves.</summary>
    Backlash,

    /// <summary>This procedure can't show the error.</summary>
    Refused,
}

/// <summary>What to do next.</summary>
/// <param name="State">Where the loop stands.</param>
/// <param name="MoveMil">The next move of the guide in mil, positive in the error's own sense; 0 where there is none.</param>
/// <param name="GoPast">The move is against the last approach: go past it and come back, so that play is taken up on the same side.</param>
/// <param name="KnobScale">How far the guide moved for a mil asked for, as the steps so far have it; null before two recordings.</param>
/// <param name="KnobScaleError">Its standard error.</param>
/// <param name="StepsLeft">Re-recordings that should still be needed; null where the loop does not go on.</param>
/// <param name="NoiseFloorMil">What the noise of the readings leaves of the machine's own error for good, one standard deviation.</param>
/// <param name="ThresholdMil">The visible error at which the loop stops.</param>
/// <param name="Text">In words.</param>
public sealed record HalfErrorAdvice(
    HalfErrorState State, double MoveMil, bool GoPast, double? KnobScale, double? KnobScaleError, int? StepsLeft, double NoiseFloorMil, double ThresholdMil, string Text);

/// <summary>
/// The half-error rule as a state machine. What is seen, v = 2x + noise, is twice the machine's own error x where the recording shows it
/// with opposite sense; a move of −g·v with a knob that moves k of what is asked leaves x′ = (1 − 2gk)x − gk·noise. With g = ½ and
/// k = 1 one step does; k of 0.7 or 1.3 takes three; g = 1 never settles. k is learned from the steps, Δv = 2k·move. After a move
/// the old recording still shows half of the error: only a new one counts. The rule is common practice; the model is derived.
/// </summary>
public sealed class HalfErrorLoop
{
    /// <summary>Common practice: what four re-recordings do not settle has another cause.</summary>
    public const int MostRerecordings = 4;

    /// <summary>Visible errors below 0.1 mil are left alone. Common practice, no source.</summary>
    public const double LeastThresholdMil = 0.1;

    /// <summary>Before the knob is known it is taken to be within 0.7 and 1.3: half the error then leaves at most 0.3 of it. Chosen.</summary>
    private const double UnknownShare = 0.3;

    /// <summary>A knob is taken for what its steps say only within these. Chosen: beyond them something else is wrong.</summary>
    private const double LeastScale = 0.4;
    private const double GreatestScale = 2.5;

    private readonly double _gain;
    private readonly double _errorMil;
    private readonly List<double> _seenMil = [];
    private readonly List<double> _movesMil = [];
    private int _grown;
    private HalfErrorState _state;

    /// <param name="procedure">How the error is made visible.</param>
    /// <param name="standardErrorMil">Standard error of the readings to come, in visible mil, above 0.</param>
    /// <param name="gain">g within 0.1 and 0.5; ½ is the rule, ¼ is slower and quieter.</param>
    public HalfErrorLoop(SetUpProcedure procedure, double standardErrorMil, double gain = 0.5)
    {
        if (!(standardErrorMil > 0 && double.IsFinite(standardErrorMil)))
        {
            throw new ArgumentOutOfRangeException(nameof(standardErrorMil), standardErrorMil, "A reading has a standard error above 0.");
        }

        if (!(gain >= 0.1 && gain <= 0.5))
        {
            throw new ArgumentOutOfRangeException(nameof(gain), gain, "A gain is 0.1 to 0.5; beyond half the loop overshoots.");
        }

        Procedure = procedure;
        _errorMil = standardErrorMil;
        _gain = gain;
        _state = procedure == SetUpProcedure.NewRecordingOppositeSense ? HalfErrorState.WaitsForFirst : HalfErrorState.Refused;
        Advice = Say(0, false, null);
    }

    public SetUpProcedure Procedure { get; }

    /// <summary>What to do now.</summary>
    public HalfErrorAdvice Advice { get; private set; }

    /// <summary>The errors told so far, in visible mil.</summary>
    public IReadOnlyList<double> SeenMil => _seenMil;

    /// <summary>The moves made so far, in mil.</summary>
    public IReadOnlyList<double> MovesMil => _movesMil;

    /// <summary>Visible error over its start, as far as it is known.</summary>
    public double? Convergence => _seenMil.Count > 1 && _seenMil[0] != 0 ? _seenMil[^1] / _seenMil[0] : null;

    private double ThresholdMil => Math.Max(2 * _errorMil, LeastThresholdMil);

    /// <summary>Tells the error seen in a new recording.</summary>
    /// <param name="seenMil">Visible error in mil, signed, finite.</param>
    /// <param name="movedMil">What was really asked of the knob before this recording, if not what was advised.</param>
    /// <returns>What to do next.</returns>
    /// <exception cref="InvalidOperationException">The loop has ended.</exception>
    public HalfErrorAdvice Tell(double seenMil, double? movedMil = null)
    {
        if (!double.IsFinite(seenMil) || movedMil is { } asked && !double.IsFinite(asked))
        {
            throw new ArgumentException($"An error of {seenMil} after a move of {movedMil} is no reading.", nameof(seenMil));
        }

        if (_state is not (HalfErrorState.WaitsForFirst or HalfErrorState.Move))
        {
            throw new InvalidOperationException($"The loop has ended: {_state}. Begin another.");
        }

        if (_seenMil.Count > 0)
        {
            _movesMil.Add(movedMil ?? Advice.MoveMil);

            // Noise alone moves the difference of two readings by √2 of one's error.
            bool grew = Math.Abs(seenMil) - Math.Abs(_seenMil[^1]) > Math.Sqrt(2) * _errorMil;
            _grown += grew ? 1 : 0;
        }

        _seenMil.Add(seenMil);
        (double Scale, double Error)? knob = Knob();
        _state = Math.Abs(seenMil) < ThresholdMil ? HalfErrorState.Settled
            : _grown >= 2 ? knob is { } k && k.Scale < -2 * k.Error ? HalfErrorState.WrongSense : HalfErrorState.Backlash
            : _movesMil.Count >= MostRerecordings ? HalfErrorState.GaveUp
            : HalfErrorState.Move;
        double move = _state == HalfErrorState.Move ? -_gain * seenMil / Usable(knob) : 0;

        // The first move sets the side from which every setting is approached.
        int side = Math.Sign(_movesMil.Count > 0 ? _movesMil[0] : move);
        Advice = Say(move, move != 0 && Math.Sign(move) != side, knob);
        return Advice;
    }

    /// <summary>k by least squares through the origin over the steps, Δv = 2k·move with an error of √2·SE in each Δv.</summary>
    private (double Scale, double Error)? Knob()
    {
        double products = 0;
        double squares = 0;
        for (int i = 0; i < _movesMil.Count; i++)
        {
            products += 2 * _movesMil[i] * (_seenMil[i + 1] - _seenMil[i]);
            squares += 4 * _movesMil[i] * _movesMil[i];
        }

        return squares > 0 ? (products / squares, Math.Sqrt(2 / squares) * _errorMil) : null;
    }

    /// <summary>What to divide by: the knob's scale once it is known to a quarter, else 1.</summary>
    private static double Usable((double Scale, double Error)? knob) =>
        knob is { } k && k.Scale is >= LeastScale and <= GreatestScale && k.Error <= 0.25 * k.Scale ? k.Scale : 1;

    private HalfErrorAdvice Say(double move, bool goPast, (double Scale, double Error)? knob)
    {
        // The knob's scale once used is divided out again, so that what acts is the gain.
        double leaves = 1 - (2 * _gain);
        double floor = _gain / Math.Sqrt(1 - (leaves * leaves)) * _errorMil;
        int? left = null;
        if (_state == HalfErrorState.Move)
        {
            double unsure = knob is { } k && Usable(knob) != 1 ? k.Error / k.Scale : UnknownShare;
            double factor = Math.Clamp(Math.Abs(leaves) + (2 * _gain * unsure), 1e-3, 0.99);
            left = Math.Max(1, (int)Math.Ceiling(Math.Log(ThresholdMil / Math.Abs(_seenMil[^1])) / Math.Log(factor)));
        }

        return new HalfErrorAdvice(_state, move, goPast, knob?.Scale, knob?.Error, left, floor, ThresholdMil, Words(move, goPast, left));
    }

    private string Words(double move, bool goPast, int? left) => _state switch
    {
        HalfErrorState.Refused when Procedure == SetUpProcedure.ReplayUnmoved =>
            "A recording of this machine replayed on it unmoved shows nothing of its error: both halves cancel. Make a recording that shows it with opposite sense, or play a reference tape.",
        HalfErrorState.Refused =>
            "Never record on a tape that is to be preserved: set the guide to the tape until its error is gone.",
        HalfErrorState.WaitsForFirst =>
            "Record the test signal, reproduce it, and tell the error that is seen.",
        HalfErrorState.Settled =>
            $"Leave it: {Math.Abs(_seenMil[^1]):0.00} mil is seen, below {ThresholdMil:0.00} mil, after {_movesMil.Count} re-recording{(_movesMil.Count == 1 ? "" : "s")}.",
        HalfErrorState.GaveUp =>
            $"Stop: {MostRerecordings} re-recordings have not settled it ({Math.Abs(_seenMil[^1]):0.00} mil is still seen). Look for play in the knob, a loose guide or weak vacuum.",
        HalfErrorState.WrongSense =>
            "Stop: the error has grown twice, each time with the move. The knob works the other way: undo the moves and begin again with the sense reversed.",
        HalfErrorState.Backlash =>
            "Stop: the error has grown twice and does not follow the moves. Play in the knob, or something else moves: take up the play from one side and begin again.",
        _ => (goPast
                ? $"Move the guide by {move:+0.000;-0.000} mil against the last approach: go past that by a quarter turn and come back, so that play is taken up on the same side."
                : $"Move the guide by {move:+0.000;-0.000} mil.")
            + $" Then make a NEW recording: the old one still shows half of the error. About {left} more."
            + (_grown == 1 ? " The error grew once; if it grows again the sense is wrong or there is play." : ""),
    };
}
