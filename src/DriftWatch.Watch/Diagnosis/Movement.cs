using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Snapshots;

namespace DriftWatch.Watch.Diagnosis;

/// <summary>Which way something moved from where it stood at line-up. Append only: it is part of snapshots.</summary>
internal enum Direction
{
    Still,
    Up,
    Down,
}

/// <summary>How quickly it got there. Append only.</summary>
internal enum Pace
{
    /// <summary>Within some ten seconds: a clog, a lift, a slip.</summary>
    Sudden,

    /// <summary>Within a minute.</summary>
    Quick,

    /// <summary>Over minutes or more: shed, wear, a leak that grows.</summary>
    Slow,
}

/// <summary>
/// How one channel or quantity stands to its baseline, in tolerances: the distance to its nearest limit is 1. Means
/// follow it with time constants of half a second for what is sudden and ten seconds for what creeps; it has moved when
/// either is farther out than its threshold, and is still again below seven tenths of it. A splice of a tenth of a second
/// moves neither. How quickly it went is told by which slower mean, of ten seconds or a minute, it left behind. Worked on
/// ticks.
/// </summary>
internal sealed class Movement
{
    // Shares of the tolerance. Source: common practice, no source; chosen on the tuning nights. The slow one lies above
    // what a hand at a knob or a warm room does, the fast one at half the way to the limit.
    private const double FastThreshold = 0.5;
    private const double SlowThreshold = 0.2;
    private const double StillAgain = 0.7;
    private const double Quiet = 0.15;

    // Deviations of the baseline's second means that count as noise. Source: derived, one reading in a million of normal noise.
    private const double NoiseDeviations = 5;

    // A mean that has come less than this share of the way when the half-second mean is there has been overtaken. Source:
    // derived, a mean of time constant T has come a third of the way of a ramp that lasts 0.9 T.
    private const double Overtaken = 0.35;

    // Source: common practice, no source.
    private const double GrowsBy = 1.3;

    // A mean has left a slower one when it is this far from it, in tolerances, past its noise. Source: common practice, no source; chosen on the tuning nights.
    private const double LeftMinuteMean = 0.05;
    private const double LeftTenSecondMean = 0.15;

    // Noise of second means that is left in means of ten seconds and a minute. Source: derived, 1/√(2T) for white noise, rounded up because noise hangs together.
    private const double NoiseInTenSeconds = 0.35;
    private const double NoiseInMinute = 0.15;

    private double _fast;
    private double _slow;
    private double _slower;
    private double _timedAt;
    private double _noise;
    private bool _isSeen;
    private Direction _direction;
    private Pace _pace;
    private EngineTime _lastQuiet;
    private EngineTime _onset;
    private EngineTime _seenAt;

    public bool IsSeen => _isSeen;

    public Direction Direction => _direction;

    public Pace Pace => _pace;

    /// <summary>When it left the quiet middle of its tolerance; only meaningful while it is moved.</summary>
    public EngineTime Onset => _onset;

    /// <summary>Farther of the two means from the baseline, in tolerances, with its sign.</summary>
    public double Strength => Math.Abs(_fast) >= Math.Abs(_slow) ? _fast : _slow;

    /// <summary>
    /// Where it stands off the baseline, in tolerances: the slowest of its three means that the faster ones have not left
    /// behind, because it has the least noise.
    /// </summary>
    /// <returns>The mean and the standard deviation that noise gives it.</returns>
    public (double Value, double Noise) Standing() =>
        Math.Abs(_fast - _slow) > LeftTenSecondMean + (3 * _noise) ? (_fast, _noise)
        : Math.Abs(_slow - _slower) > LeftMinuteMean + (2 * NoiseInTenSeconds * _noise) ? (_slow, NoiseInTenSeconds * _noise)
        : (_slower, NoiseInMinute * _noise);

    /// <param name="now">The tick's time.</param>
    /// <param name="value">The newest value less the baseline, in tolerances.</param>
    /// <param name="noise">Standard deviation of second means, in tolerances.</param>
    /// <param name="stepSeconds">Time since the last tick.</param>
    public void Follow(EngineTime now, double value, double noise, double stepSeconds)
    {
        if (!_isSeen)
        {
            _isSeen = true;
            _fast = _slow = _slower = value;
            _direction = Direction.Still;
            _lastQuiet = now;
        }

        _fast += (value - _fast) * Math.Min(1, stepSeconds / 0.5);
        _slow += (value - _slow) * Math.Min(1, stepSeconds / 10);
        _slower += (value - _slower) * Math.Min(1, stepSeconds / 60);
        _seenAt = now;
        _noise = noise;
        double quiet = Math.Max(Quiet, 2 * noise);
        if (Math.Abs(_fast) < quiet)
        {
            _lastQuiet = now;
        }

        double fastFrom = Math.Max(FastThreshold, NoiseDeviations * noise);
        double slowFrom = Math.Max(SlowThreshold, NoiseDeviations * noise / 3);
        Direction moved = Math.Abs(_fast) > fastFrom ? Sign(_fast) : Math.Abs(_slow) > slowFrom ? Sign(_slow) : Direction.Still;
        if (moved != Direction.Still)
        {
            // What comes at once is there at once; what goes on growing is timed anew, past the noise of its beginning.
            bool grows = _direction == moved && Math.Abs(Strength) > GrowsBy * Math.Abs(_timedAt);
            if (grows)
            {
                Time();
            }

            if (_direction != moved)
            {
                _direction = moved;
                _onset = _lastQuiet;
                Time();
            }
        }
        else if (Math.Abs(_fast) < StillAgain * fastFrom && Math.Abs(_slow) < StillAgain * slowFrom)
        {
            _direction = Direction.Still;
        }
    }

    /// <summary>It can't be seen now; what was last seen stands for a while, because what ends a pass also ends its readings.</summary>
    public void LoseSight(EngineTime now, TimeSpan holdOver)
    {
        if (_isSeen && now - _seenAt > holdOver)
        {
            _isSeen = false;
            _direction = Direction.Still;
        }
    }

    public void Forget()
    {
        _isSeen = false;
        _direction = Direction.Still;
    }

    public void Sync(StateArchive archive)
    {
        archive.Sync(ref _fast);
        archive.Sync(ref _slow);
        archive.Sync(ref _slower);
        archive.Sync(ref _timedAt);
        archive.Sync(ref _noise);
        archive.Sync(ref _isSeen);
        archive.Sync(ref _direction);
        archive.Sync(ref _pace);
        archive.Sync(ref _lastQuiet);
        archive.Sync(ref _onset);
        archive.Sync(ref _seenAt);
    }

    private void Time()
    {
        _timedAt = Strength;
        _pace = _slow / _timedAt < Overtaken ? Pace.Sudden : _slower / _timedAt < Overtaken ? Pace.Quick : Pace.Slow;
    }

    private static Direction Sign(double value) => value > 0 ? Direction.Up : Direction.Down;
}
