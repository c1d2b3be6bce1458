namespace DriftWatch.Analysis.Trend;

/// <summary>How the autocorrelation of the noise is found.</summary>
public enum AutoregressiveMethod
{
    /// <summary>Quasi-differences without the first point, the correlation by Yule and Walker from the residuals about their mean (each sum over its number of terms, as statsmodels has it), until both stand.</summary>
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

    private const double LargestCorrelation = 0.9999;
    private const int MostRounds = 500;

    /// <param name="times">In seconds, rising by even steps (neighbours are taken to be one step apart).</param>
    /// <param name="values">As many, in their unit.</param>
    /// <param name="method">How ρ is found.</param>
    /// <exception cref="ArgumentException">Lengths differ, a number is not finite, or times don't rise.</exception>
    public static Answer<AutoregressiveLineFit> Fit(
        ReadOnlySpan<double> times, ReadOnlySpan<double> values, AutoregressiveMethod method = AutoregressiveMethod.Restricted)
    {
        Trend.Points.Check(times, values);
        Trend.Points.CheckRising(times);
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
        double rho = method switch
        {
            AutoregressiveMethod.CochraneOrcutt or AutoregressiveMethod.PraisWinsten => Iterate(x, y, first),
            _ => Likeliest(x, y, method == AutoregressiveMethod.Restricted),
        };
        Sums sums = Quasi(x, y, rho, first);
        double deviation = Math.Sqrt(sums.Residual / (sums.Rows - 2));
        double slopeError = deviation * Math.Sqrt(sums.S00 / sums.Determinant);
        double levelVariance = deviation * deviation * sums.S11 / sums.Determinant;
        double both = -deviation * deviation * sums.S01 / sums.Determinant;
        double interceptVariance = levelVariance - (2 * meanTime * both) + (meanTime * meanTime * slopeError * slopeError);
        return new AutoregressiveLineFit(
            sums.Slope, slopeError, level + sums.Level - (sums.Slope * meanTime), Math.Sqrt(Math.Max(0, interceptVariance)), rho, deviation, n);
    }

    private static double Iterate(double[] x, double[] y, bool first)
    {
        double rho = 0;
        for (int round = 0; round < MostRounds; round++)
        {
            Sums sums = Quasi(x, y, rho, first);
            double product = 0, squares = 0, before = 0;
            for (int i = 0; i < x.Length; i++)
            {
                // x and y are about their means, so this is about the residuals' mean.
                double e = y[i] - (sums.Slope * x[i]);
                if (i > 0)
                {
                    product += e * before;
                }

                squares += e * e;

                before = e;
            }

            double next = squares > 0 ? Math.Clamp(product / (x.Length - 1) / (squares / x.Length), -LargestCorrelation, LargestCorrelation) : 0;
            bool settled = Math.Abs(next - rho) < 1e-13;
            rho = next;
            if (settled)
            {
                break;
            }
        }

        return rho;
    }

    /// <summary>The best of a grid (the likelihood may have two humps), then golden section between its neighbours.</summary>
    private static double Likeliest(double[] x, double[] y, bool restricted)
    {
        const int grid = 40;
        double At(int k) => Math.Clamp((2.0 * k / grid) - 1, -LargestCorrelation, LargestCorrelation);
        int best = 0;
        double most = double.NegativeInfinity;
        for (int k = 0; k <= grid; k++)
        {
            double here = LogLikelihood(x, y, At(k), restricted);
            (best, most) = here > most ? (k, here) : (best, most);
        }

        const double golden = 0.6180339887498949;
        double low = At(Math.Max(best - 1, 0));
        double high = At(Math.Min(best + 1, grid));
        double a = high - (golden * (high - low));
        double b = low + (golden * (high - low));
        double atA = LogLikelihood(x, y, a, restricted);
        double atB = LogLikelihood(x, y, b, restricted);
        while (high - low > 1e-10)
        {
            if (atA > atB)
            {
                (high, b, atB) = (b, a, atA);
                a = high - (golden * (high - low));
                atA = LogLikelihood(x, y, a, restricted);
            }
            else
            {
                (low, a, atA) = (a, b, atB);
                b = low + (golden * (high - low));
                atB = LogLikelihood(x, y, b, restricted);
            }
        }

        return (low + high) / 2;
    }

    /// <summary>Less what doesn't depend on ρ. A line that fits exactly leaves no noise, and then any ρ does: 0 is as good.</summary>
    private static double LogLikelihood(double[] x, double[] y, double rho, bool restricted)
    {
        Sums sums = Quasi(x, y, rho, first: true);
        double n = x.Length;
        double noise = Math.Max(sums.Residual, double.Epsilon);
        return restricted
            ? 0.5 * (Math.Log(1 - (rho * rho)) - ((n - 2) * Math.Log(noise)) - Math.Log(sums.Determinant))
            : 0.5 * (Math.Log(1 - (rho * rho)) - (n * Math.Log(noise)));
    }

    /// <summary>Least squares of the quasi-differences.</summary>
    private static Sums Quasi(double[] x, double[] y, double rho, bool first)
    {
        double s00 = 0, s01 = 0, s11 = 0, r0 = 0, r1 = 0;
        double weight = Math.Sqrt(1 - (rho * rho));
        for (int i = first ? 0 : 1; i < x.Length; i++)
        {
            double one = i == 0 ? weight : 1 - rho;
            double u = i == 0 ? weight * x[0] : x[i] - (rho * x[i - 1]);
            double v = i == 0 ? weight * y[0] : y[i] - (rho * y[i - 1]);
            s00 += one * one;
            s01 += one * u;
            s11 += u * u;
            r0 += one * v;
            r1 += u * v;
        }

        double determinant = (s00 * s11) - (s01 * s01);
        double level = ((s11 * r0) - (s01 * r1)) / determinant;
        double slope = ((s00 * r1) - (s01 * r0)) / determinant;
        double residual = 0;
        for (int i = first ? 0 : 1; i < x.Length; i++)
        {
            double one = i == 0 ? weight : 1 - rho;
            double u = i == 0 ? weight * x[0] : x[i] - (rho * x[i - 1]);
            double v = i == 0 ? weight * y[0] : y[i] - (rho * y[i - 1]);
            double e = v - (level * one) - (slope * u);
            residual += e * e;
        }

        return new Sums(s00, s01, s11, determinant, level, slope, residual, first ? x.Length : x.Length - 1);
    }

    private readonly record struct Sums(
        double S00, double S01, double S11, double Determinant, double Level, double Slope, double Residual, int Rows);
}
