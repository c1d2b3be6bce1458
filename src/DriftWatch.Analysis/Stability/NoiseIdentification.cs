using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Stability;

/// <summary>Which power-law noise prevails at an averaging time.</summary>
/// <param name="Kind">The nearest kind.</param>
/// <param name="Exponent">α as estimated, before rounding.</param>
/// <param name="Averages">How many averages it was seen in.</param>
public readonly record struct NoiseIdentity(NoiseKind Kind, double Exponent, int Averages);

/// <summary>
/// Noise identification by the lag-1 autocorrelation: r₁ of averages, differenced until δ = r₁/(1+r₁) is below ¼; α = −2(δ+d)
/// after d differences. Riley and Greenhall, 'Power law noise identification using the lag 1 autocorrelation' (18th European
/// Frequency and Time Forum, 2004); NIST SP 1065, section 5.5.6. For readings (frequency data) white and phase noises of
/// α = 0 … 2 come out with δ ≤ 0.
/// </summary>
public static class NoiseIdentification
{
    /// <summary>Averages that the method needs (NIST SP 1065: about 30).</summary>
    public const int LeastAverages = 30;

    /// <summary>More differences than this would be steeper noise than the kinds here.</summary>
    private const int MostDifferences = 2;

    /// <param name="values">Evenly sampled readings in time order.</param>
    /// <param name="m">Readings in an average, at least one.</param>
    /// <returns>A shortfall below 30 averages, or where they are all the same.</returns>
    /// <exception cref="ArgumentException">A value is not finite.</exception>
    public static Answer<NoiseIdentity> Of(ReadOnlySpan<double> values, int m)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(m, 1);
        Finite.Require(values);
        return OfPhase(AllanDeviation.Phase(values), m);
    }

    internal static Answer<NoiseIdentity> OfPhase(ReadOnlySpan<double> phase, int m)
    {
        int count = (phase.Length - 1) / m;
        if (count < LeastAverages)
        {
            return new Shortfall("averages", count, LeastAverages);
        }

        var averages = new double[count];
        for (int i = 0; i < count; i++)
        {
            averages[i] = (phase[(i + 1) * m] - phase[i * m]) / m;
        }

        Span<double> z = averages;
        for (int d = 0; ; d++)
        {
            Answer<double> lag1 = Autocorrelation.AtLag(z, 1);
            if (!lag1.IsKnown)
            {
                return lag1.Missing!;
            }

            double delta = lag1.Value / (1 + lag1.Value);
            if (delta < 0.25 || d == MostDifferences)
            {
                double exponent = -2 * (delta + d);
                return new NoiseIdentity((NoiseKind)(int)Math.Clamp(Math.Round(exponent), -4, 2), exponent, count);
            }

            for (int i = 0; i + 1 < z.Length; i++)
            {
                z[i] = z[i + 1] - z[i];
            }

            z = z[..^1];
        }
    }
}
