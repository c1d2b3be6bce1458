namespace DriftWatch.Analysis.Stability;

/// <summary>
/// Overlapping Allan deviation of a stream over octaves m = 1, 2, 4 ... 2^(octaves−1): the same as
/// <see cref="AllanDeviation.Overlapping"/> of all values so far. Time a value: one second difference an octave; memory: the
/// running sum over twice the longest average, so 15 octaves take half a megabyte. Allocation-free after construction. The
/// running sum is of differences to the first value; its digits last as long as drift × count stays below 10¹⁰ deviations.
/// </summary>
public sealed class StreamingAllan
{
    private readonly double[] _ring;
    private readonly double[] _squares;
    private readonly int _mask;
    private double _origin;
    private double _sum;
    private long _count;

    /// <param name="octaves">1 … 20.</param>
    public StreamingAllan(int octaves)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(octaves, 1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(octaves, 20);
        _squares = new double[octaves];
        _ring = new double[4 << (octaves - 1)];
        _mask = _ring.Length - 1;
    }

    public int Octaves => _squares.Length;

    public long Count => _count;

    /// <exception cref="ArgumentException">The value is not finite.</exception>
    public void Add(double value)
    {
        Statistics.Finite.Require(value);
        if (_count == 0)
        {
            _origin = value;
        }

        _sum += value - _origin;
        long place = ++_count;
        double[] ring = _ring;
        int mask = _mask;
        ring[(int)place & mask] = _sum;
        double[] squares = _squares;
        long m = 1;
        for (int octave = 0; octave < squares.Length && 2 * m <= place; octave++, m *= 2)
        {
            double z = _sum - (2 * ring[(int)(place - m) & mask]) + ring[(int)(place - (2 * m)) & mask];
            squares[octave] += z * z;
        }
    }

    /// <summary>The deviation at m = 2^<paramref name="octave"/>, in the unit of the values; needs 2m of them.</summary>
    public Answer<double> At(int octave)
    {
        long m = 1L << octave;
        return _count < 2 * m
            ? new Shortfall("points", _count, 2 * m)
            : Math.Sqrt(_squares[octave] / (2.0 * m * m * (_count - (2 * m) + 1)));
    }
}
