using System.Runtime.CompilerServices;
using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Trend;

/// <summary>What every trend asks of its points, and the small sums that several need.</summary>
internal static class Points
{
    /// <summary>Mismatched lengths and numbers that are none are the caller's errors: faults are taken out before analysis.</summary>
    internal static void Check(
        ReadOnlySpan<double> times,
        ReadOnlySpan<double> values,
        [CallerArgumentExpression(nameof(times))] string? timesName = null,
        [CallerArgumentExpression(nameof(values))] string? valuesName = null)
    {
        if (times.Length != values.Length)
        {
            throw new ArgumentException($"As many values as times are needed: {times.Length} times, {values.Length} values.", valuesName);
        }

        Finite.Require(times, timesName);
        Finite.Require(values, valuesName);
    }

    /// <summary>Where neighbours in time matter, times must rise; equal ones would be two readings at once.</summary>
    internal static void CheckRising(ReadOnlySpan<double> times, [CallerArgumentExpression(nameof(times))] string? name = null)
    {
        for (int i = 1; i < times.Length; i++)
        {
            if (!(times[i] > times[i - 1]))
            {
                throw new ArgumentException($"Times must rise: the one at index {i} is not later than the one before it.", name);
            }
        }
    }

    internal static void CheckConfidence(double confidence, [CallerArgumentExpression(nameof(confidence))] string? name = null)
    {
        if (!(confidence is > 0 and < 1))
        {
            throw new ArgumentException("A confidence lies between 0 and 1, such as 0.95.", name);
        }
    }

    /// <summary>The mean, exact for a constant and safe at a huge offset: it is taken about the first value.</summary>
    internal static double Mean(ReadOnlySpan<double> values)
    {
        double origin = values[0];
        double sum = 0;
        foreach (double value in values)
        {
            sum += value - origin;
        }

        return origin + (sum / values.Length);
    }

    internal static bool AllEqual(ReadOnlySpan<double> values) => values.Length == 0 || !values[1..].ContainsAnyExcept(values[0]);

    /// <summary>Number of pairs of n things.</summary>
    internal static long Pairs(long n) => n * (n - 1) / 2;
}
