using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Change;

/// <summary>How a step is looked for; the defaults are what the product's claims are made with.</summary>
public sealed record StepOptions
{
    /// <summary>Share of false claims that is allowed where there is no step; 0.05 unless told.</summary>
    public double ClaimLevel { get; init; } = 0.05;

    /// <summary>Confidence of the interval for the instant; 0.95 unless told.</summary>
    public double Confidence { get; init; } = 0.95;

    /// <summary>Whether spikes are taken out first (<see cref="SpikeFilter"/>).</summary>
    public bool TakesOutSpikes { get; init; } = true;

    /// <summary>Simulated series behind each answer; 199 or more.</summary>
    public int Simulations { get; init; } = 299;

    /// <summary>Seed of the simulation: the same record gives the same answer.</summary>
    public int Seed { get; init; } = 20011;
}

/// <summary>
/// A step of the level. Throughout this folder a change is the zero-based index of the first sample of the new regime, which is
/// also the number of samples before it (and the one-based number of the last sample of the old regime, which R's
/// strucchange prints).
/// </summary>
/// <param name="Change">The most likely instant: index of the first sample of the new regime.</param>
/// <param name="From">First index that the confidence interval holds.</param>
/// <param name="To">Last index that it holds.</param>
/// <param name="Before">Level before, in the values' unit.</param>
/// <param name="After">Level after.</param>
/// <param name="PValue">How often noise alone would show a step as clear as this; raised for records with few independent values.</param>
/// <param name="IsClaimed">Whether that is rare enough for the level asked for: without it the instant means nothing.</param>
/// <param name="Sigma">Standard deviation of the noise about both levels.</param>
/// <param name="Rho">Correlation from one sample to the next of its slow part, which is all of it where <paramref name="SlowShare"/> is 1.</param>
/// <param name="SlowShare">Share of the slow part in the noise's variance; the rest is new at every sample.</param>
/// <param name="Spikes">Values that were left out as spikes.</param>
public readonly record struct StepFinding(
    int Change,
    int From,
    int To,
    double Before,
    double After,
    double PValue,
    bool IsClaimed,
    double Sigma,
    double Rho,
    double SlowShare,
    int Spikes);

/// <summary>
/// Finds one step of the level in evenly sampled values whose noise may be first-order autoregressive, with white noise on top,
/// and may have a tenth of outliers, and says between which instants it was. The instant is the least-squares cut. Whether there is a step, and which
/// instants can't be excluded, is judged by what the same statistic does on simulated series of the same length and
/// correlation:
/// <list type="bullet">
/// <item>the claim by the largest Gₖ over the long-run variance, estimated anew on every simulated series without a step;</item>
/// <item>the interval by inverting the likelihood-ratio test of 'the step was at k': k stays in where (max G − Gₖ)/RSSₖ is not
/// above its 95 % point over series with a step of the observed size at k, given the two means and the sum of squares there
/// (the conditional confidence set of Siegmund, 'Confidence sets in change-point problems', International Statistical Review
/// 56, 1988, which is exact for normal noise of known correlation; here the correlation is estimated and its error drawn too).</item>
/// </list>
/// A step so large that its instant is plain has an interval of one or a few samples, which then covers more often than
/// promised: there is nothing between one sample and none.
/// </summary>
public static class StepFinder
{
    /// <summary>Independent values (n(1 − ρ)/(1 + ρ)) needed on each side: the coverage shown in this folder's README begins here.</summary>
    public const double LeastEffective = 30;

    /// <summary>
    /// From so many independent values on a claim is as often false as promised. Below, records are answered mostly because
    /// their correlation came out low, and of those twice as many would be claimed: their p value is raised by (this/size)². By
    /// simulation, see the README.
    /// </summary>
    private const double PlainFrom = 120;

    /// <summary>
    /// The same where part of the noise is, or may be, white on top of slow noise, whose φ and so the size are less sure. By simulation, see
    /// the README.
    /// </summary>
    private const double PlainFromOfTwoParts = 200;

    /// <summary>Share of the record at each end in which no cut is looked for: there a handful of values makes any level.</summary>
    private const double Margin = 0.05;

    /// <summary>
    /// From this share of spikes on a short interval gets one more sample at each end: a small spike right at the step passes
    /// for the other level, and the simulation draws none (derived from the coverage with a tenth of outliers).
    /// </summary>
    private const double SpikesThatBlur = 0.02;

    /// <summary>Intervals of this many samples and more are wide enough without.</summary>
    private const int WidthThatBlurs = 10;

    /// <param name="values">Evenly sampled, in the order of time, faults taken out; they should be rare.</param>
    /// <param name="options">Null for the defaults.</param>
    /// <returns>A shortfall where either side of the best cut holds too few independent values, or where nothing varies.</returns>
    /// <exception cref="ArgumentException">A value is not finite, or an option is outside its range.</exception>
    public static Answer<StepFinding> Find(ReadOnlySpan<double> values, StepOptions? options = null)
    {
        Finite.Require(values);
        options ??= new StepOptions();
        Check(options);
        int[] places = options.TakesOutSpikes ? SpikeFilter.Kept(values) : [.. Enumerable.Range(0, values.Length)];
        double[] kept = SpikeFilter.Pick(values, places);
        if (kept.Length < 2 * LeastEffective)
        {
            return new Shortfall("points", kept.Length, 2 * LeastEffective);
        }

        int least = Math.Max(2, (int)(Margin * kept.Length));
        var scan = new StepScan(kept, least);
        (double before, double after) = (scan.MeanBefore(scan.Best), scan.MeanAfter(scan.Best));
        double[] residuals = new double[kept.Length];
        StepNoise noise = StepNoise.About(kept, places, scan.Best, before, after, residuals);
        if (!(noise.Variance > 0))
        {
            return new Shortfall("distinct values on a side", 1, 2);
        }

        double effective = noise.Effective(Math.Min(scan.Best, kept.Length - scan.Best));
        if (effective < LeastEffective)
        {
            return new Shortfall("independent points on the shorter side of the step", effective, LeastEffective);
        }

        StepNoise wary = noise.AsItMayBe(residuals, places, 2);
        var simulation = new StepSimulation(scan, noise, wary, places, least, options);
        double plainFrom = wary.SlowShare < 1 ? PlainFromOfTwoParts : PlainFrom;
        double p = Math.Min(1, simulation.PValue() * Math.Max(1, Math.Pow(plainFrom / wary.Effective(kept.Length), 2)));
        (int from, int to) = simulation.Interval();
        int beside = to - from < WidthThatBlurs && values.Length - kept.Length > SpikesThatBlur * values.Length ? 1 : 0;
        return new StepFinding(
            places[scan.Best],
            Math.Max(1, places[from - 1] + 1 - beside), // among samples left out as spikes the step may be at any
            Math.Min(values.Length - 1, places[to] + beside),
            before,
            after,
            p,
            p <= options.ClaimLevel,
            Math.Sqrt(noise.Variance),
            noise.Rho,
            noise.SlowShare,
            values.Length - kept.Length);
    }

    private static void Check(StepOptions options)
    {
        if (!(options.ClaimLevel > 0) || !(options.ClaimLevel < 1))
        {
            throw new ArgumentException("The claim level is between 0 and 1.", nameof(options));
        }

        if (!(options.Confidence > 0) || !(options.Confidence < 1))
        {
            throw new ArgumentException("The confidence is between 0 and 1.", nameof(options));
        }

        if (options.Simulations < 199)
        {
            throw new ArgumentException("199 simulations are the least for a 95 % point.", nameof(options));
        }
    }
}
