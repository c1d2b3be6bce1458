using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Trend;

/// <summary>
/// A line by least squares that forgets: each reading weighs e^(−age/τ). One update is a handful of operations, whatever the
/// times between readings. Means and second moments about them are carried on (West, 'Updating mean and variance
/// estimates', Communications of the ACM 22, 1979, with weights that fade), so neither a huge offset nor years of running cost
/// digits. Agrees with weighted least squares over all readings so far. For showing a slope as it goes; for a claim see <see cref="Drift"/>.
/// </summary>
public sealed class FadingSlope
{
    private readonly double _rate;
    private double _firstTime;
    private double _firstValue;
    private double _last;
    private double _weight;
    private double _x;
    private double _y;
    private double _xx;
    private double _xy;

    /// <param name="timeConstantSeconds">τ: what is this old weighs 37 %.</param>
    /// <exception cref="ArgumentException">It is not positive.</exception>
    public FadingSlope(double timeConstantSeconds)
    {
        if (!(timeConstantSeconds > 0 && double.IsFinite(timeConstantSeconds)))
        {
            throw new ArgumentException("A time constant is a positive number of seconds.", nameof(timeConstantSeconds));
        }

        _rate = 1 / timeConstantSeconds;
    }

    /// <summary>Readings taken.</summary>
    public long Count { get; private set; }

    /// <summary>In value units a second; a shortfall before the second reading.</summary>
    public Answer<double> Slope => Count < 2 ? new Shortfall("points", Count, 2) : _xy / _xx;

    /// <summary>The line's value at the last reading's time.</summary>
    public Answer<double> Level =>
        Count < 2 ? new Shortfall("points", Count, 2) : _firstValue + _y + (_xy / _xx * (_last - _firstTime - _x));

    /// <param name="time">In seconds, later than the one before.</param>
    /// <param name="value">In its unit.</param>
    /// <exception cref="ArgumentException">A number is not finite, or the time doesn't rise.</exception>
    public void Add(double time, double value)
    {
        Finite.Require(value);
        Finite.Require(time);
        if (Count == 0)
        {
            (_firstTime, _firstValue, _last) = (time, value, time);
        }
        else if (!(time > _last))
        {
            throw new ArgumentException("Times must rise.", nameof(time));
        }

        double fade = Math.Exp((_last - time) * _rate);
        _last = time;
        _weight = (_weight * fade) + 1;
        double dx = time - _firstTime - _x;
        double dy = value - _firstValue - _y;
        _x += dx / _weight;
        _y += dy / _weight;
        double rest = 1 - (1 / _weight);
        _xx = (_xx * fade) + (dx * dx * rest);
        _xy = (_xy * fade) + (dx * dy * rest);
        Count++;
    }
}
