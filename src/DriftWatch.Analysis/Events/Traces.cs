using System.Runtime.CompilerServices;
using DriftWatch.Analysis.Trend;

namespace DriftWatch.Analysis.Events;

/// <summary>What every method here asks of times and values.</summary>
internal static class Traces
{
    /// <exception cref="ArgumentException">Lengths differ, a number is not finite, or times don't rise.</exception>
    public static void Check(
        ReadOnlySpan<double> times,
        ReadOnlySpan<double> values,
        [CallerArgumentExpression(nameof(times))] string? timesName = null,
        [CallerArgumentExpression(nameof(values))] string? valuesName = null)
    {
        Points.Check(times, values, timesName, valuesName);
        Points.CheckRising(times, timesName);
    }

    /// <summary>Greatest minus least.</summary>
    public static double Range(ReadOnlySpan<double> values)
    {
        double least = double.PositiveInfinity;
        double most = double.NegativeInfinity;
        foreach (double value in values)
        {
            least = Math.Min(least, value);
            most = Math.Max(most, value);
        }

        return most - least;
    }

    public static void CheckConfidence(double confidence, [CallerArgumentExpression(nameof(confidence))] string? name = null)
    {
        if (!(confidence is > 0.5 and < 1))
        {
            throw new ArgumentException("A confidence lies between 0.5 and 1, such as 0.95.", name);
        }
    }
}
