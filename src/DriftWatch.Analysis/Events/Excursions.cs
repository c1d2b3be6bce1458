namespace DriftWatch.Analysis.Events;

/// <summary>
/// Excursions of a whole record: runs beyond the end level that reach the start level, then joined, then sieved. Written
/// apart from <see cref="ExcursionDetector"/>; the two agree to the last digit of the areas' sums.
/// </summary>
public static class Excursions
{
    /// <param name="times">In seconds, rising.</param>
    /// <param name="values">As many, in their unit.</param>
    /// <param name="rule">When a value is away.</param>
    /// <returns>In order; none where there are no samples. The last may be open.</returns>
    /// <exception cref="ArgumentException">Lengths differ, a number is not finite, or times don't rise.</exception>
    public static IReadOnlyList<Excursion> Find(ReadOnlySpan<double> times, ReadOnlySpan<double> values, ExcursionRule rule)
    {
        Traces.Check(times, values);
        var found = new List<Excursion>();
        int i = 0;
        while (i < times.Length)
        {
            // A stretch without a gap.
            int stop = i + 1;
            while (stop < times.Length && times[stop] - times[stop - 1] <= rule.LongestGapSeconds)
            {
                stop++;
            }

            Stretch(times[i..stop], values[i..stop], rule, stop == times.Length, found);
            i = stop;
        }

        found.RemoveAll(e => e.Duration < rule.MinDurationSeconds);
        return found;
    }

    private static void Stretch(
        ReadOnlySpan<double> times, ReadOnlySpan<double> values, ExcursionRule rule, bool last, List<Excursion> found)
    {
        int before = found.Count;
        int n = times.Length;
        int from = 0;
        while ((from = NextAway(values, from, rule)) < n)
        {
            int back = from + 1;
            while (back < n && rule.Beyond(values[back]) > 0)
            {
                back++;
            }

            Excursion part = Measure(times, values, rule, from, back, last);
            if (found.Count > before && part.Start - found[^1].End < rule.MinSeparationSeconds)
            {
                found[^1] = found[^1].Joined(part, rule.Side);
            }
            else
            {
                found.Add(part);
            }

            from = back + 1;
        }
    }

    private static int NextAway(ReadOnlySpan<double> values, int from, ExcursionRule rule)
    {
        while (from < values.Length && !rule.IsAway(values[from]))
        {
            from++;
        }

        return from;
    }

    private static Excursion Measure(
        ReadOnlySpan<double> times, ReadOnlySpan<double> values, ExcursionRule rule, int from, int back, bool last)
    {
        double start = from == 0 ? times[0] : Crossing(times, values, from - 1, rule.StartLevel);
        bool cameBack = back < times.Length;
        double end = cameBack ? Crossing(times, values, back - 1, rule.EndLevel) : times[^1];
        int extreme = from;
        for (int i = from + 1; i < back; i++)
        {
            extreme = rule.Beyond(values[i]) > rule.Beyond(values[extreme]) ? i : extreme;
        }

        // Trapezoids over the corners: the start's crossing, the samples, the end's crossing.
        double area = (times[from] - start) * (rule.Beyond(rule.StartLevel) + rule.Beyond(values[from])) / 2;
        for (int i = from + 1; i < back; i++)
        {
            area += (times[i] - times[i - 1]) * (rule.Beyond(values[i - 1]) + rule.Beyond(values[i])) / 2;
        }

        area += (end - times[back - 1]) * rule.Beyond(values[back - 1]) / 2;
        ExcursionEnd ended = cameBack ? ExcursionEnd.CameBack : last ? ExcursionEnd.Open : ExcursionEnd.Gap;
        return new Excursion(start, end, values[extreme], times[extreme], area, 1, ended);
    }

    /// <summary>When the line from sample i to the next meets a level that lies between the two.</summary>
    private static double Crossing(ReadOnlySpan<double> times, ReadOnlySpan<double> values, int i, double level)
    {
        double share = (level - values[i]) / (values[i + 1] - values[i]);
        return times[i] + (Math.Clamp(share, 0, 1) * (times[i + 1] - times[i]));
    }
}
