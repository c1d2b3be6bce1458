namespace DriftWatch.Analysis.Statistics;

/// <summary>
/// Quantiles of a stream of any length in some kilobytes, mergeable: the sketch of Karnin, Lang and Liberty, 'Optimal quantile
/// approximation in streams' (FOCS 2016). Values of level h stand for 2^h each; a full level is sorted and every other value,
/// from the first or the second by chance, goes up a level. Chosen among mergeable sketches because its error has a bound: one
/// compaction at level h moves the rank of any one value by at most 2^h either way with equal chance, so by Hoeffding's
/// inequality P(|rank error| > t) ≤ 2·exp(−t²/2Σ4^h) over all compactions done, and the sketch keeps that sum:
/// <see cref="RankError"/> states the bound of this very sketch. Exact until the first compaction. The chance is a generator
/// of its own with a fixed seed, so the same stream gives the same sketch. Adding is allocation-free but for a new level each
/// time the stream doubles.
/// </summary>
public sealed class QuantileSketch
{
    /// <summary>How much a level holds of what the one above it holds: the choice of Karnin, Lang and Liberty's analysis.</summary>
    private const double Shrink = 2.0 / 3;

    /// <summary>Smaller levels are sorted too often; common practice, no source.</summary>
    private const int LeastCapacity = 8;

    private readonly List<Level> _levels = [];
    private readonly int _size;
    private ulong _chance;
    private double _squaredWeights;

    /// <param name="size">Values the top level holds, 8 … 65536; the error falls as its inverse. 256 gives about 1 %.</param>
    /// <param name="seed">Of its chance. Sketches that are to be merged should differ in it.</param>
    public QuantileSketch(int size = 256, ulong seed = 1)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(size, LeastCapacity);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(size, 65536);
        _size = size;
        _chance = (seed * 0x9E3779B97F4A7C15) ^ 0xD1B54A32D192ED03;
        if (_chance == 0)
        {
            _chance = 1;
        }

        Grow();
    }

    public long Count { get; private set; }

    /// <summary>How many values it holds now.</summary>
    public int Held => _levels.Sum(l => l.Count);

    private double Lowest { get; set; } = double.PositiveInfinity;

    private double Highest { get; set; } = double.NegativeInfinity;

    /// <exception cref="ArgumentException">The value is not finite.</exception>
    public void Add(double value)
    {
        Finite.Require(value);
        Lowest = Math.Min(Lowest, value);
        Highest = Math.Max(Highest, value);
        Count++;
        if (_levels[0].Push(value))
        {
            Compact(0);
        }
    }

    /// <summary>Takes another sketch of the same size in, as if its values had been added here; the other is left as it is.</summary>
    /// <exception cref="ArgumentException">The sizes differ.</exception>
    public void Merge(QuantileSketch other)
    {
        if (other._size != _size)
        {
            throw new ArgumentException($"A sketch of size {other._size} can't be merged into one of {_size}.", nameof(other));
        }

        if (other == this)
        {
            throw new ArgumentException("A sketch can't be merged into itself.", nameof(other));
        }

        while (_levels.Count < other._levels.Count)
        {
            Grow();
        }

        Count += other.Count;
        Lowest = Math.Min(Lowest, other.Lowest);
        Highest = Math.Max(Highest, other.Highest);
        _squaredWeights += other._squaredWeights;
        for (int h = 0; h < other._levels.Count; h++)
        {
            _levels[h].Take(other._levels[h].Values);
        }

        for (int h = 0; h < _levels.Count; h++)
        {
            if (_levels[h].Count >= _levels[h].Capacity)
            {
                Compact(h);
            }
        }
    }

    /// <summary>
    /// The bound of the rank error as a share of the count, for one value asked about: with this probability the rank of
    /// <see cref="Quantile"/> is no farther from the one wanted.
    /// </summary>
    /// <param name="probability">Above 0, below 1.</param>
    public double RankError(double probability = 0.99)
    {
        ArgumentOutOfRangeException.ThrowIfLessThanOrEqual(probability, 0);
        ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual(probability, 1);
        return Count == 0 ? 0 : Math.Min(1, Math.Sqrt(2 * _squaredWeights * Math.Log(2 / (1 - probability))) / Count);
    }

    /// <summary>The value below which lies this share of all: the smallest held one whose rank is at least that.</summary>
    /// <param name="share">0 (the least) … 1 (the greatest); those two are exact.</param>
    public Answer<double> Quantile(double share)
    {
        if (!(share >= 0 && share <= 1))
        {
            throw new ArgumentOutOfRangeException(nameof(share), share, "A share is within 0 and 1.");
        }

        if (Count == 0)
        {
            return new Shortfall("points", 0, 1);
        }

        if (share is 0 or 1)
        {
            return share == 0 ? Lowest : Highest;
        }

        var held = new List<(double Value, long Weight)>(Held);
        for (int h = 0; h < _levels.Count; h++)
        {
            foreach (double value in _levels[h].Values)
            {
                held.Add((value, 1L << h));
            }
        }

        held.Sort((a, b) => a.Value.CompareTo(b.Value));
        double wanted = share * Count;
        long passed = 0;
        foreach ((double value, long weight) in held)
        {
            passed += weight;
            if (passed >= wanted)
            {
                return value;
            }
        }

        return Highest;
    }

    /// <summary>The share of values at or below this one, estimated.</summary>
    public Answer<double> Rank(double value)
    {
        Finite.Require(value);
        if (Count == 0)
        {
            return new Shortfall("points", 0, 1);
        }

        long passed = 0;
        for (int h = 0; h < _levels.Count; h++)
        {
            foreach (double held in _levels[h].Values)
            {
                passed += held <= value ? 1L << h : 0;
            }
        }

        return (double)passed / Count;
    }

    private void Compact(int from)
    {
        for (int h = from; h < _levels.Count && _levels[h].Count >= _levels[h].Capacity; h++)
        {
            if (h + 1 == _levels.Count)
            {
                Grow();
            }

            // An odd one out stays behind, so that weights add up to the count.
            Span<double> values = _levels[h].Values;
            values.Sort();
            int odd = values.Length & 1;
            _chance ^= _chance << 13;
            _chance ^= _chance >> 7;
            _chance ^= _chance << 17;
            int start = odd + (int)(_chance >> 63);
            Level above = _levels[h + 1];
            for (int i = start; i < values.Length; i += 2)
            {
                above.Push(values[i]);
            }

            _levels[h].Keep(odd);
            double weight = Math.ScaleB(1, h);
            _squaredWeights += weight * weight;
        }
    }

    private void Grow()
    {
        _levels.Add(new Level());
        for (int h = 0; h < _levels.Count; h++)
        {
            double capacity = _size * Math.Pow(Shrink, _levels.Count - 1 - h);
            _levels[h].Capacity = Math.Max(LeastCapacity, (int)Math.Ceiling(capacity));
        }
    }

    /// <summary>Values of one weight.</summary>
    private sealed class Level
    {
        private double[] _values = new double[LeastCapacity];
        private int _count;

        public int Capacity { get; set; }

        public int Count => _count;

        public Span<double> Values => _values.AsSpan(0, _count);

        /// <summary>Whether it is full with this one.</summary>
        public bool Push(double value)
        {
            if (_count == _values.Length)
            {
                Array.Resize(ref _values, 2 * _count);
            }

            _values[_count++] = value;
            return _count >= Capacity;
        }

        public void Take(ReadOnlySpan<double> values)
        {
            foreach (double value in values)
            {
                Push(value);
            }
        }

        public void Keep(int count) => _count = count;
    }
}
