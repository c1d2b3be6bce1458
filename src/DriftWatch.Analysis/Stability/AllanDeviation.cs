using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Stability;

/// <summary>
/// Allan deviation and its kin: how much averages over a time τ = m·τ₀ differ from the next such average. Readings y stand
/// for the frequency of the trade's formulas, their running sum x for the phase; all results have the unit of the readings,
/// but <see cref="Time"/>, which has it times samples. Formulas: Riley, 'Handbook of Frequency Stability Analysis', NIST SP
/// 1065 (2008), section 5.2. Each is one pass over the running sum, whatever m is. A constant offset cancels and is taken
/// out first, so that it costs no digits. Readings are finite, evenly sampled and in time order.
/// </summary>
public static class AllanDeviation
{
    /// <summary>√(½⟨(ȳₖ₊₁−ȳₖ)²⟩) over averages of m readings that do not overlap.</summary>
    /// <param name="values">Evenly sampled readings in time order.</param>
    /// <param name="m">Readings in an average, at least one.</param>
    /// <returns>A shortfall below 2m readings.</returns>
    /// <exception cref="ArgumentException">A value is not finite.</exception>
    /// <exception cref="ArgumentOutOfRangeException">m is below one.</exception>
    public static Answer<double> Plain(ReadOnlySpan<double> values, int m) =>
        Lacking(values, m, 2) ?? (Answer<double>)Math.Sqrt(Second(Phase(values), m, m).Variance);

    /// <summary>As <see cref="Plain"/> over all averages of m readings, overlapping: tighter for the same record.</summary>
    /// <inheritdoc cref="Plain"/>
    public static Answer<double> Overlapping(ReadOnlySpan<double> values, int m) =>
        Lacking(values, m, 2) ?? (Answer<double>)Math.Sqrt(Second(Phase(values), m, 1).Variance);

    /// <summary>The modified deviation, of phase averaged over m: tells white from flicker phase noise. Needs 3m−1 readings.</summary>
    /// <inheritdoc cref="Plain"/>
    public static Answer<double> Modified(ReadOnlySpan<double> values, int m)
    {
        if (Lacking(values, m, 2) is { } shortfall)
        {
            return shortfall;
        }

        return values.Length < (3L * m) - 1
            ? new Shortfall("points", values.Length, (3L * m) - 1)
            : Math.Sqrt(ModifiedVariance(Phase(values), m));
    }

    /// <summary>The time deviation m/√3 times the modified one: the unit of the readings times samples.</summary>
    /// <inheritdoc cref="Modified"/>
    public static Answer<double> Time(ReadOnlySpan<double> values, int m)
    {
        Answer<double> modified = Modified(values, m);
        return modified.IsKnown ? m / Math.Sqrt(3) * modified.Value : modified;
    }

    /// <summary>The Hadamard deviation of averages that do not overlap: blind to a straight drift. Needs 3m readings.</summary>
    /// <inheritdoc cref="Plain"/>
    public static Answer<double> Hadamard(ReadOnlySpan<double> values, int m) =>
        Lacking(values, m, 3) ?? (Answer<double>)Math.Sqrt(Third(Phase(values), m, m).Variance);

    /// <summary>As <see cref="Hadamard"/> over all averages of m readings, overlapping.</summary>
    /// <inheritdoc cref="Plain"/>
    public static Answer<double> OverlappingHadamard(ReadOnlySpan<double> values, int m) =>
        Lacking(values, m, 3) ?? (Answer<double>)Math.Sqrt(Third(Phase(values), m, 1).Variance);

    /// <summary>The running sum of readings less their mean: n+1 numbers from zero.</summary>
    internal static double[] Phase(ReadOnlySpan<double> values)
    {
        var phase = new double[values.Length + 1];
        if (values.Length == 0)
        {
            return phase;
        }

        // The difference to the first value first: exact where a huge offset hides a small signal.
        double origin = values[0];
        double mean = 0;
        foreach (double value in values)
        {
            mean += value - origin;
        }

        mean /= values.Length;
        double sum = 0;
        for (int i = 0; i < values.Length; i++)
        {
            sum += values[i] - origin - mean;
            phase[i + 1] = sum;
        }

        return phase;
    }

    /// <summary>Σ(xᵢ₊₂ₘ−2xᵢ₊ₘ+xᵢ)² / (2m²·count), i in the steps given.</summary>
    internal static (double Variance, int Count) Second(ReadOnlySpan<double> phase, int m, int step)
    {
        double sum = 0;
        int count = 0;
        for (int i = 0; i + (2 * m) < phase.Length; i += step)
        {
            double z = phase[i + (2 * m)] - (2 * phase[i + m]) + phase[i];
            sum += z * z;
            count++;
        }

        return (sum / (2.0 * m * m * count), count);
    }

    /// <summary>Σ(xᵢ₊₃ₘ−3xᵢ₊₂ₘ+3xᵢ₊ₘ−xᵢ)² / (6m²·count), i in the steps given.</summary>
    internal static (double Variance, int Count) Third(ReadOnlySpan<double> phase, int m, int step)
    {
        double sum = 0;
        int count = 0;
        for (int i = 0; i + (3 * m) < phase.Length; i += step)
        {
            double z = phase[i + (3 * m)] - (3 * phase[i + (2 * m)]) + (3 * phase[i + m]) - phase[i];
            sum += z * z;
            count++;
        }

        return (sum / (6.0 * m * m * count), count);
    }

    internal static double ModifiedVariance(ReadOnlySpan<double> phase, int m)
    {
        // The sum of m neighbouring second differences moves on by one difference of distance m.
        double window = 0;
        for (int i = 0; i < m; i++)
        {
            window += phase[i + (2 * m)] - (2 * phase[i + m]) + phase[i];
        }

        double sum = window * window;
        int count = 1;
        for (int i = 0; i + (3 * m) < phase.Length; i++)
        {
            window += phase[i + (3 * m)] - (3 * phase[i + (2 * m)]) + (3 * phase[i + m]) - phase[i];
            sum += window * window;
            count++;
        }

        double m2 = (double)m * m;
        return sum / (2 * m2 * m2 * count);
    }

    private static Shortfall? Lacking(ReadOnlySpan<double> values, int m, int averages)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(m, 1);
        Finite.Require(values);
        return values.Length < (long)averages * m ? new Shortfall("points", values.Length, (long)averages * m) : null;
    }
}
