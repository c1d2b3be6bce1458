namespace DriftWatch.Analysis.Trend;

/// <summary>
/// Order statistics of the slopes of all pairs of points with different times, without an array of them: O(n) memory and
/// about O(n log n) time. Works on the dual: a pair has a slope of at most m exactly where the order of y−m·t of the two is
/// the reverse of their order in time, so slopes in (low, high] are the inversions between two sorted orders. Inversions are
/// counted by a merge; a sample of n of them, drawn uniformly by their number in that merge, brackets the wanted rank;
/// the bracket shrinks about √n times a round, and what is left is listed and selected exactly.
/// Source: Matoušek, 'Randomized optimal algorithm for slope selection', Information Processing Letters 39 (1991), and
/// Dillencourt, Mount and Netanyahu, 'A randomized algorithm for slope selection' (1992); written from memory of the idea.
/// The generator's seed is fixed, and no result depends on it.
/// </summary>
internal sealed class PairwiseSlopes
{
    private const int ListedAtLeast = 1 << 16;

    private readonly double[] _times;
    private readonly double[] _values;
    private readonly double[] _t;
    private readonly double[] _y;
    private readonly int[] _first;
    private readonly int[] _second;
    private readonly double[] _keys;
    private readonly int[] _rank;
    private readonly int[] _merged;
    private readonly int[] _scratch;
    private ulong _state = 0x9E3779B97F4A7C15;

    /// <param name="times">In any order; finite.</param>
    /// <param name="values">As many; finite.</param>
    internal PairwiseSlopes(ReadOnlySpan<double> times, ReadOnlySpan<double> values)
    {
        int n = times.Length;
        _times = times.ToArray();
        _values = values.ToArray();
        SortByTimeThenValue(_times, _values);

        // About the middle the products m·t are smallest, and with them the rounding of y−m·t.
        _t = new double[n];
        _y = new double[n];
        for (int i = 0; i < n; i++)
        {
            _t[i] = _times[i] - _times[n / 2];
            _y[i] = _values[i] - _values[n / 2];
        }

        long ties = 0;
        for (int i = 0, run = 1; i < n; i++, run++)
        {
            if (i + 1 == n || _times[i + 1] != _times[i])
            {
                ties += Points.Pairs(run);
                run = 0;
            }
        }

        Count = Points.Pairs(n) - ties;
        _first = new int[n];
        _second = new int[n];
        _keys = new double[n];
        _rank = new int[n];
        _merged = new int[n];
        _scratch = new int[n];
    }

    /// <summary>How many pairs have different times.</summary>
    internal long Count { get; }

    /// <summary>The slope of rank <paramref name="rank"/> from below, the first being 0.</summary>
    internal double Select(long rank)
    {
        if (rank < 0 || rank >= Count)
        {
            throw new ArgumentOutOfRangeException(nameof(rank), rank, "There is no such rank.");
        }

        double low = double.NegativeInfinity;
        double high = double.PositiveInfinity;
        long below = 0;
        long upTo = Count;
        long listed = Math.Max(ListedAtLeast, 4L * _t.Length);
        int stuck = 0;
        while (upTo - below > listed)
        {
            long inside = upTo - below;
            double[] sample = Sample(low, high, inside, Math.Max(_t.Length, 4096));
            if (sample.Length == 0)
            {
                break;
            }

            double place = (rank - below + 0.5) / inside * sample.Length;
            double slack = 2.5 * Math.Sqrt(sample.Length) / 2;
            double a = sample[(int)Math.Clamp(place - slack, 0, sample.Length - 1)];
            double b = sample[(int)Math.Clamp(place + slack, 0, sample.Length - 1)];
            if (a == b && IsAt(rank, a))
            {
                return a;
            }

            Tighten(rank, a, ref low, ref high, ref below, ref upTo);
            Tighten(rank, b, ref low, ref high, ref below, ref upTo);

            // Slopes that are equal but for rounding can't be parted by y−m·t: then one of them is the answer.
            stuck = upTo - below > inside / 2 ? stuck + 1 : 0;
            if (stuck >= 3 || high - low <= 8 * Math.Max(Math.BitIncrement(Math.Abs(high)) - Math.Abs(high), double.Epsilon))
            {
                return sample[(int)Math.Clamp(place, 0, sample.Length - 1)];
            }
        }

        double[] rest = List(low, high);
        Array.Sort(rest);
        return rest[(int)Math.Clamp(rank - below, 0, rest.Length - 1)];
    }

    /// <summary>The middle slope, or the mean of the two middle ones; there is one at least.</summary>
    internal double Median()
    {
        long half = Count / 2;
        double upper = Select(half);
        return Count % 2 == 1 ? upper : (Select(half - 1) + upper) / 2;
    }

    internal static double Median(ReadOnlySpan<double> times, ReadOnlySpan<double> values) => new PairwiseSlopes(times, values).Median();

    /// <summary>How many slopes are at most <paramref name="slope"/>.</summary>
    internal long CountUpTo(double slope)
    {
        Order(slope, _second, tiesReversed: true);
        Order(double.NegativeInfinity, _first, tiesReversed: true);
        return Inversions(default, default);
    }

