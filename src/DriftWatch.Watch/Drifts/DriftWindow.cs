using DriftWatch.Analysis;
using DriftWatch.Analysis.Forecast;
using DriftWatch.Analysis.Statistics;
using DriftWatch.Analysis.Trend;

namespace DriftWatch.Watch.Drifts;

/// <summary>A drift as one window shows it. Slopes in value units a second; the interval holds 95 %.</summary>
/// <param name="Level">Which window.</param>
/// <param name="Slope">Best.</param>
/// <param name="Low">Lower limit.</param>
/// <param name="High">Upper limit.</param>
/// <param name="ByNoise">How often noise like this window's shows as much; null where it is too slow to tell.</param>
/// <param name="ByWalk">How often a random walk shows as much.</param>
/// <param name="Now">The line's value at the present.</param>
/// <param name="Known">The estimate behind it; null where the noise is too slow for one.</param>
internal readonly record struct WindowDrift(
    int Level, double Slope, double Low, double High, double? ByNoise, double ByWalk, double Now, DriftEstimate? Known)
{
    public double Minutes => DriftMemory.Bins * DriftMemory.SecondsOf(Level) / 60;

    /// <summary>Seconds until the line is at the limit: earliest, best, latest; infinite where it never gets there or no end can be told.</summary>
    public (double Earliest, double Best, double Latest) SecondsTo(double limit)
    {
        int sign = limit > Now ? 1 : -1;
        if (Known is { } known)
        {
            LimitForecast forecast = TimeToLimit.Of(known, limit, sign > 0 ? LimitSide.Above : LimitSide.Below, 0, DriftJudge.Horizon.TotalSeconds);
            return (forecast.Earliest, forecast.Best, forecast.Latest);
        }

        // Noise as slow as a random walk has no level to be uncertain of: the present one is the present one.
        double room = Math.Abs(limit - Now);
        return (Left(room, sign * (sign > 0 ? High : Low)), Left(room, sign * Slope), Left(room, sign * (sign > 0 ? Low : High)));
    }

    private static double Left(double room, double speed) => speed > 0 ? room / speed : double.PositiveInfinity;
}

/// <summary>
/// The line through one window of a <see cref="DriftMemory"/>, and whether it is a line: a knob that was touched, a sawtooth and
/// a turn of the tape's reel also have a slope. Arrays are kept, so that a look that finds nothing allocates nothing.
/// </summary>
internal sealed class DriftWindow
{
    /// <summary>Share of the window's means that must be there. Source: common practice, no source.</summary>
    private const double LeastCovered = 0.6;

    /// <summary>
    /// From one quarter of the window to the next the means must go on by this share of their average step. Source: derived, a
    /// step leaves two of three steps at nothing, a line with the noise at which it is claimed fails one time in ten.
    /// </summary>
    private const double LeastOfEachQuarter = 0.25;

    /// <summary>Twice the logarithm of the odds, 20 to 1, that line and not step is what there is. Source: common practice, no source.</summary>
    private const double LineBeforeStep = 6;

    // A jump that is no noise: in deviations of the jumps, of which the greatest of 115 normal ones is 3 to 4. Source: derived.
    private const double StandsOut = 6;

    // More often than this it is no hand. Source: common practice, no source.
    private const int MostJumps = 3;

    private readonly double[] _seconds = new double[DriftMemory.Bins];
    private readonly double[] _values = new double[DriftMemory.Bins];
    private readonly double[] _extremes = new double[DriftMemory.Bins];
    private int _count;
    private int _level;
    private double _squares;
    private bool _hasJumps;
    private HandTurns? _hands;

    /// <summary>What hands did at a knob is known and out.</summary>
    public bool IsWithoutHands => _hands is not null;

    /// <summary>Of the least-squares line, units a second.</summary>
    public double Slope { get; private set; }

    /// <summary>The least-squares line's value at the present.</summary>
    public double Now { get; private set; }

    /// <summary>Variance of the means about the line.</summary>
    public double Variance { get; private set; }

    /// <summary>Reads a window, takes out what it follows and what hands are known to have done, and lays the line; false where too much is missing.</summary>
    public bool Look(DriftMemory memory, int level, Following? following, HandTurns? hands)
    {
        _level = level;
        _hasJumps = false;
        _count = memory.Read(level, _seconds, _values);
        if (following is { } cause)
        {
            TakeOut(cause, memory);
        }

        _hands = hands;
        for (int i = 0; hands is not null && i < _count; i++)
        {
            _values[i] += hands.Behind(DriftMemory.MiddleOf(level, memory.NumberOf(level, _seconds[i])));
        }

        double width = DriftMemory.SecondsOf(level);
        if (_count < LeastCovered * DriftMemory.Bins || _seconds[_count - 1] < -3 * width || !EveryQuarterIsCovered(width))
        {
            return false;
        }

        Lay();
        return true;
    }

