namespace DriftWatch.Analysis.Trend;

/// <summary>How the autocorrelation of the noise is found.</summary>
public enum AutoregressiveMethod
{
    /// <summary>
    /// Quasi-differences without the first point, the correlation by regressing each residual on the one before, as the textbooks have it
    /// (Kutner et al. 2005, Wooldridge 2013), until both stand.
    /// </summary>
    CochraneOrcutt,

    /// <summary>As Cochrane and Orcutt, with the first point kept at weight √(1−ρ²) (Prais and Winsten 1954).</summary>
    PraisWinsten,

    /// <summary>Gaussian maximum likelihood.</summary>
    MaximumLikelihood,

    /// <summary>Gaussian likelihood of what the line leaves (REML): the least biased correlation of the four.</summary>
    Restricted,
}

/// <summary>A line under first-order autoregressive noise.</summary>
/// <param name="Slope">In value units a second (a unit of the times given).</param>
/// <param name="SlopeError">Standard error of the slope as if the correlation were known.</param>
/// <param name="Intercept">The line's value at time 0.</param>
/// <param name="InterceptError">Standard error of the intercept.</param>
/// <param name="Correlation">ρ between neighbours.</param>
/// <param name="InnovationDeviation">Standard deviation of what each point brings anew; that of the noise is this over √(1−ρ²).</param>
/// <param name="Points">n.</param>
public readonly record struct AutoregressiveLineFit(
    double Slope, double SlopeError, double Intercept, double InterceptError, double Correlation, double InnovationDeviation, int Points);

/// <summary>
/// Generalised least squares of a line whose noise is eᵢ = ρ·eᵢ₋₁ + uᵢ, for evenly spaced points. Cochrane and Orcutt, JASA 44 (1949);
/// Prais and Winsten, Cowles Commission Discussion Paper 383 (1954); likelihoods as in Pinheiro and Bates, 'Mixed-Effects Models
/// in S and S-PLUS' (2000). One wild point spoils it, and its errors take ρ as known: see the README for what that costs.
/// </summary>
public static class AutoregressiveLine
{
    /// <summary>Line, correlation and variance are four parameters; from memory, no source.</summary>
    public const int LeastPoints = 8;

    /// <summary>Where ρ is near 1 the rounds close in slowly: the Blaisdell Company's sales need some 700 to stand to 1e-13.</summary>
    private const int MostRounds = 1000;

    /// <param name="times">In seconds, rising by even steps but where <paramref name="places"/> has holes.</param>
    /// <param name="values">As many, in their unit.</param>
    /// <param name="method">How ρ is found.</param>
    /// <param name="places">
    /// Each point's rising number on the even grid where some are missing (nlme's corAR1 with a covariate), for the two
    /// likelihoods only; empty where none is missing.
    /// </param>
    /// <exception cref="ArgumentException">Lengths differ, a number is not finite, times or places don't rise, or the method takes no places.</exception>
    public static Answer<AutoregressiveLineFit> Fit(
        ReadOnlySpan<double> times,
        ReadOnlySpan<double> values,
        AutoregressiveMethod method = AutoregressiveMethod.Restricted,
        ReadOnlySpan<int> places = default)
    {
        Trend.Points.Check(times, values);
        Trend.Points.CheckRising(times);
        bool likelihood = method is AutoregressiveMethod.MaximumLikelihood or AutoregressiveMethod.Restricted;
        CheckPlaces(places, times.Length, likelihood);
        int n = times.Length;
        if (n < LeastPoints)
        {
            return new Shortfall("points", n, LeastPoints);
        }

        double meanTime = Trend.Points.Mean(times);
        double level = Trend.Points.Mean(values);
        double[] x = new double[n];
        double[] y = new double[n];
        for (int i = 0; i < n; i++)
        {
            x[i] = times[i] - meanTime;
            y[i] = values[i] - level;
        }

        bool first = method != AutoregressiveMethod.CochraneOrcutt;
        var differences = new QuasiDifferences(x, y, places);
        double rho = likelihood
            ? differences.Likeliest(method == AutoregressiveMethod.Restricted)
            : Iterate(differences, x, y, first);
        QuasiDifferences.Sums sums = differences.At(rho, first);
        double deviation = Math.Sqrt(sums.Residual / (sums.Rows - 2));
        double slopeError = deviation * Math.Sqrt(sums.S00 / sums.Determinant);
        double levelVariance = deviation * deviation * sums.S11 / sums.Determinant;
        double both = -deviation * deviation * sums.S01 / sums.Determinant;
        double interceptVariance = levelVariance - (2 * meanTime * both) + (meanTime * meanTime * slopeError * slopeError);
        return new AutoregressiveLineFit(
            sums.Slope, slopeError, level + sums.Level - (sums.Slope * meanTime), Math.Sqrt(Math.Max(0, interceptVariance)), rho, deviation, n);
    }

    private static void CheckPlaces(ReadOnlySpan<int> places, int points, bool likelihood)
    {
        if (places.IsEmpty)
        {
            return;
        }

        if (places.Length != points || !likelihood)
        {
            throw new ArgumentException("There is one place a point, or none at all; only the likelihoods take them.", nameof(places));
        }

        for (int i = 1; i < places.Length; i++)
        {
            if (places[i] <= places[i - 1])
            {
                throw new ArgumentException($"Places must rise: the one at index {i} does not.", nameof(places));
            }
        }
    }

    /// <summary>The correlation at which line and residuals agree.</summary>
    /// <param name="differences">Of the same x and y.</param>
    /// <param name="x">About their mean.</param>
    /// <param name="y">About their mean.</param>
    /// <param name="first">Whether the first point is kept.</param>
    internal static double Iterate(QuasiDifferences differences, double[] x, double[] y, bool first)
    {
        double rho = 0;
        for (int round = 0; round < MostRounds; round++)
        {
            QuasiDifferences.Sums sums = differences.At(rho, first);
            double product = 0, squares = 0, before = 0;
            for (int i = 0; i < x.Length; i++)
            {
                double e = y[i] - sums.Level - (sums.Slope * x[i]);
                product += i > 0 ? e * before : 0;
                squares += i > 0 ? before * before : 0;
                before = e;
            }

            double next = squares > 0
                ? Math.Clamp(product / squares, -QuasiDifferences.LargestCorrelation, QuasiDifferences.LargestCorrelation)
                : 0;
            bool settled = Math.Abs(next - rho) < 1e-13;
            rho = next;
            if (settled)
            {
                break;
            }
        }

        return rho;
    }
}
