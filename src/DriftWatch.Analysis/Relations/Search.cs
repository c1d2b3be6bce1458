namespace DriftWatch.Analysis.Relations;

/// <summary>One-dimensional searches.</summary>
internal static class Search
{
    private static readonly double Section = (Math.Sqrt(5) - 1) / 2;

    /// <summary>The least point of a function with one dip in a range, by golden section; good to the square root of rounding.</summary>
    public static double Golden(Func<double, double> function, double low, double high, double tolerance)
    {
        double left = high - (Section * (high - low));
        double right = low + (Section * (high - low));
        double atLeft = function(left);
        double atRight = function(right);
        while (high - low > tolerance)
        {
            if (atLeft <= atRight)
            {
                (high, right, atRight) = (right, left, atLeft);
                left = high - (Section * (high - low));
                atLeft = function(left);
            }
            else
            {
                (low, left, atLeft) = (left, right, atRight);
                right = low + (Section * (high - low));
                atRight = function(right);
            }
        }

        return (low + high) / 2;
    }

    /// <summary>Where a function crosses zero between an end below and an end above it, by halving.</summary>
    public static double Crossing(Func<double, double> function, double below, double above)
    {
        for (int round = 0; round < 60; round++)
        {
            double middle = (below + above) / 2;
            if (function(middle) <= 0)
            {
                below = middle;
            }
            else
            {
                above = middle;
            }
        }

        return (below + above) / 2;
    }
}
