using DriftWatch.Analysis.Relations;

namespace DriftWatch.Analysis.Events;

/// <summary>
/// Power of sinusoids in unevenly sampled values: the share of the sum of squares that the best sinusoid of each frequency
/// explains. Generalised, with a mean of its own at every frequency, as the default: Zechmeister and Kürster, 'The generalised
/// Lomb-Scargle periodogram', Astronomy and Astrophysics 496 (2009). Classic: Lomb 1976, Scargle 1982 in the algebra without
/// the time offset τ (it drops out). Equal weights. Times in seconds, frequencies in Hz, powers 0 … 1 without a unit.
/// Cost: points × frequencies × about a nanosecond (this folder's README), so that no approximation by FFT is needed.
/// </summary>
public static class LombScargle
{
    /// <summary>A sinusoid and a mean are three parameters; a fourth point leaves something to explain.</summary>
    public const int LeastPoints = 4;

    /// <summary>Power about a floating mean, 0 … 1.</summary>
    /// <param name="times">In seconds, rising.</param>
    /// <param name="values">As many, in their unit.</param>
    /// <param name="grid">Which frequencies.</param>
    /// <returns>One power a frequency; a shortfall below 4 points or where all values are the same.</returns>
    /// <exception cref="ArgumentException">Lengths differ, a number is not finite, times don't rise, or the grid holds no frequency above 0.</exception>
    public static Answer<double[]> Generalised(ReadOnlySpan<double> times, ReadOnlySpan<double> values, FrequencyGrid grid)
    {
        Traces.Check(times, values);
        FrequencyGrid.Check(grid);
        return Lacking(values) is { } missing ? missing : Whitened(times, values, grid, new CorrelatedNoise(times), 0);
    }

    /// <summary>
    /// The classic power of values as they are: no mean is taken out of them or fitted. Normalised to 0 … 1 of Σy², or
    /// half of what the sinusoid explains, in the values' unit squared (both as SciPy's <c>lombscargle</c> has them).
    /// </summary>
    /// <inheritdoc cref="Generalised"/>
    public static Answer<double[]> Classic(ReadOnlySpan<double> times, ReadOnlySpan<double> values, FrequencyGrid grid, bool normalised)
    {
        Traces.Check(times, values);
        FrequencyGrid.Check(grid);
        if (Lacking(values) is { } missing)
        {
            return missing;
        }

        int n = times.Length;
        double[] ones = new double[n];
        double[] shares = new double[n];
        Array.Fill(shares, 1);
        double[] y = values.ToArray();
        double total = LinearSolve.Dot(y, y);
        SpectrumSums.At[] sums = new SpectrumSums(About(times), y, ones, new double[n], shares).Over(grid);
        double[] power = new double[grid.Count];
        for (int k = 0; k < power.Length; k++)
        {
            power[k] = Explained(sums[k], 1, 0) * (normalised ? 1 / total : 0.5);
        }

        return power;
    }

    /// <summary>The generalised power where the noise is correlated: of the whitened sum of squares about the mean, the share that the sinusoid explains.</summary>
    internal static double[] Whitened(ReadOnlySpan<double> times, ReadOnlySpan<double> values, FrequencyGrid grid, CorrelatedNoise noise, double rho)
    {
        int n = times.Length;
        double[] ones = new double[n];
        double[] centred = new double[n];
        Array.Fill(ones, 1);
        double mean = Mean(values);
        for (int i = 0; i < n; i++)
        {
            centred[i] = values[i] - mean;
        }

        double[] o = new double[n];
        double[] y = new double[n];
        noise.Whiten(rho, ones, o);
        noise.Whiten(rho, centred, y);
        double oo = LinearSolve.Dot(o, o);
        double level = LinearSolve.Dot(o, y) / oo;
        for (int i = 0; i < n; i++)
        {
            y[i] -= level * o[i];
        }

        double total = LinearSolve.Dot(y, y);
        (double[] weights, double[] shares) = noise.Filter(rho);
        SpectrumSums.At[] sums = new SpectrumSums(About(times), y, o, weights, shares).Over(grid);
        double[] power = new double[grid.Count];
        for (int k = 0; k < power.Length; k++)
        {
            power[k] = Math.Clamp(Explained(sums[k], oo, 1) / total, 0, 1);
        }

        return power;
    }

    internal static Shortfall? Lacking(ReadOnlySpan<double> values)
    {
        if (values.Length < LeastPoints)
        {
            return new Shortfall("points", values.Length, LeastPoints);
        }

        return values.ContainsAnyExcept(values[0]) ? null : new Shortfall("distinct values", 1, 2);
    }

    /// <summary>What cosine and sine explain together once the constant is taken out of both (of y it has been).</summary>
    private static double Explained(in SpectrumSums.At sums, double oo, double mean)
    {
        double cc = sums.Cc - (mean * sums.Oc * sums.Oc / oo);
        double ss = sums.Ss - (mean * sums.Os * sums.Os / oo);
        double cs = sums.Cs - (mean * sums.Oc * sums.Os / oo);
        double determinant = (cc * ss) - (cs * cs);

        // One of the two vanishes where all points lie on its zeros, such as at half the sampling rate.
        if (!(determinant > 1e-12 * (cc + ss) * (cc + ss)))
        {
            return cc + ss > 0 ? ((sums.Cy * sums.Cy) + (sums.Sy * sums.Sy)) / (cc + ss) : 0;
        }

        return ((ss * sums.Cy * sums.Cy) + (cc * sums.Sy * sums.Sy) - (2 * cs * sums.Cy * sums.Sy)) / determinant;
    }

    private static double[] About(ReadOnlySpan<double> times)
    {
        // Power doesn't depend on the origin of time; one in the middle keeps phases small.
        double middle = times[0] + ((times[^1] - times[0]) / 2);
        double[] t = new double[times.Length];
        for (int i = 0; i < t.Length; i++)
        {
            t[i] = times[i] - middle;
        }

        return t;
    }

    private static double Mean(ReadOnlySpan<double> values)
    {
        double sum = 0;
        foreach (double value in values)
        {
            sum += value - values[0];
        }

        return values[0] + (sum / values.Length);
    }
}
