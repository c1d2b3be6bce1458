using MathNet.Numerics.Distributions;

namespace DriftWatch.Analysis.ControlCharts;

/// <summary>What a chart's in-control run length really is once its level and scale were estimated: it depends on the luck of the record.</summary>
/// <param name="Tenth">One record in ten leads to a chart that alarms more often than this.</param>
/// <param name="Median">Every second one does.</param>
/// <param name="Ninetieth">One in ten leads to a chart that alarms more rarely.</param>
public readonly record struct EstimatedRunLength(double Tenth, double Median, double Ninetieth);

/// <summary>
/// Run lengths of charts whose level and standard deviation come from n independent normal values in control (phase I), by the
/// conditional run length for an error of the mean, N(0, σ²/n), and of the standard deviation, σ·√(χ²ₙ₋₁/(n − 1)), averaged over
/// both (the approach of Jones, Champ and Rigdon, Technometrics 46, 2004; from memory). For autocorrelated values n is the
/// number of values all the same where residuals are charted, but the error of ρ comes on top: see this folder's README.
/// </summary>
public static class EstimatedLimits
{
    /// <summary>Strata of each error; the quantiles are good to a few per cent.</summary>
    private const int Strata = 21;

    private const int MostPoints = 10_000_000;

    /// <param name="design">The chart.</param>
    /// <param name="points">Values in control that level and standard deviation come from; 5 or more.</param>
    /// <exception cref="ArgumentException">Too few points.</exception>
    public static EstimatedRunLength Of(CusumDesign design, int points) =>
        Of((shift, spread) => ArlOfCusum.ZeroState(design, shift, spread), points);

    /// <inheritdoc cref="Of(CusumDesign, int)"/>
    public static EstimatedRunLength Of(EwmaDesign design, int points) =>
        Of((shift, spread) => ArlOfEwma.ZeroState(design, shift, spread), points);

    /// <inheritdoc cref="Of(CusumDesign, int)"/>
    public static EstimatedRunLength Of(IndividualsDesign design, int points) =>
        Of((shift, spread) => ArlOfIndividuals.Of(design, shift, spread), points);

    /// <summary>
    /// How many values in control are needed so that nine records in ten lead to a chart whose false alarms are no more than
    /// <paramref name="worsening"/> times as frequent as designed. Takes a second or so.
    /// </summary>
    /// <param name="design">The chart.</param>
    /// <param name="worsening">Above 1; 2 lets the interval halve.</param>
    /// <exception cref="ArgumentException">The worsening is not above 1.</exception>
    public static int PointsNeeded(CusumDesign design, double worsening = 2) =>
        Needed((shift, spread) => ArlOfCusum.ZeroState(design, shift, spread), worsening);

    /// <inheritdoc cref="PointsNeeded(CusumDesign, double)"/>
    public static int PointsNeeded(EwmaDesign design, double worsening = 2) =>
        Needed((shift, spread) => ArlOfEwma.ZeroState(design, shift, spread), worsening);

    /// <inheritdoc cref="PointsNeeded(CusumDesign, double)"/>
    public static int PointsNeeded(IndividualsDesign design, double worsening = 2) =>
        Needed((shift, spread) => ArlOfIndividuals.Of(design, shift, spread), worsening);

    private static EstimatedRunLength Of(Func<double, double, double> length, int points)
    {
        if (points < 5)
        {
            throw new ArgumentException("Level and standard deviation of fewer than 5 values design no chart.", nameof(points));
        }

        double[] lengths = Lengths(length, points, points - 1);
        Array.Sort(lengths);
        return new EstimatedRunLength(At(0.1), At(0.5), At(0.9));

        double At(double share) => lengths[(int)(share * lengths.Length)];
    }

    /// <summary>Run lengths over the luck of the record, each as likely as the others; their mean is what tables of run lengths with estimated limits print.</summary>
    /// <param name="length">Run length for a shift of the level and a factor of the spread, both in estimated deviations.</param>
    /// <param name="points">Values that the level comes from.</param>
    /// <param name="freedom">Degrees of freedom of the standard deviation.</param>
    internal static double[] Lengths(Func<double, double, double> length, int points, int freedom)
    {
        double[] lengths = new double[Strata * Strata];
        for (int i = 0; i < Strata; i++)
        {
            double meanError = Normal.InvCDF(0, 1, (i + 0.5) / Strata) / Math.Sqrt(points);
            for (int j = 0; j < Strata; j++)
            {
                // Wilson and Hilferty's cube root of chi-squared: within a few thousandths for 4 degrees of freedom and more.
                double part = 2.0 / (9 * freedom);
                double root = 1 - part + (Normal.InvCDF(0, 1, (j + 0.5) / Strata) * Math.Sqrt(part));
                double sigma = Math.Sqrt(Math.Max(0.01, root * root * root));
                lengths[(i * Strata) + j] = length(meanError / sigma, 1 / sigma);
            }
        }

        return lengths;
    }

    private static int Needed(Func<double, double, double> length, double worsening)
    {
        if (!(worsening > 1))
        {
            throw new ArgumentException("The worsening that is allowed is above 1.", nameof(worsening));
        }

        double wanted = length(0, 1) / worsening;
        (int too, int enough) = (5, 5);
        while (Of(length, enough).Tenth < wanted)
        {
            if (enough >= MostPoints)
            {
                throw new ArgumentException($"Even {MostPoints} values would not do.", nameof(worsening));
            }

            (too, enough) = (enough, 4 * enough);
        }

        // To two digits; more would be spurious.
        while (enough > 1.01 * too && enough - too > 1)
        {
            int middle = (int)Math.Sqrt((double)too * enough);
            middle = middle <= too ? too + 1 : middle;
            (too, enough) = Of(length, middle).Tenth < wanted ? (middle, enough) : (too, middle);
        }

        return enough;
    }
}
