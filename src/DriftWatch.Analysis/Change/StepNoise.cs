namespace DriftWatch.Analysis.Change;

/// <summary>
/// The noise about a step as a first-order autoregressive series: its neighbours' correlation ρ, from the residuals of
/// both levels, and its variance.
/// </summary>
/// <param name="Variance">Sum of squares of the residuals over n less the number of means.</param>
/// <param name="Rho">
/// Corrected for the bias that the means bring, −(1 + 3ρ)/n for each (Marriott and Pope, Biometrika 41, 1954, for stretches
/// with a mean of their own; from memory, held by simulation); between −0.9 and 1 − 2/n.
/// </param>
/// <param name="RhoError">Standard error of ρ, √((1 − ρ²)/n) (Bartlett 1946).</param>
internal readonly record struct StepNoise(double Variance, double Rho, double RhoError)
{
    /// <summary>The variance that means of long stretches see: σ²·(1 + ρ)/(1 − ρ).</summary>
    public double LongRunVariance => Variance * (1 + Rho) / (1 - Rho);

    /// <summary>How many independent values say as much about a level as so many of these: n·(1 − ρ)/(1 + ρ), never more than n.</summary>
    public double Effective(int count) => count * Math.Min(1, (1 - Rho) / (1 + Rho));

    /// <param name="values">In the order of time.</param>
    /// <param name="places">Sample number of each value, rising; only neighbours without a gap tell about ρ.</param>
    /// <param name="k">Values before the cut.</param>
    /// <param name="before">Level before.</param>
    /// <param name="after">Level after.</param>
    public static StepNoise About(ReadOnlySpan<double> values, ReadOnlySpan<int> places, int k, double before, double after)
    {
        int n = values.Length;
        double squares = 0, products = 0, last = 0;
        int pairs = 0;
        for (int i = 0; i < n; i++)
        {
            double residual = values[i] - (i < k ? before : after);
            squares += residual * residual;
            if (i > 0 && places[i] == places[i - 1] + 1)
            {
                products += residual * last;
                pairs++;
            }

            last = residual;
        }

        return From(squares, products, pairs, n, 2);
    }

    /// <summary>The noise in residuals about any number of levels.</summary>
    public static StepNoise Of(ReadOnlySpan<double> residuals, ReadOnlySpan<int> places, int levels)
    {
        double squares = 0, products = 0;
        int pairs = 0;
        for (int i = 0; i < residuals.Length; i++)
        {
            squares += residuals[i] * residuals[i];
            if (i > 0 && places[i] == places[i - 1] + 1)
            {
                products += residuals[i] * residuals[i - 1];
                pairs++;
            }
        }

        return From(squares, products, pairs, residuals.Length, levels);
    }

    private static StepNoise From(double squares, double products, int pairs, int n, int levels)
    {
        double raw = pairs > 0 && squares > 0 ? products / pairs / (squares / n) : 0;
        double rho = Math.Clamp((raw + ((double)levels / n)) / (1 - Math.Min(0.5, 3.0 * levels / n)), -0.9, 1 - (2.0 / n));
        return new StepNoise(squares / (n - levels), rho, Math.Sqrt((1 - (rho * rho)) / n));
    }

    /// <summary>What is new in each value beyond what its neighbour before foretold, brought to mean 0 and variance 1.</summary>
    public double[] Innovations(ReadOnlySpan<double> values, ReadOnlySpan<int> places, int k, double before, double after)
    {
        var fresh = new List<double>(values.Length);
        double last = 0;
        for (int i = 0; i < values.Length; i++)
        {
            double residual = values[i] - (i < k ? before : after);
            if (i > 0 && places[i] == places[i - 1] + 1)
            {
                fresh.Add(residual - (Rho * last));
            }

            last = residual;
        }

        double mean = fresh.Average();
        double scale = 1 / Math.Sqrt(fresh.Sum(x => (x - mean) * (x - mean)) / fresh.Count);
        return [.. fresh.Select(x => (x - mean) * scale)];
    }
}
