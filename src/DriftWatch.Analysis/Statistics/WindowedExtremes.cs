namespace DriftWatch.Analysis.Statistics;

/// <summary>
/// Least and greatest of the last w values, in constant time a value on average: values that a later one makes useless are
/// dropped from a queue that stays monotone (Lemire, 'Streaming maximum-minimum filter using no more than three comparisons
/// per element', Nordic Journal of Computing 13, 2006). Allocation-free after construction.
/// </summary>
public sealed class WindowedExtremes
{
    private readonly int _window;
    private readonly Queue _least;
    private readonly Queue _greatest;
    private long _count;

    /// <param name="window">How many values back, at least one.</param>
    public WindowedExtremes(int window)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(window, 1);
        _window = window;
        _least = new Queue(window);
        _greatest = new Queue(window);
    }

    /// <summary>Least of the last values, fewer than the window at the start.</summary>
    public Answer<double> Least => _count == 0 ? new Shortfall("points", 0, 1) : _least.Front;

    /// <inheritdoc cref="Least"/>
    public Answer<double> Greatest => _count == 0 ? new Shortfall("points", 0, 1) : -_greatest.Front;

    /// <exception cref="ArgumentException">The value is not finite.</exception>
    public void Add(double value)
    {
        Finite.Require(value);
        _least.Add(value, _count, _window);
        _greatest.Add(-value, _count, _window);
        _count++;
    }

    /// <summary>Rising values with their places, in a ring.</summary>
    private sealed class Queue(int window)
    {
        private readonly double[] _values = new double[window];
        private readonly long[] _places = new long[window];
        private int _front;
        private int _length;

        public double Front => _values[_front];

        public void Add(double value, long place, int window)
        {
            if (_length > 0 && _places[_front] <= place - window)
            {
                _front = _front + 1 == _values.Length ? 0 : _front + 1;
                _length--;
            }

            while (_length > 0 && _values[Slot(_length - 1)] >= value)
            {
                _length--;
            }

            int slot = Slot(_length);
            _values[slot] = value;
            _places[slot] = place;
            _length++;
        }

        private int Slot(int back)
        {
            int slot = _front + back;
            return slot >= _values.Length ? slot - _values.Length : slot;
        }
    }
}
