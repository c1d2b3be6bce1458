using MathNet.Numerics.LinearAlgebra;

namespace DriftWatch.Analysis.Trend;

/// <summary>
/// Noise about a line: a slow part that is first-order autoregressive and has the share c of the variance, and a part that is
/// new at every reading, such as rounding. Lag k has the correlation c·φ^k.
/// </summary>
/// <param name="Correlation">φ, of the slow part from one step to the next.</param>
/// <param name="SlowShare">c, above 0 to 1.</param>
/// <param name="Deviation">Standard deviation of both together.</param>
internal readonly record struct NoiseModel(double Correlation, double SlowShare, double Deviation)
{
    /// <summary>Fewer pairs than this say too little about an autocorrelation to split the noise. No source.</summary>
    private const int FewestPairs = 20;

    /// <summary>A memory longer than about twice as many readings is judged by these. No source; it bounds the work.</summary>
    private const int MostLags = 60;

    /// <summary>
    /// φ by restricted likelihood as if all noise were slow. If the correlation at lag 1 is beyond doubt (over two of its
    /// standard errors) and the lags after it fade more slowly than that, then φ = (r₂+…+rₘ₊₁)/(r₁+…+rₘ), where m is the last lag with 0.6 of
    /// the first, and c = r₁/φ. All are corrected for what the line takes out of them: rₖ + (2τ/n)(1−rₖ), τ = 1+2cφ/(1−φ), since each of its
    /// two parameters takes the variance of a mean. Derived; r₂/r₁ alone is so unsure that it took twice the effective size for true.
    /// </summary>
    internal static NoiseModel Of(KeptReadings kept)
    {
        int n = kept.X.Length;
        var differences = new QuasiDifferences(kept.X, kept.Y, kept.Places);
        QuasiDifferences.Sums plain = differences.At(0);
        double deviation = Math.Sqrt(plain.Residual / (n - 2));
        double size = 0;
        foreach (double y in kept.Y)
        {
            size = Math.Max(size, Math.Abs(y));
        }

        // No noise but that of the arithmetic: nothing to correlate.
        if (deviation <= 1e-12 * size)
        {
            return new NoiseModel(0, 1, deviation);
        }

        double rho = differences.Likeliest(restricted: true, width: 1e-5);
        if (rho <= 0)
        {
            return new NoiseModel(rho, 1, deviation);
        }

        ReadOnlySpan<double> lags = Lags(kept, plain, new double[Math.Clamp(n / 8, 2, MostLags)]);
        double inflation = (1 + rho) / (1 - rho);
        if (lags.Length < 2 || LagProducts.Fading(lags, 2 * inflation / n).First < 2 / Math.Sqrt(n))
        {
            return new NoiseModel(rho, 1, deviation);
        }

        (double slow, double share) = (rho, 1);
        for (int round = 0; round < LagProducts.LiftRounds; round++)
        {
            (slow, double once) = LagProducts.Fading(lags, Math.Min(0.5, 2 * inflation / n));
            slow = Math.Clamp(slow, Math.Min(rho, QuasiDifferences.LargestCorrelation), QuasiDifferences.LargestCorrelation);
            share = Math.Min(1, Math.Max(rho, once) / slow);
            inflation = 1 + (2 * share * slow / (1 - slow));
        }

        return new NoiseModel(slow, share, deviation);
    }

    /// <summary>
    /// As how many independent readings these say about their mean. For the slow part alone 1 + Σ(1−φ^g)/(1+φ^g) over the gaps g, which
    /// is exact; parts add as their variances do. Never more than there are readings, whatever a negative φ may promise.
    /// </summary>
    internal double EffectiveSize(ReadOnlySpan<int> places)
    {
        double slow = 1;
        for (int i = 1; i < places.Length; i++)
        {
            double memory = QuasiDifferences.Power(Correlation, places[i] - places[i - 1]);
            slow += (1 - memory) / (1 + memory);
        }

        return Math.Min(places.Length, 1 / ((SlowShare / slow) + ((1 - SlowShare) / places.Length)));
    }

    /// <summary>Covariance of the means of blocks of equal count, in units of the noise's variance; exact, holes and all.</summary>
    internal Matrix<double> BlockCovariance(ReadOnlySpan<int> places, int blocks)
    {
        // A negative φ would promise more than independence does; it is not believed.
        double phi = Math.Max(0, Correlation);
        double[] heads = new double[blocks];
        double[] tails = new double[blocks];
        double[] within = new double[blocks];
        double[] counts = new double[blocks];
        int[] firsts = new int[blocks];
        int[] lasts = new int[blocks];
        for (int k = 0; k < blocks; k++)
        {
            (int start, int end) = Drift.Block(k, blocks, places.Length);
            double before = 0;
            double fade = 1;
            heads[k] = 1;
            within[k] = 1;
            for (int i = start + 1; i < end; i++)
            {
                double memory = QuasiDifferences.Power(phi, places[i] - places[i - 1]);
                before = memory * (1 + before);
                fade *= memory;
                heads[k] += fade;
                within[k] += 1 + (2 * before);
            }

            tails[k] = 1 + before;
            counts[k] = end - start;
            firsts[k] = places[start];
            lasts[k] = places[end - 1];
        }

        double share = SlowShare;
        return Matrix<double>.Build.Dense(blocks, blocks, (k, l) =>
        {
            if (k == l)
            {
                return ((share * within[k]) + ((1 - share) * counts[k])) / (counts[k] * counts[k]);
            }

            (int first, int second) = k < l ? (k, l) : (l, k);
            return share * tails[first] * Math.Pow(phi, firsts[second] - lasts[first]) * heads[second] / (counts[k] * counts[l]);
        });
    }

    private static ReadOnlySpan<double> Lags(KeptReadings kept, QuasiDifferences.Sums line, Span<double> lags)
    {
        double[] e = new double[kept.X.Length];
        double squares = 0;
        for (int i = 0; i < e.Length; i++)
        {
            e[i] = kept.Y[i] - line.Level - (line.Slope * kept.X[i]);
            squares += e[i] * e[i];
        }

        return lags[..LagProducts.UntilFaded(e, kept.Places, squares / e.Length, FewestPairs, lags)];
    }
}
