namespace DriftWatch.Analysis.Forecast;

/// <summary>
/// When a line with uncertain level and slope is at a given value: the times t at which (level + slope·(t − t₀) − value)² is at most q²
/// times the variance of the line at t. Fieller, 'The biological standardization of insulin', Supplement to the Journal of the Royal
/// Statistical Society 7 (1940). The set is a finite interval only if the slope's own interval leaves 0 out; else it is
/// everything outside a gap, or all times, and so says nothing of the latest time.
/// </summary>
public static class CrossingInterval
{
    /// <summary>The two edges of the set; null where no time is excluded.</summary>
    /// <param name="Lower">The earlier edge.</param>
    /// <param name="Upper">The later edge; infinite if there is one edge only.</param>
    /// <param name="IsFinite">The times between the edges are those not excluded; else those outside are.</param>
    public readonly record struct Edges(double Lower, double Upper, bool IsFinite);

    /// <param name="meanTime">t₀, in seconds.</param>
    /// <param name="levelAbove">Level at t₀ less the value asked for.</param>
    /// <param name="slope">In value units a second.</param>
    /// <param name="levelVariance">Of the level.</param>
    /// <param name="covariance">Of level and slope.</param>
    /// <param name="slopeVariance">Of the slope.</param>
    /// <param name="quantile">q, such as that of Student's t.</param>
    /// <exception cref="ArgumentException">A variance is negative, or a number is not finite.</exception>
    public static Edges? Find(
        double meanTime, double levelAbove, double slope, double levelVariance, double covariance, double slopeVariance, double quantile)
    {
        Statistics.Finite.Require([meanTime, levelAbove, slope, levelVariance, covariance, slopeVariance, quantile]);
        if (levelVariance < 0 || slopeVariance < 0)
        {
            throw new ArgumentException("A variance is 0 or more.", levelVariance < 0 ? nameof(levelVariance) : nameof(slopeVariance));
        }

        double square = quantile * quantile;
        double a = (slope * slope) - (square * slopeVariance);
        double b = (slope * levelAbove) - (square * covariance);
        double c = (levelAbove * levelAbove) - (square * levelVariance);
        double discriminant = (b * b) - (a * c);
        if (a > 0)
        {
            // At the crossing itself the square is 0, so there is always a root to either side of it.
            (double low, double high) = Roots(a, b, c, Math.Max(0, discriminant));
            return new Edges(meanTime + low, meanTime + high, true);
        }

        if (!(discriminant > 0) || a == 0)
        {
            // With a = 0 there may be one edge; to exclude nothing then is the cautious answer and of no consequence.
            return null;
        }

        (double first, double second) = Roots(a, b, c, discriminant);
        return new Edges(meanTime + first, meanTime + second, false);
    }

    /// <summary>Roots of a·x² + 2b·x + c, rising, without the loss of digits where b² is much larger than a·c.</summary>
    private static (double Low, double High) Roots(double a, double b, double c, double discriminant)
    {
        double root = -(b + (Math.Sign(b) >= 0 ? Math.Sqrt(discriminant) : -Math.Sqrt(discriminant)));
        if (root == 0)
        {
            return (0, 0);
        }

        double one = root / a;
        double other = c / root;
        return one < other ? (one, other) : (other, one);
    }
}
