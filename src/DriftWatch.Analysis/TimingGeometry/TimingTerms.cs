using System.Runtime.CompilerServices;
using DriftWatch.Analysis.Calibrating;

namespace DriftWatch.Analysis.TimingGeometry;

/// <summary>Which terms are fitted.</summary>
public enum TimingModel
{
    /// <summary>Mean, head steps, skew, a slope of each head, scallop: the default. A speed error once a revolution would show as slopes and steps.</summary>
    PerHeadSlopes,

    /// <summary>Mean, head steps, skew, scallop and a speed error once a revolution, in place of slopes of each head.</summary>
    OncePerRevolution,

    /// <summary>All of them. Slopes with steps and once-per-revolution are all but the same thing (correlations of 0.97 to 0.99), and more revolutions do not tell them apart.</summary>
    Everything,
}

/// <summary>A value for each of the four heads.</summary>
/// <typeparam name="T">Of the value.</typeparam>
[InlineArray(4)]
public struct PerHead<T>
{
    private T _first;
}

/// <summary>
/// What a record of timing errors is made of, each term in ns with its standard error:
/// e = mean + step of the head + skew·sin θ + slope of the head·sin θ + scallop·(cos θ − 2√2/π) [+ sine·sin ψ + cosine·cos ψ],
/// θ from mid-pass, ψ = θ + 90° a head, late is positive. Steps and slopes sum to zero over the heads that were there.
/// A plain value: making one allocates nothing.
/// </summary>
public readonly struct TimingTerms
{
    private readonly PerHead<Uncertain> _steps;
    private readonly PerHead<Uncertain> _slopes;
    private readonly int _heads;

    internal TimingTerms(TimingModel model, int heads, in PerHead<Uncertain> steps, in PerHead<Uncertain> slopes) =>
        (Model, _heads, _steps, _slopes) = (model, heads, steps, slopes);

    public TimingModel Model { get; }

    public Uncertain Mean { get; internal init; }

    /// <summary>Coefficient of sin θ; √2 of it is the skew from end to end.</summary>
    public Uncertain Skew { get; internal init; }

    /// <summary>Coefficient of cos θ; 0.293 of it is the sagitta.</summary>
    public Uncertain Scallop { get; internal init; }

    /// <summary>Of sin ψ; zero with error zero where it was not fitted.</summary>
    public Uncertain RevolutionSine { get; internal init; }

    /// <summary>Of cos ψ.</summary>
    public Uncertain RevolutionCosine { get; internal init; }

    /// <summary>Root mean square of what the terms leave.</summary>
    public double ResidualRmsNs { get; internal init; }

    /// <summary>Standard deviation of the noise: the residual with what the fit took out of it put back.</summary>
    public double NoiseNs { get; internal init; }

    /// <summary>Correlation of the noise from one sample to the next, corrected for the fit.</summary>
    public double Correlation { get; internal init; }

    public int Points { get; internal init; }

    /// <summary>Whether the record has samples of this head, 1 to 4.</summary>
    public bool Has(int head)
    {
        CheckHead(head);
        return (_heads & (1 << (head - 1))) != 0;
    }

    /// <summary>How late this head is against the mean of those there; a quadrature error. Unknown for a head that is not there, or alone.</summary>
    public Answer<Uncertain> Step(int head) => Lacking(head) is { } missing ? missing : _steps[head - 1];

    /// <summary>
    /// This head's slope against the common skew, coefficient of sin θ. Unknown for a head that is not there, or alone, and where
    /// the model has a speed error once a revolution in its place.
    /// </summary>
    public Answer<Uncertain> Slope(int head) => Lacking(head) is { } missing ? missing
        : Model == TimingModel.OncePerRevolution ? new Shortfall("slopes of single heads in this model", 0, 1) : _slopes[head - 1];

    /// <summary>Skew from end to end of a pass of ±45°, positive where the end of the pass is late.</summary>
    public Uncertain SkewPeakToPeakNs => Scaled(Skew, TimingStandard.SkewPeakToPeak);

    /// <summary>How far mid-pass is later than the ends of a pass of ±45°.</summary>
    public Uncertain SagittaNs => Scaled(Scallop, TimingStandard.Sagitta);

    /// <summary>Guide's centre away from the wheel against the recording's, p = −skew·v: negative is IN.</summary>
    public Uncertain PenetrationMil(TimingStandard standard) => Scaled(Skew, -1 / standard.NsPerMil);

    /// <summary>Guide's centre along the heads' motion against the recording's, h = scallop·v.</summary>
    public Uncertain HeightMil(TimingStandard standard) => Scaled(Scallop, 1 / standard.NsPerMil);

    /// <summary>What the terms give for a head that is there, at an angle from mid-pass, in ns.</summary>
    public double At(int head, double angleDegrees)
    {
        CheckHead(head);
        double angle = angleDegrees * Math.PI / 180;
        (double sine, double cosine) = Math.SinCos(angle);
        (double turnSine, double turnCosine) = Math.SinCos(angle + ((head - 1) * Math.PI / 2));
        return Mean.Value + _steps[head - 1].Value + ((Skew.Value + _slopes[head - 1].Value) * sine)
            + (Scallop.Value * (cosine - TimingStandard.MeanCosine))
            + (RevolutionSine.Value * turnSine) + (RevolutionCosine.Value * turnCosine);
    }

    /// <summary>How many heads the record has.</summary>
    public int HeadCount => System.Numerics.BitOperations.PopCount((uint)_heads);

    /// <summary>The greatest |step| in ns; 0 where fewer than two heads are there.</summary>
    public double GreatestStepNs
    {
        get
        {
            double greatest = 0;
            for (int k = 0; k < 4; k++)
            {
                greatest = Math.Max(greatest, Math.Abs(_steps[k].Value));
            }

            return greatest;
        }
    }

    private static void CheckHead(int head)
    {
        if (head is < 1 or > 4)
        {
            throw new ArgumentOutOfRangeException(nameof(head), head, "Heads are 1 to 4.");
        }
    }

    private static Uncertain Scaled(Uncertain term, double factor) =>
        new(term.Value * factor, term.StandardUncertainty * Math.Abs(factor), term.Freedom);

    private Shortfall? Lacking(int head) =>
        !Has(head) ? new Shortfall($"points of head {head}", 0, LeastPointsOfAHead)
        : HeadCount < 2 ? new Shortfall("heads to compare", HeadCount, 2)
        : null;

    /// <summary>A head with fewer points tells no slope with anything left over to judge it by.</summary>
    internal const int LeastPointsOfAHead = 4;
}
