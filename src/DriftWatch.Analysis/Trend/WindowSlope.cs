using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Trend;

/// <summary>
/// A line by least squares through the last so many readings: each update adds one and takes the oldest out. Sums are taken
/// about a time and value inside the window and made anew each time the window has gone round, so rounding can't pile up and the
/// cost is still constant, on average. Agrees with <see cref="LeastSquaresLine"/> over the window.
/// For showing a slope as it goes; for a claim see <see cref="Drift"/>.
/// </summary>
public sealed class WindowSlope
{
    private readonly double[] _times;
    private readonly double[] _values;
    private int _next;
    private double _originTime;
    private double _originValue;
    private double _x;
    private double _y;
    private double _xx;
    private double _xy;

    /// <param name="capacity">Readings in the window, from 3.</param>
    /// <exception cref="ArgumentException">There are fewer.</exception>
    public WindowSlope(int capacity)
    {
        if (capacity < LeastSquaresLine.LeastPoints)
        {
            throw new ArgumentException($"A window holds {LeastSquaresLine.LeastPoints} readings or more.", nameof(capacity));
        }

        _times = new double[capacity];
        _values = new double[capacity];
    }

    /// <summary>Readings in the window.</summary>
    public int Count { get; private set; }

    /// <summary>In value units a second; a shortfall before the third reading.</summary>
    public Answer<double> Slope => Count < LeastSquaresLine.LeastPoints
        ? new Shortfall("points", Count, LeastSquaresLine.LeastPoints)
        : ((Count * _xy) - (_x * _y)) / ((Count * _xx) - (_x * _x));

    /// <summary>The line's value at the last reading's time.</summary>
    public Answer<double> Level
    {
        get
        {
            Answer<double> slope = Slope;
            if (!slope.IsKnown)
            {
                return slope;
            }

            double last = _times[_next == 0 ? _times.Length - 1 : _next - 1] - _originTime;
            return _originValue + (_y / Count) + (slope.Value * (last - (_x / Count)));
        }
    }

    /// <param name="time">In seconds, later than the one before.</param>
    /// <param name="value">In its unit.</param>
    /// <exception cref="ArgumentException">A number is not finite, or the time doesn't rise.</exception>
    public void Add(double time, double value)
    {
        Finite.Require(value);
        Finite.Require(time);
        if (Count > 0 && !(time > _times[_next == 0 ? _times.Length - 1 : _next - 1]))
        {
            throw new ArgumentException("Times must rise.", nameof(time));
        }

        if (Count == _times.Length)
        {
            Take(_times[_next], _values[_next], -1);
        }
        else
        {
            Count++;
        }

        _times[_next] = time;
        _values[_next] = value;
        if (Count == 1)
        {
            (_originTime, _originValue) = (time, value);
        }

        Take(time, value, 1);
        _next++;
        if (_next == _times.Length)
        {
            _next = 0;
            MakeAnew();
        }
    }

    private void Take(double time, double value, double sign)
    {
        double x = time - _originTime;
        double y = value - _originValue;
        _x += sign * x;
        _y += sign * y;
        _xx += sign * x * x;
        _xy += sign * x * y;
    }

    /// <summary>About the newest reading: the window it stays an origin for is the one to come.</summary>
    private void MakeAnew()
    {
        (_originTime, _originValue) = (_times[^1], _values[^1]);
        _x = _y = _xx = _xy = 0;
        for (int i = 0; i < _times.Length; i++)
        {
            Take(_times[i], _values[i], 1);
        }
    }
}