    /// <summary>The line through the newest of the shortest means, with less asked than of a window; false with fewer than twelve of them.</summary>
    public bool Glance(DriftMemory memory, int newest)
    {
        _hands = null;
        _level = 0;
        _hasJumps = false;
        _count = memory.Read(0, _seconds, _values);
        double from = -newest * DriftMemory.SecondsOf(0);
        int skip = 0;
        while (skip < _count && _seconds[skip] < from)
        {
            skip++;
        }

        _count -= skip;
        Array.Copy(_seconds, skip, _seconds, 0, _count);
        Array.Copy(_values, skip, _values, 0, _count);
        if (_count < 12)
        {
            return false;
        }

        Lay();
        return true;
    }

    /// <summary>How far the line goes over what it is laid through, either way.</summary>
    public double Rise => Math.Abs(Slope) * Length;

    /// <summary>Less what it follows, about that one's mean in the window; as it is where too much of the other is missing.</summary>
    private void TakeOut(Following cause, DriftMemory memory)
    {
        double mean = 0;
        int known = 0;
        for (int i = 0; i < _count; i++)
        {
            double moved = _extremes[i] = cause.Memory.MeanOf(_level, memory.NumberOf(_level, _seconds[i]));
            if (!double.IsNaN(moved))
            {
                known++;
                mean += (moved - mean) / known;
            }
        }

        if (known < LeastCovered * DriftMemory.Bins)
        {
            return;
        }

        int kept = 0;
        for (int i = 0; i < _count; i++)
        {
            if (!double.IsNaN(_extremes[i]))
            {
                _seconds[kept] = _seconds[i];
                _values[kept++] = _values[i] - (cause.Share * (_extremes[i] - mean));
            }
        }

        _count = kept;
    }

    private void Lay()
    {
        double meanTime = 0;
        double mean = 0;
        for (int i = 0; i < _count; i++)
        {
            meanTime += _seconds[i];
            mean += _values[i] - _values[0];
        }

        meanTime /= _count;
        mean = _values[0] + (mean / _count);
        double xx = 0;
        double xy = 0;
        double yy = 0;
        for (int i = 0; i < _count; i++)
        {
            double x = _seconds[i] - meanTime;
            double y = _values[i] - mean;
            xx += x * x;
            xy += x * y;
            yy += y * y;
        }

        Slope = xy / xx;
        Now = mean - (Slope * meanTime);
        _squares = Math.Max(0, yy - (Slope * xy));
        Variance = _squares / (_count - 2);
        Student = Variance > 0 ? Math.Abs(Slope) / Math.Sqrt(Variance / xx) : Slope == 0 ? 0 : double.PositiveInfinity;
    }

    /// <summary>Slope over its standard error as if the noise were white: what slow noise makes too great, never too small.</summary>
    public double Student { get; private set; }

    /// <summary>The means go on from quarter to quarter of the window.</summary>
    public bool GoesOn()
    {
        double length = DriftMemory.Bins * DriftMemory.SecondsOf(_level);
        Span<double> sums = stackalloc double[4];
        Span<int> counts = stackalloc int[4];
        for (int i = 0; i < _count; i++)
        {
            int quarter = Math.Clamp((int)(4 * (1 + (_seconds[i] / length))), 0, 3);
            sums[quarter] += _values[i] - _values[0];
            counts[quarter]++;
        }

        int sign = Math.Sign(Slope);
        double whole = sign * ((sums[3] / counts[3]) - (sums[0] / counts[0]));
        for (int quarter = 1; quarter < 4; quarter++)
        {
            double step = sign * ((sums[quarter] / counts[quarter]) - (sums[quarter - 1] / counts[quarter - 1]));
            if (!(step >= LeastOfEachQuarter * whole / 3))
            {
                return false;
            }
        }

        return whole > 0;
    }

    /// <summary>
    /// A line explains the window better than the best single step does, by the likelihood of normal noise, with as many
    /// independent means as there are.
    /// </summary>
    public bool IsNoStep(double effectiveSize)
    {
        double total = 0;
        for (int i = 0; i < _count; i++)
        {
            total += _values[i] - _values[0];
        }

        double before = 0;
        double greatest = 0;
        for (int i = 1; i < _count; i++)
        {
            before += _values[i - 1] - _values[0];
            double difference = (before / i) - ((total - before) / (_count - i));
            greatest = Math.Max(greatest, difference * difference * i * (_count - i) / _count);
        }

        double mean = total / _count;
        double about = 0;
        for (int i = 0; i < _count; i++)
        {
            double d = _values[i] - _values[0] - mean;
            about += d * d;
        }

        double ofStep = Math.Max(0, about - greatest);
        return _squares <= 0 || effectiveSize * Math.Log(ofStep / _squares) >= LineBeforeStep;
    }

