using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Pneumatics;

/// <summary>One whole cycle of a compressor on its receiver, from cut-in to cut-in.</summary>
/// <param name="StartSeconds">Of the cut-in that began it, on the readings' clock.</param>
/// <param name="PeriodSeconds">To the next cut-in.</param>
/// <param name="Duty">Share of the period in which the pressure rose, 0 … 1.</param>
/// <param name="CutInPsi">Where it began to rise.</param>
/// <param name="CutOutPsi">Where it began to fall.</param>
/// <param name="RisePsiPerSecond">Least-squares slope of the rise, above 0.</param>
/// <param name="FallPsiPerSecond">Of the fall, above 0 while it falls.</param>
/// <param name="RegulatedPsia">Mean of the pressure that the machine draws at, psi absolute; 0 where it isn't known.</param>
/// <param name="FallBend">
/// By how much faster it fell in the upper half of its swing than in the lower, as a share of the whole fall's rate; null where a half has too few readings. A hole
/// to the air gives in proportion to the absolute pressure before it, what is drawn through the regulator does not: from 100 to 78 psi a leak falls off by a fifth.
/// </param>
public readonly record struct SupplyCycle(
    double StartSeconds, double PeriodSeconds, double Duty, double CutInPsi, double CutOutPsi, double RisePsiPerSecond, double FallPsiPerSecond,
    double RegulatedPsia = 0, double? FallBend = null);

/// <summary>How the tracker works.</summary>
public sealed record SupplyCycleOptions
{
    /// <summary>A longer silence ends a cycle uncounted, s. Source: common practice, no source.</summary>
    public double LongestGapSeconds { get; init; } = 10;

    /// <summary>No turn of less than this, psi, whatever the noise. Source: common practice, no source: a pressure switch has 5 psi and more between its points.</summary>
    public double LeastTurnPsi { get; init; } = 1;
}

/// <summary>
/// Follows the sawtooth of a compressor on its receiver, reading by reading: cut-in, cut-out, period, duty, rates of rise and fall. A turn is believed when
/// the pressure has gone back from its extreme by a hysteresis that is learned: six deviations of the reading's noise, a sixth of the usual swing, or
/// <see cref="SupplyCycleOptions.LeastTurnPsi"/>, the greatest; the turn itself is at the extreme. Wild readings, two in a row, are held off by a median of five. Where a channel tells that the compressor runs, its
/// change makes the turn at once. Constant size; nothing is allocated once it runs.
/// </summary>
public sealed class SupplyCycleTracker(SupplyCycleOptions? options = null)
{
    // Of x₍ᵢ₊₁₎ − 2xᵢ + x₍ᵢ₋₁₎ of independent normal readings the mean magnitude is √6·√(2/π) of their deviation.
    private const double SigmaPerMeanBend = 0.5116633539732443;
    private const int Window = 5;
    private const double NoiseShare = 1.0 / 64;
    private const double TurnSigmas = 6;
    private const double TurnShareOfSwing = 1.0 / 6;
    private const double SwingShare = 0.25;

    /// <summary>Readings that a ramp's slope needs. Source: common practice, no source.</summary>
    private const int LeastRamp = 5;

    /// <summary>Readings that half a ramp's needs. Source: common practice, no source.</summary>
    private const int LeastHalf = 10;

    private readonly SupplyCycleOptions _options = options ?? new SupplyCycleOptions();
    private readonly double[] _times = new double[Window];
    private readonly double[] _readings = new double[Window];
    private readonly double[] _sorted = new double[Window];
    private int _held;
    private double _meanBend;
    private int _bends;
    private double _swing;
    private int _direction;
    private double _extremePsi;
    private double _extremeSeconds;
    private double _oppositePsi;
    private double _oppositeSeconds;
    private RampLine _ramp;
    private RampLine _since;
    private RampLine _upper;
    private RampLine _lower;
    private double _turnPsi;
    private double _turnSeconds;
    private bool _isWhole;
    private bool _hasRise;
    private double _cutInSeconds;
    private double _cutInPsi;
    private double _cutOutSeconds;
    private double _cutOutPsi;
    private double _rise;
    private bool _ran;
    private bool _knowsRunning;

    /// <summary>1 while the pressure rises, −1 while it falls, 0 while that is not known.</summary>
    public int Direction => _direction;

    /// <summary>When it turned to the ramp it is in, on the readings' clock; means nothing while the direction isn't known.</summary>
    public double TurnSeconds => _turnSeconds;

