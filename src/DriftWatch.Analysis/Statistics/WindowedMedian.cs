namespace DriftWatch.Analysis.Statistics;

/// <summary>
/// Median and MAD of the last w values. The window is kept sorted: a new value takes the place of the oldest by moving only
/// what lies between the two, which for the windows in use (some hundred values) beats any tree. Time a value O(log w)
/// comparisons and a move of at most w numbers; allocation-free after construction. Bit for bit what
/// <see cref="RobustScale"/> gives for the same values.
/// </summary>
public sealed class WindowedMedian
{
    private readonly double[] _arrived;
    private readonly double[] _sorted;
    private int _next;
    private int _length;

    /// <param name="window">How many values back, at least one.</param>
    public WindowedMedian(int window)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(window, 1);
        _arrived = new double[window];
        _sorted = new double[window];
    }

    /// <summary>How many values it holds, at most the window.</summary>
    public int Count => _length;

    /// <summary>The median of the values held.</summary>
    public Answer<double> Median => _length == 0 ? new Shortfall("points", 0, 1) : Middle;

    /// <summary>The median absolute deviation with <see cref="RobustScale.MadFactor"/>, of at least two values, in O(log w).</summary>
    public Answer<double> Mad
    {
        get
        {
            if (_length < 2)
            {
                return new Shortfall("points", _length, 2);
            }

            double centre = Middle;
            double upper = Distance(centre, _length / 2);
            double middle = _length % 2 == 1 ? upper : (Distance(centre, (_length / 2) - 1) + upper) / 2;
            return RobustScale.MadFactor * middle;
        }
    }

    private double Middle => _length % 2 == 1
        ? _sorted[_length / 2]
        : (_sorted[(_length / 2) - 1] + _sorted[_length / 2]) / 2;

    /// <exception cref="ArgumentException">The value is not finite.</exception>
    public void Add(double value)
    {
        Finite.Require(value);
        if (_length < _sorted.Length)
        {
            int place = Below(_sorted.AsSpan(0, _length), value);
            _sorted.AsSpan(place, _length - place).CopyTo(_sorted.AsSpan(place + 1));
            _sorted[place] = value;
            _length++;
        }
        else
        {
            Span<double> sorted = _sorted;
            int gone = Below(sorted, _arrived[_next]);
            int place = Below(sorted, value);
            if (place > gone)
            {
                place--;
                sorted[(gone + 1)..(place + 1)].CopyTo(sorted[gone..]);
            }
            else
            {
                sorted[place..gone].CopyTo(sorted[(place + 1)..]);
            }

            sorted[place] = value;
        }

        _arrived[_next] = value;
        _next = _next + 1 == _arrived.Length ? 0 : _next + 1;
    }

    /// <summary>How many sorted values are below this one; halves without a branch to mispredict.</summary>
    private static int Below(ReadOnlySpan<double> sorted, double value)
    {
        int from = 0;
        int length = sorted.Length;
        while (length > 1)
        {
            int half = length / 2;
            from += sorted[from + half - 1] < value ? half : 0;
            length -= half;
        }

        return from + (length == 1 && sorted[from] < value ? 1 : 0);
    }

    /// <summary>The distance from the centre of rank r (from 0): distances rise to the left and to the right of it.</summary>
    private double Distance(double centre, int rank)
    {
        ReadOnlySpan<double> sorted = _sorted.AsSpan(0, _length);
        int right = Below(sorted, centre);
        int left = right - 1;
        int low = Math.Max(0, rank + 1 - (_length - right));
        int high = Math.Min(right, rank + 1);
        while (low < high)
        {
            // How many of the rank+1 nearest lie to the left.
            int taken = (low + high) / 2;
            if (centre - sorted[left - taken] < sorted[right + rank - taken] - centre)
            {
                low = taken + 1;
            }
            else
            {
                high = taken;
            }
        }

        double farthest = 0;
        if (low > 0)
        {
            farthest = centre - sorted[left - low + 1];
        }

        return low <= rank ? Math.Max(farthest, sorted[right + rank - low] - centre) : farthest;
    }
}
