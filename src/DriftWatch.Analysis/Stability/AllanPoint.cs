using DriftWatch.Analysis.Statistics;
using MathNet.Numerics.Distributions;

namespace DriftWatch.Analysis.Stability;

/// <summary>Which deviation is meant; see <see cref="AllanDeviation"/>.</summary>
public enum StabilityDeviation
{
    /// <summary>Over averages that overlap: the tightest of the Allan deviations, and the usual one.</summary>
    OverlappingAllan,

    /// <summary>Over averages that do not overlap.</summary>
    Allan,

    /// <summary>Of phase averaged over m.</summary>
    Modified,

    /// <summary>Blind to a straight drift; over averages that overlap.</summary>
    OverlappingHadamard,

    /// <summary>Blind to a straight drift; over averages that do not overlap.</summary>
    Hadamard,
}

/// <summary>A stability deviation at one averaging time, with its confidence interval for the noise that prevails there.</summary>
/// <param name="Averaged">m: readings in an average.</param>
/// <param name="Seconds">τ = m·τ₀.</param>
/// <param name="Deviation">In the unit of the readings.</param>
/// <param name="Low">Lower confidence limit.</param>
/// <param name="High">Upper confidence limit.</param>
/// <param name="Noise">What it was taken for: identified here or, where averages are too few, at the longest time where they were not.</param>
/// <param name="Freedom">Equivalent degrees of freedom of the variance.</param>
public readonly record struct AllanPoint(int Averaged, double Seconds, double Deviation, double Low, double High, NoiseKind Noise, double Freedom);

/// <summary>Allan deviations and their kin over octaves of averaging time with χ² intervals (NIST SP 1065, section 5.3).</summary>
public static class AllanPoints
{
    /// <summary>The least readings: 30 averages for the noise identification.</summary>
    public const int LeastReadings = NoiseIdentification.LeastAverages;

    /// <summary>
    /// τ₀, 2τ₀, 4τ₀ ... as long as five averages fit the record (fewer say next to nothing; common practice of the trade).
    /// </summary>
    /// <param name="values">Evenly sampled readings in time order.</param>
    /// <param name="sampleSeconds">τ₀, above zero.</param>
    /// <param name="confidence">Of the interval, above 0, below 1.</param>
    /// <param name="which">The deviation.</param>
    /// <returns>A shortfall below 30 readings, or where all are the same.</returns>
    /// <exception cref="ArgumentException">A value is not finite.</exception>
    public static Answer<AllanPoint[]> Octaves(
        ReadOnlySpan<double> values, double sampleSeconds, double confidence = 0.95, StabilityDeviation which = StabilityDeviation.OverlappingAllan)
    {
        RequireAbove(sampleSeconds);
        ArgumentOutOfRangeException.ThrowIfLessThanOrEqual(confidence, 0);
        ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual(confidence, 1);
        Finite.Require(values);
        if (values.Length < LeastReadings)
        {
            return new Shortfall("points", values.Length, LeastReadings);
        }

        if (!values.ContainsAnyExcept(values[0]))
        {
            return new Shortfall("distinct values", 1, 2);
        }

        double[] phase = AllanDeviation.Phase(values);
        var points = new List<AllanPoint>();
        NoiseKind noise = NoiseKind.WhiteFrequency;
        for (int m = 1; values.Length / m >= 5; m *= 2)
        {
            Answer<NoiseIdentity> identity = NoiseIdentification.OfPhase(phase, m);
            noise = identity.IsKnown ? Careful(identity.Value) : noise;
            points.Add(Point(phase, m, sampleSeconds, noise, confidence, which));
        }

        return points.ToArray();
    }

    /// <summary>
    /// Of few averages white noise is easily taken for phase noise, whose many degrees of freedom would make the interval far
    /// too narrow; then it is taken for white. The exponent's standard error is about 2/√averages: 100 leave 2 % such mistakes.
    /// </summary>
    private static NoiseKind Careful(NoiseIdentity identity) =>
        identity.Averages < 100 && identity.Kind > NoiseKind.WhiteFrequency ? NoiseKind.WhiteFrequency : identity.Kind;

    /// <summary>The χ² interval of a deviation with so many degrees of freedom.</summary>
    internal static (double Low, double High) Interval(double deviation, double freedom, double confidence)
    {
        double tail = (1 - confidence) / 2;
        return (
            deviation * Math.Sqrt(freedom / ChiSquared.InvCDF(freedom, 1 - tail)),
            deviation * Math.Sqrt(freedom / ChiSquared.InvCDF(freedom, tail)));
    }

    internal static AllanPoint Point(
        ReadOnlySpan<double> phase, int m, double sampleSeconds, NoiseKind noise, double confidence,
        StabilityDeviation which = StabilityDeviation.OverlappingAllan)
    {
        bool hadamard = which is StabilityDeviation.Hadamard or StabilityDeviation.OverlappingHadamard;
        bool overlapping = which is not (StabilityDeviation.Allan or StabilityDeviation.Hadamard);
        bool modified = which == StabilityDeviation.Modified;
        int step = overlapping ? 1 : m;
        double variance = modified ? AllanDeviation.ModifiedVariance(phase, m)
            : hadamard ? AllanDeviation.Third(phase, m, step).Variance
            : AllanDeviation.Second(phase, m, step).Variance;
        double deviation = Math.Sqrt(variance);

        // Steeper noise than a random walk has no Allan variance in the limit; the walk's freedom is the nearest there is.
        NoiseKind known = !hadamard && noise < NoiseKind.RandomWalkFrequency ? NoiseKind.RandomWalkFrequency : noise;
        double freedom = EquivalentFreedom.Of(known, hadamard ? 3 : 2, m, phase.Length, overlapping, modified) ?? 1;
        (double low, double high) = Interval(deviation, freedom, confidence);
        return new AllanPoint(m, m * sampleSeconds, deviation, low, high, noise, freedom);
    }

    internal static void RequireAbove(double sampleSeconds)
    {
        if (!(sampleSeconds > 0 && double.IsFinite(sampleSeconds)))
        {
            throw new ArgumentOutOfRangeException(nameof(sampleSeconds), sampleSeconds, "A sample takes a time above zero.");
        }
    }
}
