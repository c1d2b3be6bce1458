namespace DriftWatch.Analysis.Trend;

/// <summary>Products of values with later ones in a series with holes, and what they tell of noise that is of two parts.</summary>
internal static class LagProducts
{
    /// <summary>The rounds after which <see cref="Fading"/> and the lift that it depends on stand to a percent.</summary>
    public const int LiftRounds = 3;

    /// <summary>Lags count while this much of the first is left: further ones hold more chance than memory. By simulation; 0.4 does as well.</summary>
    private const double StillPlain = 0.6;

    /// <summary>Autocorrelations at lags 1, 2 … to the first that has faded, as far as there are pairs enough.</summary>
    /// <returns>How many there are.</returns>
    public static int UntilFaded(ReadOnlySpan<double> values, ReadOnlySpan<int> places, double variance, int fewestPairs, Span<double> lags)
    {
        for (int lag = 1; lag <= lags.Length; lag++)
        {
            (double mean, int pairs) = At(values, places, lag);
            if (pairs < fewestPairs)
            {
                return lag - 1;
            }

            lags[lag - 1] = mean / variance;
            if (lag > 1 && lags[lag - 1] <= StillPlain * lags[0])
            {
                return lag;
            }
        }

        return lags.Length;
    }

    /// <summary>
    /// φ of a slow part under white noise, where lag h has the correlation c·φʰ: (r₂+…+rₘ₊₁)/(r₁+…+rₘ), far surer than r₂/r₁. What levels or
    /// a line take out of every lag, lift·(1 − r), is given back. Derived.
    /// </summary>
    /// <param name="lags">Correlations at lags 1 to m + 1.</param>
    /// <param name="lift">Share of the variance that was taken out.</param>
    /// <returns>φ, and the first correlation with its lift; φ is 0 where the lags sum up to nothing.</returns>
    public static (double Slow, double First) Fading(ReadOnlySpan<double> lags, double lift)
    {
        double near = 0;
        for (int h = 0; h < lags.Length - 1; h++)
        {
            near += lags[h] + (lift * (1 - lags[h]));
        }

        double slow = near > 0 ? 1 - ((1 - lift) * (lags[0] - lags[^1]) / near) : 0;
        return (slow, lags[0] + (lift * (1 - lags[0])));
    }

    /// <summary>Mean product of values that lie just so many places apart, with their number; 0 where there are none.</summary>
    /// <param name="values">About nought.</param>
    /// <param name="places">Of each value, rising.</param>
    /// <param name="lag">In places, above 0.</param>
    private static (double Mean, int Pairs) At(ReadOnlySpan<double> values, ReadOnlySpan<int> places, int lag)
    {
        double products = 0;
        int pairs = 0;
        int later = 0;
        for (int i = 0; i < values.Length; i++)
        {
            while (later < values.Length && places[later] - places[i] < lag)
            {
                later++;
            }

            if (later == values.Length)
            {
                break;
            }

            if (places[later] - places[i] == lag)
            {
                products += values[i] * values[later];
                pairs++;
            }
        }

        return (pairs == 0 ? 0 : products / pairs, pairs);
    }
}