    private bool IsAt(long rank, double slope)
    {
        Order(double.NegativeInfinity, _first, tiesReversed: true);
        Order(slope, _second, tiesReversed: false);
        long less = Inversions(default, default);
        return less <= rank && rank < CountUpTo(slope);
    }

    private void Tighten(long rank, double slope, ref double low, ref double high, ref long below, ref long upTo)
    {
        if (!(slope > low && slope < high))
        {
            return;
        }

        long count = CountUpTo(slope);
        if (rank < count)
        {
            (high, upTo) = (slope, count);
        }
        else
        {
            (low, below) = (slope, count);
        }
    }

    /// <summary>Sorted slopes of pairs drawn uniformly from those in (low, high].</summary>
    private double[] Sample(double low, double high, long inside, int size)
    {
        long[] targets = new long[size];
        for (int i = 0; i < size; i++)
        {
            targets[i] = (long)Math.BigMul(Next(), (ulong)inside, out _);
        }

        Array.Sort(targets);
        double[] slopes = new double[size];
        Order(low, _first, tiesReversed: true);
        Order(high, _second, tiesReversed: true);
        Inversions(targets, slopes);
        Array.Sort(slopes);
        return slopes;
    }

    private double[] List(double low, double high)
    {
        Order(low, _first, tiesReversed: true);
        Order(high, _second, tiesReversed: true);
        long count = Inversions(default, default);
        long[] targets = new long[count];
        for (int i = 0; i < targets.Length; i++)
        {
            targets[i] = i;
        }

        double[] slopes = new double[count];
        Inversions(targets, slopes);
        return slopes;
    }

    /// <summary>
    /// The points in the order of y−m·t; equal ones with the later first where the pair's slope m is to count as passed
    /// (<paramref name="tiesReversed"/>), else with the earlier first. Points of equal time never change their order.
    /// </summary>
    private void Order(double slope, int[] order, bool tiesReversed)
    {
        int n = _t.Length;
        for (int i = 0; i < n; i++)
        {
            order[i] = i;
        }

        if (double.IsNegativeInfinity(slope))
        {
            return;
        }

        if (double.IsPositiveInfinity(slope))
        {
            Array.Reverse(order);
            FlipRuns(order, _times);
            return;
        }

        for (int i = 0; i < n; i++)
        {
            _keys[i] = _y[i] - (slope * _t[i]);
        }

        Array.Sort(_keys, order);
        for (int start = 0; start < n;)
        {
            int end = start + 1;
            while (end < n && _keys[end] == _keys[start])
            {
                end++;
            }

            if (end - start > 1)
            {
                Span<int> run = order.AsSpan(start, end - start);
                run.Sort();
                if (tiesReversed)
                {
                    run.Reverse();
                    FlipRuns(run, _times);
                }
            }

            start = end;
        }
    }

    /// <summary>Turns each run of equal times round, so that reversing all before has left points of equal time in their order.</summary>
    private static void FlipRuns(Span<int> order, double[] times)
    {
        for (int start = 0; start < order.Length;)
        {
            int end = start + 1;
            while (end < order.Length && times[order[end]] == times[order[start]])
            {
                end++;
            }

            order[start..end].Reverse();
            start = end;
        }
    }

    /// <summary>
    /// Pairs that stand in another order in the second order than in the first: their number, and the slopes of those with the
    /// wanted numbers (rising).
    /// </summary>
    private long Inversions(ReadOnlySpan<long> targets, Span<double> slopes)
    {
        int n = _t.Length;
        for (int i = 0; i < n; i++)
        {
            _rank[_second[i]] = i;
        }

        long count = 0;
        int next = 0;
        int[] from = _merged;
        int[] to = _scratch;
        for (int i = 0; i < n; i++)
        {
            from[i] = _rank[_first[i]];
        }

        for (int width = 1; width < n; width *= 2)
        {
            for (int start = 0; start < n; start += 2 * width)
            {
                int middle = Math.Min(start + width, n);
                int end = Math.Min(start + (2 * width), n);
                int left = start;
                int right = middle;
                for (int k = start; k < end; k++)
                {
                    if (left < middle && (right >= end || from[left] < from[right]))
                    {
                        to[k] = from[left++];
                        continue;
                    }

                    int moved = from[right++];
                    to[k] = moved;
                    long until = count + (middle - left);
                    while (next < targets.Length && targets[next] < until)
                    {
                        slopes[next] = Slope(_second[from[left + (int)(targets[next] - count)]], _second[moved]);
                        next++;
                    }

                    count = until;
                }
            }

            (from, to) = (to, from);
        }

        return count;
    }

    private double Slope(int a, int b) => (_values[b] - _values[a]) / (_times[b] - _times[a]);

    private ulong Next()
    {
        // SplitMix64 (Steele, Lea and Flood, 2014).
        ulong z = _state += 0x9E3779B97F4A7C15;
        z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9;
        z = (z ^ (z >> 27)) * 0x94D049BB133111EB;
        return z ^ (z >> 31);
    }

    private static void SortByTimeThenValue(double[] times, double[] values)
    {
        Array.Sort(times, values);
        for (int start = 0; start < times.Length;)
        {
            int end = start + 1;
            while (end < times.Length && times[end] == times[start])
            {
                end++;
            }

            if (end - start > 1)
            {
                Array.Sort(values, start, end - start);
            }

            start = end;
        }
    }
}
