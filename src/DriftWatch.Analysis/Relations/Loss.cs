namespace DriftWatch.Analysis.Relations;

/// <summary>Huber's and Tukey's functions, with the constants that give 95 % efficiency for normal noise.</summary>
internal static class Loss
{
    /// <summary>Huber, Annals of Mathematical Statistics 35 (1964); 1.345 gives 95 % (Holland and Welsch 1977).</summary>
    public const double HuberCut = 1.345;

    /// <summary>Tukey's bisquare at 95 % (Holland and Welsch 1977; digits as in R's robustbase).</summary>
    public const double BisquareCut = 4.685061;

    /// <summary>The bisquare that makes an S-estimate break down at one half and its scale right for normal noise (digits as in R's robustbase).</summary>
    public const double BisquareScaleCut = 1.547645;

    public static double HuberWeight(double u) => Math.Abs(u) <= HuberCut ? 1 : HuberCut / Math.Abs(u);

    /// <summary>u²/2 near zero, straight outside.</summary>
    public static double HuberRho(double u)
    {
        double a = Math.Abs(u);
        return a <= HuberCut ? u * u / 2 : HuberCut * (a - (HuberCut / 2));
    }

    public static double BisquareWeight(double u, double cut)
    {
        double share = u / cut;
        double left = 1 - (share * share);
        return left > 0 ? left * left : 0;
    }

    /// <summary>Scaled to 1 at and beyond the cut.</summary>
    public static double BisquareRho(double u, double cut)
    {
        double share = u / cut;
        double left = 1 - (share * share);
        return left > 0 ? 1 - (left * left * left) : 1;
    }
}
