namespace DriftWatch.Analysis.Events;

/// <summary>Even steps of frequency.</summary>
/// <param name="First">In Hz, above 0.</param>
/// <param name="Step">In Hz, above 0.</param>
/// <param name="Count">How many, 1 or more.</param>
public readonly record struct FrequencyGrid(double First, double Step, int Count)
{
    /// <summary>Fine enough for every peak: a peak is 1/T wide (T the record's length), and steps are a fifth of that.</summary>
    public const double StepsPerPeak = 5;

    public double Last => First + (Step * (Count - 1));

    /// <summary>From the longest to the shortest period, in steps of 1/(5T).</summary>
    /// <exception cref="ArgumentException">The record has no length, or the periods are not 0 &lt; shortest &lt; longest.</exception>
    public static FrequencyGrid Between(double shortestPeriod, double longestPeriod, double recordSeconds)
    {
        if (!(recordSeconds > 0) || !double.IsFinite(recordSeconds))
        {
            throw new ArgumentException("A record has a length.", nameof(recordSeconds));
        }

        if (!(shortestPeriod > 0) || !(longestPeriod > shortestPeriod) || !double.IsFinite(longestPeriod))
        {
            throw new ArgumentException("Periods are above 0, the longest longer than the shortest.", nameof(longestPeriod));
        }

        double step = 1 / (StepsPerPeak * recordSeconds);
        double first = 1 / longestPeriod;
        return new FrequencyGrid(first, step, 1 + (int)Math.Ceiling(((1 / shortestPeriod) - first) / step));
    }

    /// <summary>The frequency at an index from 0, in Hz.</summary>
    public double At(int index) => First + (Step * index);

    internal static void Check(FrequencyGrid grid)
    {
        if (!(grid.First > 0) || !(grid.Step > 0) || !double.IsFinite(grid.Last) || grid.Count < 1)
        {
            throw new ArgumentException("A grid has a first frequency and a step above 0, and one frequency or more.", nameof(grid));
        }
    }
}