    /// <summary>
    /// How far beyond what was seen before the window its newest quarter goes in the slope's direction, in the channel's unit:
    /// the middle of the newest extremes over the tenth part of the older ones; null without twenty minutes of older ones. A
    /// sawtooth on its way down goes nowhere new.
    /// </summary>
    public double? NewGround(DriftMemory memory)
    {
        int sign = Math.Sign(Slope);
        double length = DriftMemory.Bins * DriftMemory.SecondsOf(_level);
        double span = DriftMemory.SecondsOf(DriftMemory.Levels - 1);
        double newest = Math.Max(length / 4, 4 * span);

        // A line that was put together over jumps has been where it is before, if it is a sawtooth.
        int older = memory.Extremes(sign, double.NegativeInfinity, _hasJumps ? -newest : -length, _extremes, _hands);
        if (older * span < 1200)
        {
            return null;
        }

        double was = Ranked(older, sign, 0.1);
        int newer = memory.Extremes(sign, -newest, 0, _extremes, _hands);
        return newer == 0 ? null : sign * (Ranked(newer, sign, 0.5) - was);
    }

    /// <summary>
    /// Takes a knob that was touched out of the window, some times at most: where two neighbouring stretches of three means differ by
    /// far more than others do, and by a good part of the rise, what lies before is moved to what lies behind. A drift goes on on
    /// both sides of the jump; a step alone leaves nothing.
    /// </summary>
    public void TakeOutJumps()
    {
        int most = IsWithoutHands ? 0 : MostJumps;
        for (int time = 0; time < most && GreatestJump(out int at, out double jump, out bool standsOut) > DriftClaim.GreatestJump && standsOut; time++)
        {
            for (int i = 0; i < at; i++)
            {
                _values[i] += jump;
            }

            _hasJumps = true;
            Lay();
        }
    }

    /// <summary>The greatest jump as a share of the line's rise over the window. Means something where the noise is slow, so that one mean hardly differs from the next.</summary>
    public double GreatestJump() => GreatestJump(out _, out _, out _);

    private double GreatestJump(out int at, out double jump, out bool standsOut)
    {
        const int Stretch = 3;
        int n = _count - (2 * Stretch) + 1;
        Span<double> jumps = _extremes.AsSpan(0, n);
        at = Stretch;
        for (int i = 0; i < n; i++)
        {
            double before = _values[i] + _values[i + 1] + _values[i + 2];
            double after = _values[i + 3] + _values[i + 4] + _values[i + 5];
            jumps[i] = (after - before) / Stretch;
            if (Math.Abs(jumps[i]) > Math.Abs(jumps[at - Stretch]))
            {
                at = i + Stretch;
            }
        }

        jump = jumps[at - Stretch];
        (double usual, double scale) = RobustScale.MadInPlace(jumps);
        standsOut = Math.Abs(jump - usual) > StandsOut * scale;
        jump -= usual; // the drift's own part stays
        return Math.Abs(jump) / (Math.Abs(Slope) * Length);
    }

    /// <summary>
    /// The drift with its interval: that of <see cref="Drift"/> where the noise is quick enough for it, else the one that a random
    /// walk would need, which is the worst that slow noise can be (<see cref="RandomWalkSlope"/>).
    /// </summary>
    public WindowDrift Estimate()
    {
        double deviation = Math.Sqrt(Variance);
        double ratio = Variance > 0 ? Math.Abs(Slope) * Length / deviation : Slope == 0 ? 0 : double.PositiveInfinity;
        double byWalk = RandomWalkSlope.Significance(ratio);
        Answer<DriftEstimate> answer = Drift.Estimate(_seconds.AsSpan(0, _count), _values.AsSpan(0, _count));
        if (answer.IsKnown)
        {
            DriftEstimate drift = answer.Value;
            return new WindowDrift(_level, drift.Slope, drift.Lower, drift.Upper, drift.Significance, byWalk, drift.At(0), drift);
        }

        double reach = RandomWalkSlope.RatioOf95 * deviation / Length;
        return new WindowDrift(_level, Slope, Slope - reach, Slope + reach, null, byWalk, Now, null);
    }

    private double Length => _seconds[_count - 1] - _seconds[0] + DriftMemory.SecondsOf(_level);

    private bool EveryQuarterIsCovered(double width)
    {
        Span<int> counts = stackalloc int[4];
        for (int i = 0; i < _count; i++)
        {
            counts[Math.Clamp((int)(4 * (1 + (_seconds[i] / (DriftMemory.Bins * width)))), 0, 3)]++;
        }

        return counts.IndexOfAnyInRange(0, DriftMemory.Bins / 16) < 0;
    }

    private double Ranked(int count, int sign, double share)
    {
        Span<double> extremes = _extremes.AsSpan(0, count);
        extremes.Sort();
        int fromTheFarEnd = (int)(share * (count - 1));
        return extremes[sign > 0 ? count - 1 - fromTheFarEnd : fromTheFarEnd];
    }
}
