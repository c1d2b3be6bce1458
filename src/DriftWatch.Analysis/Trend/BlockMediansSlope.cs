using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Trend;

/// <summary>
/// A slope that bears wild readings, as it goes: the Theil-Sen slope through the medians of the last full blocks of readings.
/// An update costs the median's share of a block; the slope is worked out when it is asked for, once a block at most, over some
/// hundreds of pairs. Agrees with <see cref="TheilSen"/> over the same medians. Up to half of a block and 29 % of the blocks
/// may be wild. For showing; for a claim see <see cref="Drift"/>.
/// </summary>
public sealed class BlockMediansSlope
{
    private readonly double[] _block;
    private readonly double[] _times;
    private readonly double[] _medians;
    private readonly double[] _slopes;
    private double _blockStart;
    private double _timeSum;
    private double _last = double.NegativeInfinity;
    private int _filled;
    private int _next;
    private double? _slope;

    /// <param name="blockSize">Readings a block, from 1; an odd number has a reading for its median.</param>
    /// <param name="blocks">Blocks in the window, 3 to 256.</param>
    /// <exception cref="ArgumentException">One is out of its range.</exception>
    public BlockMediansSlope(int blockSize, int blocks)
    {
        if (blockSize < 1)
        {
            throw new ArgumentException("A block holds 1 reading or more.", nameof(blockSize));
        }

        if (blocks is < 3 or > 256)
        {
            throw new ArgumentException("A window holds 3 to 256 blocks: its pairs are all looked at.", nameof(blocks));
        }

        _block = new double[blockSize];
        _times = new double[blocks];
        _medians = new double[blocks];
        _slopes = new double[blocks * (blocks - 1) / 2];
    }

    /// <summary>Full blocks in the window.</summary>
    public int Blocks { get; private set; }

    /// <summary>In value units a second; a shortfall before the third full block.</summary>
    public Answer<double> Slope
    {
        get
        {
            if (Blocks < 3)
            {
                return new Shortfall("blocks", Blocks, 3);
            }

            return _slope ??= Median();
        }
    }

    /// <param name="time">In seconds, later than the one before.</param>
    /// <param name="value">In its unit.</param>
    /// <exception cref="ArgumentException">A number is not finite, or the time doesn't rise.</exception>
    public void Add(double time, double value)
    {
        Finite.Require(value);
        Finite.Require(time);
        if (!(time > _last))
        {
            throw new ArgumentException("Times must rise.", nameof(time));
        }

        _last = time;
        if (_filled == 0)
        {
            (_blockStart, _timeSum) = (time, 0);
        }

        _timeSum += time - _blockStart;
        _block[_filled++] = value;
        if (_filled < _block.Length)
        {
            return;
        }

        _times[_next] = _blockStart + (_timeSum / _filled);
        _medians[_next] = Selection.Median(_block);
        _next = (_next + 1) % _times.Length;
        Blocks = Math.Min(Blocks + 1, _times.Length);
        _filled = 0;
        _slope = null;
    }

    private double Median()
    {
        int count = 0;
        for (int i = 0; i < Blocks; i++)
        {
            for (int j = 0; j < i; j++)
            {
                _slopes[count++] = (_medians[i] - _medians[j]) / (_times[i] - _times[j]);
            }
        }

        return Selection.Median(_slopes.AsSpan(0, count));
    }
}