    /// <summary>
    /// Since when the pressure has not fallen, on the readings' clock: the turn while it rises, else its lowest so far, which while it falls is hardly behind
    /// now; null while the direction isn't known. A compressor that only just holds the pressure makes no turn for long.
    /// </summary>
    public double? HoldsSinceSeconds => _direction switch { > 0 => _turnSeconds, < 0 => _extremeSeconds, _ => null };

    /// <summary>Standard deviation of a reading, psi, from its second differences; 0 at first.</summary>
    public double NoisePsi => _meanBend * SigmaPerMeanBend;

    /// <summary>By how much the pressure must come back before a turn is believed, psi.</summary>
    public double HysteresisPsi => Math.Max(_options.LeastTurnPsi, Math.Max(TurnSigmas * NoisePsi, TurnShareOfSwing * _swing));

    /// <summary>Slope of the ramp it is in, psi/s, negative while it falls, with its error as if readings were independent; null below five readings or where the direction isn't known.</summary>
    public (double PsiPerSecond, double Error)? Ramp => _direction != 0 && _ramp.Count >= LeastRamp ? (_ramp.Slope, _ramp.SlopeError) : null;

    /// <summary>Nobody watched: the cycle in hand is not counted; noise and swing are remembered.</summary>
    public void BeginWatching()
    {
        _held = 0;
        _direction = 0;
        _isWhole = false;
        _hasRise = false;
        _knowsRunning = false;
        _ramp = default;
        _since = default;
    }

    /// <summary>Takes the next reading.</summary>
    /// <param name="seconds">Later than the one before.</param>
    /// <param name="supplyPsi">Before the regulator; gauge or absolute.</param>
    /// <param name="compressorRuns">Whether the compressor runs; null where no channel tells.</param>
    /// <param name="told">A cycle that is complete.</param>
    /// <returns>Whether one was told.</returns>
    /// <exception cref="ArgumentException">A number is not finite, or the time is not later than the one before.</exception>
    public bool Add(double seconds, double supplyPsi, bool? compressorRuns, out SupplyCycle told)
    {
        Finite.Require(seconds);
        Finite.Require(supplyPsi);
        told = default;
        if (_held > 0 && !(seconds > _times[_held - 1]))
        {
            throw new ArgumentException($"Times must rise: {seconds} s is not later than {_times[_held - 1]} s.", nameof(seconds));
        }

        if (_held > 0 && seconds - _times[_held - 1] > _options.LongestGapSeconds)
        {
            BeginWatching();
        }

        bool any = false;
        if (_held == Window)
        {
            _times.AsSpan(1).CopyTo(_times);
            _readings.AsSpan(1).CopyTo(_readings);
            _held--;
        }

        (_times[_held], _readings[_held]) = (seconds, supplyPsi);
        _held++;
        if (_held >= 3)
        {
            Learn(Math.Abs(_readings[_held - 1] - (2 * _readings[_held - 2]) + _readings[_held - 3]));
        }

        if (_held == Window)
        {
            // The median of five, with the middle one's time: two wild readings in a row are held off.
            _readings.CopyTo(_sorted, 0);
            Array.Sort(_sorted);
            any = Take(_times[Window / 2], _sorted[Window / 2], out told);
        }

        if (compressorRuns is { } runs)
        {
            bool changed = _knowsRunning && runs != _ran;
            (_ran, _knowsRunning) = (runs, true);
            if (changed && !any && _direction == (runs ? -1 : 1) && Math.Abs(_extremePsi - _turnPsi) > HysteresisPsi / 2)
            {
                any = Turn(out told);
            }
        }

        return any;
    }

    /// <summary>Writes or reads all it remembers.</summary>
    public void Sync(IStateFields fields)
    {
        fields.Sync(ref _held);
        for (int i = 0; i < Window; i++)
        {
            fields.Sync(ref _times[i]);
            fields.Sync(ref _readings[i]);
        }

        if (_held is < 0 or > Window)
        {
            throw new FormatException($"{_held} readings can't be held back of {Window}.");
        }

        fields.Sync(ref _meanBend);
        fields.Sync(ref _bends);
        fields.Sync(ref _swing);
        fields.Sync(ref _direction);
        fields.Sync(ref _extremePsi);
        fields.Sync(ref _extremeSeconds);
        fields.Sync(ref _oppositePsi);
        fields.Sync(ref _oppositeSeconds);
        _ramp.Sync(fields);
        _since.Sync(fields);
        _upper.Sync(fields);
        _lower.Sync(fields);
        fields.Sync(ref _turnPsi);
        fields.Sync(ref _turnSeconds);
        fields.Sync(ref _isWhole);
        fields.Sync(ref _hasRise);
        fields.Sync(ref _cutInSeconds);
        fields.Sync(ref _cutInPsi);
        fields.Sync(ref _cutOutSeconds);
        fields.Sync(ref _cutOutPsi);
        fields.Sync(ref _rise);
        fields.Sync(ref _ran);
        fields.Sync(ref _knowsRunning);
    }

