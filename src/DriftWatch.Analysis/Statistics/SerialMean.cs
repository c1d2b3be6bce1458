using MathNet.Numerics.Distributions;

namespace DriftWatch.Analysis.Statistics;

/// <summary>The mean of autocorrelated values with an interval that allows for it.</summary>
/// <param name="Mean">In the unit of the values.</param>
/// <param name="StandardError">Of the mean, likewise.</param>
/// <param name="Low">Lower confidence limit.</param>
/// <param name="High">Upper confidence limit.</param>
/// <param name="Rho">The first-order coefficient that was found.</param>
/// <param name="EffectiveSampleSize">How many independent values say as much.</param>
public readonly record struct MeanEstimate(double Mean, double StandardError, double Low, double High, double Rho, double EffectiveSampleSize);

/// <summary>
/// The mean of evenly sampled autocorrelated noise: x̄ ± t·s·√(1/n_eff), Student's t with n_eff−1 degrees of freedom. n_eff is the
/// smaller one of <see cref="Autocorrelation.FirstOrder"/>, which is right for first-order noise, and the initial monotone
/// sequence, which sees slow noise under white noise too; either alone falls short somewhere (README.md here). s² is raised for what autocorrelation takes from it, E s² = σ²(1−1/n_eff)·n/(n−1) (the
/// variance about the own mean; derived). Not robust: wild readings belong out of the values or under a median.
/// </summary>
public static class SerialMean
{
    /// <summary>
    /// The least estimate of n_eff that is answered. The interval holds as it says from a true 30 on, by simulation. An estimate
    /// of 30 as the bar would let records of 30 pass that happen to overestimate it, whose intervals are too short; at 20 most
    /// records of 30 pass and next to none of 10.
    /// </summary>
    public const double LeastEffective = 20;

    /// <param name="values">Evenly sampled, in time order.</param>
    /// <param name="confidence">Above 0, below 1.</param>
    /// <returns>A shortfall below an estimate of 20 independent values, or where all are the same.</returns>
    /// <exception cref="ArgumentException">A value is not finite.</exception>
    public static Answer<MeanEstimate> Estimate(ReadOnlySpan<double> values, double confidence = 0.95)
    {
        ArgumentOutOfRangeException.ThrowIfLessThanOrEqual(confidence, 0);
        ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual(confidence, 1);
        Answer<FirstOrderEstimate> noise = Autocorrelation.FirstOrder(values);
        if (!noise.IsKnown)
        {
            return noise.Missing!;
        }

        double effective = Math.Min(noise.Value.EffectiveSampleSize, Autocorrelation.EffectiveSampleSize(values).Value);
        if (effective < LeastEffective)
        {
            return new Shortfall("independent points", effective, LeastEffective);
        }

        double n = values.Length;
        var moments = Moments.Of(values);
        double error = Math.Sqrt(moments.Variance.Value * (n - 1) / n / (1 - (1 / effective)) / effective);
        double half = StudentT.InvCDF(0, 1, effective - 1, 0.5 + (confidence / 2)) * error;
        double mean = moments.Mean.Value;
        return new MeanEstimate(mean, error, mean - half, mean + half, noise.Value.Rho, effective);
    }
}
