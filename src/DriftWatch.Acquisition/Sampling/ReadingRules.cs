using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Acquisition.Sampling;

/// <summary>
/// Holds the raw readings of one channel against its <see cref="FaultRules"/>, in order of time.
/// <list type="bullet">
/// <item>At or beyond Low or High, by the value or by an extreme inside the period: the rule's fault.</item>
/// <item>A step of more than MaximumStep a period from the last accepted reading: implausible. A true change must not
/// be lost for ever, so when the new level persists for <see cref="ReadingsToBelieve"/> readings that agree with each
/// other within MaximumStep, the last of them and what follows is accepted. After a gap of k periods the step may be
/// k times as great.</item>
/// <item>The same raw number, bit for bit, for StuckAfter or longer: stuck, until it changes.</item>
/// </list>
/// </summary>
public sealed class ReadingRules(FaultRules rules, TimeSpan period)
{
    /// <summary>Readings at a new level that make it believed. Source: common practice, no source.</summary>
    public const int ReadingsToBelieve = 3;

    private double _accepted;
    private EngineTime _acceptedAt;
    private bool _hasAccepted;
    private double _candidate;
    private int _candidateCount;
    private long _sameBits;
    private EngineTime _sameSince;
    private bool _hasSame;

    /// <summary>A reading of a number that may not be finite.</summary>
    public static Reading FromNumber(double raw) =>
        double.IsFinite(raw) ? Reading.Of(raw) : Reading.Failed(FaultCode.NotANumber);

    /// <summary>
    /// A reading with extremes that may not be finite. Extremes printed with fewer digits than the value may miss it
    /// by a rounding: they are widened to hold it.
    /// </summary>
    public static Reading FromNumbers(double raw, double minimum, double maximum) =>
        double.IsFinite(raw) && double.IsFinite(minimum) && double.IsFinite(maximum)
            ? Reading.Of(raw, Math.Min(raw, minimum), Math.Max(raw, maximum))
            : Reading.Failed(FaultCode.NotANumber);

    /// <summary>The reading itself, or the fault that the rules make of it.</summary>
    public Reading Apply(EngineTime at, in Reading reading)
    {
        if (reading.IsFault)
        {
            return reading;
        }

        bool isStuck = IsStuck(at, reading);
        if (rules.Low is double low && reading.Minimum <= low)
        {
            return Reading.Failed(rules.BelowFault);
        }

        if (rules.High is double high && reading.Maximum >= high)
        {
            return Reading.Failed(rules.AboveFault);
        }

        if (rules.MaximumStep is double step && !StepIsPlausible(at, reading.Raw, step))
        {
            return Reading.Failed(FaultCode.ImplausibleJump);
        }

        return isStuck ? Reading.Failed(FaultCode.Stuck) : reading;
    }

    /// <summary>The fault that the range rules make of a frame, or null when all its points stand.</summary>
    public FaultCode? Apply(Frame frame)
    {
        foreach (double value in frame.Values)
        {
            if (value <= rules.Low)
            {
                return rules.BelowFault;
            }

            if (value >= rules.High)
            {
                return rules.AboveFault;
            }
        }

        return null;
    }

    private bool IsStuck(EngineTime at, in Reading reading)
    {
        if (rules.StuckAfter is not TimeSpan limit)
        {
            return false;
        }

        long bits = BitConverter.DoubleToInt64Bits(reading.Raw);
        bool same = _hasSame && bits == _sameBits && reading.Minimum.Equals(reading.Maximum);
        if (!same)
        {
            _hasSame = true;
            _sameBits = bits;
            _sameSince = at;
            return false;
        }

        return at - _sameSince >= limit;
    }

    private bool StepIsPlausible(EngineTime at, double raw, double step)
    {
        double periods = _hasAccepted ? Math.Max(1, Math.Round((at - _acceptedAt) / period)) : 1;

        // While a new level is on trial the old one does not gain reach by the mere passing of time.
        double reach = step * (_candidateCount > 0 ? 1 : periods);
        if (!_hasAccepted || Math.Abs(raw - _accepted) <= reach)
        {
            return Accept(at, raw);
        }

        _candidateCount = _candidateCount > 0 && Math.Abs(raw - _candidate) <= step ? _candidateCount + 1 : 1;
        _candidate = raw;
        return _candidateCount >= ReadingsToBelieve && Accept(at, raw);
    }

    private bool Accept(EngineTime at, double raw)
    {
        _accepted = raw;
        _acceptedAt = at;
        _hasAccepted = true;
        _candidateCount = 0;
        return true;
    }
}
