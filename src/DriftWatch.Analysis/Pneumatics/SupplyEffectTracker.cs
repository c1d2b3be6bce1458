using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Pneumatics;

/// <summary>
/// How far a regulator follows its supply, as readings come: means of ten seconds, and over the last ten minutes the regression of the regulated pressure's
/// steps from one mean to the next on the supply's. A regulator wanders slowly by itself, and a hand turns its knob: from step to step the one is small and the
/// other one step among sixty, which is left out. A lag of seconds is of no account. Constant size; allocates nothing once it runs. The batch form is <see cref="Regulator.Follows"/>.
/// </summary>
public sealed class SupplyEffectTracker
{
    /// <summary>Length of a mean. Source: derived, long beside a regulator's lag of a second or two, short beside a compressor's cycle of minutes.</summary>
    public const double SpanSeconds = 10;

    /// <summary>Steps kept. Source: common practice, no source; chosen on tuning records between noise and delay.</summary>
    public const int Steps = 64;

    /// <summary>Steps that an answer needs: eight minutes. Source: common practice, no source: what is compared with it later must not be much surer.</summary>
    public const int LeastSteps = 48;

    /// <summary>The supply's steps must be of so many psi, root mean square. Source: common practice, no source: a tenth of what a cycling compressor gives.</summary>
    public const double LeastStepPsi = 0.3;

    // Readings that make a mean. Source: common practice, no source.
    private const int LeastReadings = 5;

    // A step so many deviations off the line is of a hand. Source: common practice, no source.
    private const double WildDeviations = 3;

    private readonly double[] _supplySteps = new double[Steps];
    private readonly double[] _regulatedSteps = new double[Steps];
    private readonly double[] _scratch = new double[Steps];
    private int _known;
    private long _span;
    private int _readings;
    private double _supply;
    private double _regulated;
    private long _lastSpan = long.MinValue;
    private double _lastSupply;
    private double _lastRegulated;
    private int _cycleReadings;
    private double _cycleMean;
    private bool _isWeighed;
    private Answer<Uncertain> _effect = new Shortfall("steps of the supply", 0, LeastSteps);

    /// <summary>Rise of the regulated pressure for each psi of supply, with its standard uncertainty; a shortfall of steps or of movement.</summary>
    public Answer<Uncertain> PsiPerPsi
    {
        get
        {
            if (!_isWeighed)
            {
                _effect = Weigh();
                _isWeighed = true;
            }

            return _effect;
        }
    }

    /// <summary>Mean of the regulated pressure in the cycle in hand; null before its tenth reading.</summary>
    public double? MeanRegulatedPsi => _cycleReadings >= 10 ? _cycleMean : null;

    /// <summary>Takes both pressures of one instant.</summary>
    /// <param name="seconds">Finite; rising from call to call.</param>
    /// <param name="supplyPsi">Finite.</param>
    /// <param name="regulatedPsi">Finite.</param>
    public void Add(double seconds, double supplyPsi, double regulatedPsi)
    {
        Finite.Require(seconds);
        Finite.Require(supplyPsi);
        Finite.Require(regulatedPsi);
        long span = (long)Math.Floor(seconds / SpanSeconds);
        if (span != _span)
        {
            Close();
            _span = span;
        }

        _readings++;
        _supply += (supplyPsi - _supply) / _readings;
        _regulated += (regulatedPsi - _regulated) / _readings;
        _cycleReadings++;
        _cycleMean += (regulatedPsi - _cycleMean) / _cycleReadings;
    }

    /// <summary>A cycle of the compressor is over: its mean begins anew.</summary>
    public void EndCycle() => (_cycleReadings, _cycleMean) = (0, 0);

    /// <summary>The air was switched, or nobody looked: no step leads from what was to what comes.</summary>
    public void Interrupt()
    {
        (_readings, _supply, _regulated) = (0, 0, 0);
        _lastSpan = long.MinValue;
        EndCycle();
    }

    /// <summary>Writes or reads all it remembers.</summary>
    public void Sync(IStateFields fields)
    {
        fields.Sync(ref _known);
        for (int i = 0; i < Steps; i++)
        {
            fields.Sync(ref _supplySteps[i]);
            fields.Sync(ref _regulatedSteps[i]);
        }

        fields.Sync(ref _span);
        fields.Sync(ref _readings);
        fields.Sync(ref _supply);
        fields.Sync(ref _regulated);
        fields.Sync(ref _lastSpan);
        fields.Sync(ref _lastSupply);
        fields.Sync(ref _lastRegulated);
        fields.Sync(ref _cycleReadings);
        fields.Sync(ref _cycleMean);
        _isWeighed = false;
        if (_known < 0 || _readings < 0 || _cycleReadings < 0)
        {
            throw new FormatException($"{_known} steps, {_readings} and {_cycleReadings} readings can't be.");
        }
    }

    private void Close()
    {
        if (_readings >= LeastReadings)
        {
            if (_lastSpan == _span - 1)
            {
                _supplySteps[_known % Steps] = _supply - _lastSupply;
                _regulatedSteps[_known % Steps] = _regulated - _lastRegulated;
                _known++;
                _isWeighed = false;
            }

            (_lastSpan, _lastSupply, _lastRegulated) = (_span, _supply, _regulated);
        }

        (_readings, _supply, _regulated) = (0, 0, 0);
    }

    private Answer<Uncertain> Weigh()
    {
        int n = Math.Min(_known, Steps);
        if (n < LeastSteps)
        {
            return new Shortfall("steps of the supply", n, LeastSteps);
        }

        double squares = 0;
        for (int i = 0; i < n; i++)
        {
            squares += _supplySteps[i] * _supplySteps[i];
        }

        double typical = Math.Sqrt(squares / n);
        if (!(typical >= LeastStepPsi))
        {
            return new Shortfall("psi by which the supply moves in ten seconds", typical, LeastStepPsi);
        }

        // All first, then twice without what is wild about the line before.
        (double slope, double error) = Line(n, double.PositiveInfinity, 0);
        for (int time = 0; time < 2; time++)
        {
            for (int i = 0; i < n; i++)
            {
                _scratch[i] = Math.Abs(_regulatedSteps[i] - (slope * _supplySteps[i]));
            }

            double deviation = RobustScale.MadFactor * Selection.Median(_scratch.AsSpan(0, n));
            (slope, error) = Line(n, WildDeviations * deviation, slope);
        }

        return new Uncertain(slope, error, n - 1);
    }

    /// <summary>The line through zero of the steps that lie within a reach of the line before.</summary>
    private (double Slope, double Error) Line(int n, double reach, double before)
    {
        double xx = 0;
        double xy = 0;
        double yy = 0;
        int count = 0;
        for (int i = 0; i < n; i++)
        {
            double x = _supplySteps[i];
            double y = _regulatedSteps[i];
            if (Math.Abs(y - (before * x)) <= reach)
            {
                xx += x * x;
                xy += x * y;
                yy += y * y;
                count++;
            }
        }

        if (!(xx > 0) || count < 2)
        {
            return (before, 0);
        }

        double slope = xy / xx;
        return (slope, Math.Sqrt(Math.Max(0, yy - (slope * xy)) / (count - 1) / xx));
    }
}
