using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Relations;

/// <summary>A line effect = Intercept + Slope·cause, as <see cref="RecursiveLine"/> has it now.</summary>
/// <param name="Slope">Effect's unit by cause's unit.</param>
/// <param name="Intercept">Effect at cause 0, in the effect's unit.</param>
/// <param name="ExplainedShare">Square of the weighted correlation, 0 … 1.</param>
/// <param name="ResidualDeviation">√ of the weighted mean square of the residuals, in the effect's unit.</param>
/// <param name="EffectivePairs">(Σw)²/Σw² of the weights that forgetting leaves (Kish 1965); correlation in time is not in it.</param>
public readonly record struct RecursiveLineState(double Slope, double Intercept, double ExplainedShare, double ResidualDeviation, double EffectivePairs);

/// <summary>
/// Recursive least squares of one channel on another with exponential forgetting: at any time the same as batch least squares with
/// weights λ^age. Kept as weighted means and central moments (West, Communications of the ACM 22, 1979, with the old
/// weights decayed), which is the same recursion as that of the gain and covariance matrices in the textbooks but loses no
/// digits to a huge offset and can't lose positive definiteness. Constant size, no allocation.
/// </summary>
public sealed class RecursiveLine
{
    private const double LeastWeight = 3;

    private readonly double _forgetting;
    private double _weight;
    private double _squaredWeight;
    private double _cause;
    private double _effect;
    private double _cc;
    private double _ce;
    private double _ee;
    private long _count;

    /// <param name="forgetting">λ, 0 &lt; λ ≤ 1 a pair: 1 forgets nothing, otherwise about 1/(1−λ) pairs are remembered.</param>
    /// <exception cref="ArgumentException">Outside that range.</exception>
    public RecursiveLine(double forgetting)
    {
        if (!(forgetting is > 0 and <= 1))
        {
            throw new ArgumentException("Forgetting is above 0 and at most 1.", nameof(forgetting));
        }

        _forgetting = forgetting;
    }

    /// <summary>How many pairs were taken.</summary>
    public long Count => _count;

    /// <summary>The line now; a shortfall below three pairs or where the cause has not moved.</summary>
    public Answer<RecursiveLineState> Line
    {
        get
        {
            if (_count < LeastWeight)
            {
                return new Shortfall("pairs", _count, LeastWeight);
            }

            if (!HasLine)
            {
                return new Shortfall("different values of the cause", 1, 2);
            }

            double slope = _ce / _cc;
            double squares = Math.Max(0, _ee - (slope * _ce));
            return new RecursiveLineState(
                slope,
                _effect - (slope * _cause),
                _ee > 0 ? Math.Clamp(slope * _ce / _ee, 0, 1) : 0,
                Math.Sqrt(squares / _weight),
                _weight * _weight / _squaredWeight);
        }
    }

    private bool HasLine => _count >= LeastWeight && _cc > 0;

    /// <summary>Takes a pair of the same instant.</summary>
    /// <param name="cause">In the cause's unit.</param>
    /// <param name="effect">In the effect's unit.</param>
    /// <param name="residual">Effect minus what the line before this pair makes of the cause, in the effect's unit; 0 where there was no line yet.</param>
    /// <returns>Whether there was a line.</returns>
    /// <exception cref="ArgumentException">One is not finite.</exception>
    public bool Add(double cause, double effect, out double residual)
    {
        Finite.Require(cause);
        Finite.Require(effect);
        double dc = cause - _cause;
        double de = effect - _effect;
        bool had = HasLine;
        residual = had ? de - (_ce / _cc * dc) : 0;
        if (_count == 0)
        {
            (_cause, _effect, dc, de) = (cause, effect, 0, 0);
        }

        double old = _forgetting * _weight;
        _weight = old + 1;
        _squaredWeight = (_forgetting * _forgetting * _squaredWeight) + 1;
        double share = 1 / _weight;
        double added = old * share;
        _cc = (_forgetting * _cc) + (added * dc * dc);
        _ce = (_forgetting * _ce) + (added * dc * de);
        _ee = (_forgetting * _ee) + (added * de * de);
        _cause += share * dc;
        _effect += share * de;
        _count++;
        return had;
    }
}