    /// <summary>A wild reading counts as four times the usual bend at most.</summary>
    private void Learn(double bend)
    {
        double share = Math.Max(NoiseShare, 1.0 / (_bends + 1));
        _meanBend += share * ((_bends < 8 ? bend : Math.Min(bend, 4 * Math.Max(_meanBend, 1e-9))) - _meanBend);
        _bends = Math.Min(_bends + 1, 1 << 20);
    }

    private bool Take(double seconds, double psi, out SupplyCycle told)
    {
        told = default;
        if (_direction == 0)
        {
            Begin(seconds, psi);
            return false;
        }

        if (_direction * (psi - _extremePsi) >= 0)
        {
            _ramp.Join(_since);
            _ramp.Add(seconds, psi);
            if (_direction < 0)
            {
                ref RampLine half = ref psi > (_cutInPsi + _turnPsi) / 2 ? ref _upper : ref _lower;
                half.Join(_since);
                half.Add(seconds, psi);
            }

            _since = default;
            (_extremePsi, _extremeSeconds) = (psi, seconds);
            return false;
        }

        _since.Add(seconds, psi);
        if (_direction * (_extremePsi - psi) <= HysteresisPsi)
        {
            return false;
        }

        bool any = Turn(out told);
        (_extremePsi, _extremeSeconds) = (psi, seconds);
        return any;
    }

    /// <summary>Before the first turn: which way it goes, once it has gone far enough.</summary>
    private void Begin(double seconds, double psi)
    {
        if (_ramp.Count == 0)
        {
            (_extremePsi, _extremeSeconds, _oppositePsi, _oppositeSeconds) = (psi, seconds, psi, seconds);
        }

        _ramp.Add(seconds, psi);
        if (psi > _extremePsi)
        {
            (_extremePsi, _extremeSeconds) = (psi, seconds);
        }
        else if (psi < _oppositePsi)
        {
            (_oppositePsi, _oppositeSeconds) = (psi, seconds);
        }

        if (psi - _oppositePsi > HysteresisPsi)
        {
            _direction = 1;
            (_turnPsi, _turnSeconds) = (_oppositePsi, _oppositeSeconds);
            (_extremePsi, _extremeSeconds) = (psi, seconds);
        }
        else if (_extremePsi - psi > HysteresisPsi)
        {
            _direction = -1;
            (_turnPsi, _turnSeconds) = (_extremePsi, _extremeSeconds);
            (_extremePsi, _extremeSeconds) = (psi, seconds);
        }
    }

    /// <summary>The ramp ended at its extreme, and what came since is the beginning of the next.</summary>
    private bool Turn(out SupplyCycle told)
    {
        told = default;
        bool any = false;
        double swing = Math.Abs(_extremePsi - _turnPsi);
        if (_isWhole)
        {
            _swing = _swing == 0 ? swing : _swing + (SwingShare * (swing - _swing));
        }

        if (_direction > 0)
        {
            (_cutOutPsi, _cutOutSeconds, _rise) = (_extremePsi, _extremeSeconds, _ramp.Slope);
            (_cutInPsi, _cutInSeconds) = (_turnPsi, _turnSeconds);
            _hasRise = _isWhole && _ramp.Count >= LeastRamp && _rise > 0;
        }
        else
        {
            double period = _extremeSeconds - _cutInSeconds;
            any = _hasRise && _ramp.Count >= LeastRamp && _ramp.Slope < 0 && period > 0;
            if (any)
            {
                told = new SupplyCycle(
                    _cutInSeconds, period, (_cutOutSeconds - _cutInSeconds) / period, _cutInPsi, _cutOutPsi, _rise, -_ramp.Slope, FallBend: Bend());
            }

            _hasRise = false;
        }

        (_turnPsi, _turnSeconds) = (_extremePsi, _extremeSeconds);
        _isWhole = true; // the first ramp began before anybody watched; from its end on they are whole
        _direction = -_direction;
        _ramp = _since;
        _upper = _since;
        _lower = default;
        _since = default;
        return any;
    }

    private double? Bend() => _upper.Count >= LeastHalf && _lower.Count >= LeastHalf ? (_upper.Slope - _lower.Slope) / _ramp.Slope : null;
}
