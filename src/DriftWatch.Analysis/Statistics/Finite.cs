using System.Runtime.CompilerServices;

namespace DriftWatch.Analysis.Statistics;

/// <summary>
/// Guards what analysis is given. Readings that are faults are removed before analysis, so a value that is not finite is a
/// programmer's mistake, never data.
/// </summary>
internal static class Finite
{
    /// <exception cref="ArgumentException">A value is not finite; names the argument and the value's place.</exception>
    public static void Require(ReadOnlySpan<double> values, [CallerArgumentExpression(nameof(values))] string? name = null)
    {
        for (int i = 0; i < values.Length; i++)
        {
            if (!double.IsFinite(values[i]))
            {
                throw new ArgumentException($"Value {i} is {values[i]}; faults are removed before analysis.", name);
            }
        }
    }

    /// <inheritdoc cref="Require(ReadOnlySpan{double}, string?)"/>
    public static void Require(double value, [CallerArgumentExpression(nameof(value))] string? name = null)
    {
        if (!double.IsFinite(value))
        {
            throw new ArgumentException($"The value is {value}; faults are removed before analysis.", name);
        }
    }
}
