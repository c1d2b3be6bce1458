namespace DriftWatch.Analysis.Change;

/// <summary>What it costs to call the values from one index up to, not including, another one regime.</summary>
internal interface ISegmentCost
{
    double Of(int from, int to);
}

/// <summary>Sums of values and squares up to every index, about the record's first value and mean so that an offset costs no digits.</summary>
internal readonly struct RunningSums
{
    private readonly double[] _sums;
    private readonly double[] _squares;

    public RunningSums(ReadOnlySpan<double> values)
    {
        double origin = values.IsEmpty ? 0 : values[0];
        double mean = 0;
        foreach (double value in values)
        {
            mean += (value - origin) / values.Length;
        }

        _sums = new double[values.Length + 1];
        _squares = new double[values.Length + 1];
        for (int i = 0; i < values.Length; i++)
        {
            double x = values[i] - origin - mean;
            _sums[i + 1] = _sums[i] + x;
            _squares[i + 1] = _squares[i] + (x * x);
        }
    }

    /// <summary>Sum of squares about the segment's own mean; rounding may leave it a hair below 0, which is 0.</summary>
    public double About(int from, int to)
    {
        double sum = _sums[to] - _sums[from];
        return Math.Max(0, _squares[to] - _squares[from] - (sum * sum / (to - from)));
    }
}

internal readonly struct LevelCost(ReadOnlySpan<double> values, double sigma) : ISegmentCost
{
    private readonly RunningSums _sums = new(values);
    private readonly double _scale = 1 / (sigma * sigma);

    public double Of(int from, int to) => _sums.About(from, to) * _scale;
}

internal readonly struct LevelAndNoiseCost(ReadOnlySpan<double> values, double leastSigma) : ISegmentCost
{
    private readonly RunningSums _sums = new(values);
    private readonly double _least = leastSigma * leastSigma;

    public double Of(int from, int to)
    {
        double squares = _sums.About(from, to);
        int count = to - from;
        double variance = Math.Max(squares / count, _least);
        return (count * Math.Log(2 * Math.PI * variance)) + (squares / variance);
    }
}

/// <summary>The recursion of <see cref="Segmentation"/>.</summary>
internal static class Pelt
{
    /// <param name="cost">Splitting a segment never makes it dearer.</param>
    /// <param name="count">Number of values, at least <paramref name="least"/>.</param>
    /// <param name="penalty">For each change.</param>
    /// <param name="least">Least values in a segment.</param>
    public static SegmentedRecord Run<TCost>(TCost cost, int count, double penalty, int least)
        where TCost : struct, ISegmentCost
    {
        double[] best = new double[count + 1];
        int[] last = new int[count + 1];
        int[] starts = new int[count + 1];
        int[] endsAt = new int[count + 1]; // the end from which on a start need not be looked at
        Array.Fill(endsAt, int.MaxValue);
        int alive = 0;
        best[0] = -penalty;
        for (int end = least; end <= count; end++)
        {
            int newest = end - least;
            if (newest == 0 || newest >= least)
            {
                starts[alive++] = newest;
            }

            double least1 = double.PositiveInfinity;
            int from = 0;
            for (int i = 0; i < alive; i++)
            {
                double total = best[starts[i]] + cost.Of(starts[i], end);
                if (total < least1)
                {
                    (least1, from) = (total, starts[i]);
                }
            }

            best[end] = least1 + penalty;
            last[end] = from;

            // A start that is dearer than beginning anew here stays dearer for every later end that 'here' can serve as a
            // start for, which is from a least segment further on.
            int kept = 0;
            for (int i = 0; i < alive; i++)
            {
                int start = starts[i];
                if (endsAt[start] == int.MaxValue && best[start] + cost.Of(start, end) >= best[end])
                {
                    endsAt[start] = end + least;
                }

                if (endsAt[start] > end + 1)
                {
                    starts[kept++] = start;
                }
            }

            alive = kept;
        }

        var changes = new List<int>();
        for (int at = last[count]; at > 0; at = last[at])
        {
            changes.Add(at);
        }

        changes.Reverse();
        return new SegmentedRecord(changes, best[count], penalty);
    }
}
