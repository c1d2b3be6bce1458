using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Pneumatics;

/// <summary>
/// How far a regulator follows its supply, as readings come: for each cycle of the compressor the regression of regulated on supply pressure with a straight drift of
/// time beside it, and of the last eight cycles the median, so that a knob touched in one cycle or two moves nothing. A lag of seconds beside a cycle of minutes
/// is of no account. Constant size; allocates nothing. The batch form with an interval is <see cref="Regulator.Follows"/>.
/// </summary>
public sealed class SupplyEffectTracker
{
    /// <summary>Cycles kept.</summary>
    public const int Cycles = 8;

    /// <summary>Cycles that an answer needs. Source: common practice, no source: a median of five bears two that are wild.</summary>
    public const int LeastCycles = 5;

    private const int LeastReadings = 10;

    private readonly double[] _effects = new double[Cycles];
    private readonly double[] _scratch = new double[Cycles];
    private int _known;
    private int _count;
    private double _t;
    private double _x;
    private double _y;
    private double _tt;
    private double _tx;
    private double _ty;
    private double _xx;
    private double _xy;

    /// <summary>Median rise of the regulated pressure for each psi of supply; a shortfall below five cycles.</summary>
    public Answer<double> PsiPerPsi
    {
        get
        {
            int n = Math.Min(_known, Cycles);
            if (n < LeastCycles)
            {
                return new Shortfall("compressor cycles", n, LeastCycles);
            }

            _effects.AsSpan(0, n).CopyTo(_scratch);
            return Selection.Median(_scratch.AsSpan(0, n));
        }
    }

    /// <summary>Mean of the regulated pressure in the cycle in hand; null before its tenth reading.</summary>
    public double? MeanRegulatedPsi => _count >= LeastReadings ? _y : null;

    /// <summary>Takes both pressures of one instant.</summary>
    /// <param name="seconds">Finite.</param>
    /// <param name="supplyPsi">Finite.</param>
    /// <param name="regulatedPsi">Finite.</param>
    public void Add(double seconds, double supplyPsi, double regulatedPsi)
    {
        Finite.Require(seconds);
        Finite.Require(supplyPsi);
        Finite.Require(regulatedPsi);
        _count++;
        double dt = seconds - _t;
        double dx = supplyPsi - _x;
        double dy = regulatedPsi - _y;
        if (_count == 1)
        {
            (_t, _x, _y, dt, dx, dy) = (seconds, supplyPsi, regulatedPsi, 0, 0, 0);
        }

        double share = (_count - 1.0) / _count;
        _tt += share * dt * dt;
        _tx += share * dt * dx;
        _ty += share * dt * dy;
        _xx += share * dx * dx;
        _xy += share * dx * dy;
        _t += dt / _count;
        _x += dx / _count;
        _y += dy / _count;
    }

    /// <summary>A cycle is over: what it told is kept where it counts, and the next begins.</summary>
    /// <param name="counts">False for one in which the air was switched or readings were missing.</param>
    public void EndCycle(bool counts)
    {
        double determinant = (_xx * _tt) - (_tx * _tx);
        if (counts && _count >= LeastReadings && determinant > 1e-9 * _xx * _tt)
        {
            _effects[_known % Cycles] = ((_xy * _tt) - (_tx * _ty)) / determinant;
            _known++;
        }

        _count = 0;
        (_t, _x, _y, _tt, _tx, _ty, _xx, _xy) = (0, 0, 0, 0, 0, 0, 0, 0);
    }

    /// <summary>Writes or reads all it remembers.</summary>
    public void Sync(IStateFields fields)
    {
        fields.Sync(ref _known);
        fields.Sync(ref _count);
        for (int i = 0; i < Cycles; i++)
        {
            fields.Sync(ref _effects[i]);
        }

        fields.Sync(ref _t);
        fields.Sync(ref _x);
        fields.Sync(ref _y);
        fields.Sync(ref _tt);
        fields.Sync(ref _tx);
        fields.Sync(ref _ty);
        fields.Sync(ref _xx);
        fields.Sync(ref _xy);
        if (_known < 0 || _count < 0)
        {
            throw new FormatException($"{_known} cycles of {_count} readings can't be.");
        }
    }
}
