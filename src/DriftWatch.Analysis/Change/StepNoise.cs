using DriftWatch.Analysis.Trend;

namespace DriftWatch.Analysis.Change;

/// <summary>
/// The noise about one level or more: a slow part that is first-order autoregressive and has a share of the variance, and a
/// part that is new at every sample (rounding, an amplifier), so that lag h has the correlation c·φʰ. Where the second can't
/// be told from none, c is 1 and φ the correlation of neighbours.
/// </summary>
/// <param name="Variance">Sum of squares of the residuals over n less the number of levels.</param>
/// <param name="Rho">φ, between −0.9 and 1 − 2/n.</param>
/// <param name="SlowShare">c, above 0 up to 1.</param>
/// <param name="RhoError">Standard error of φ, √((1 − φ²)/n) (Bartlett 1946), over c where there are two parts.</param>
internal readonly record struct StepNoise(double Variance, double Rho, double SlowShare, double RhoError)
{
    /// <summary>By what correlation multiplies the variance of a mean of many: 1 + 2cφ/(1 − φ), which is (1 + φ)/(1 − φ) for c = 1.</summary>
    public double Inflation => 1 + (2 * SlowShare * Rho / (1 - Rho));

    /// <summary>The variance that means of long stretches see.</summary>
    public double LongRunVariance => Variance * Inflation;

    /// <summary>How many independent values say as much about a level as so many of these; never more than these.</summary>
    public double Effective(int count) => count / Math.Max(1, Inflation);

    /// <summary>Pairs that a lag must have to count.</summary>
    private const int FewestPairs = 20;

    /// <summary>A memory longer than about twice as many values is judged by these. No source; it bounds the work.</summary>
    private const int MostLags = 60;

    /// <param name="values">In the order of time.</param>
    /// <param name="places">Sample number of each value, rising; pairs across a gap count for the lag that they have.</param>
    /// <param name="k">Values before the cut.</param>
    /// <param name="before">Level before.</param>
    /// <param name="after">Level after.</param>
    /// <param name="residuals">Room for as many values; afterwards what is left of them.</param>
    public static StepNoise About(
        ReadOnlySpan<double> values, ReadOnlySpan<int> places, int k, double before, double after, Span<double> residuals)
    {
        for (int i = 0; i < values.Length; i++)
        {
            residuals[i] = values[i] - (i < k ? before : after);
        }

        return Of(residuals, places, 2);
    }

    /// <summary>The noise in residuals about any number of levels.</summary>
    public static StepNoise Of(ReadOnlySpan<double> residuals, ReadOnlySpan<int> places, int levels)
    {
        var sums = default(Sums);
        for (int i = 0; i < residuals.Length; i++)
        {
            sums.Add(residuals[i], places[i]);
        }

        StepNoise noise = sums.Noise(levels);
        return noise.SlowShare < 1 ? noise.ByManyLags(residuals, places, levels) ?? noise : noise;
    }

    /// <summary>
    /// This noise as it may be: where the second lag hints at two parts (0.7 of a standard error above a first-order one's) without being beyond
    /// doubt, and more lags make it slower, the two parts that they make. In short records half of those with two parts show no more than the hint;
    /// a hint of half an error costs more steps of first-order noise, one of a whole error lets more false claims through (by simulation).
    /// </summary>
    public StepNoise AsItMayBe(ReadOnlySpan<double> residuals, ReadOnlySpan<int> places, int levels)
    {
        const double hint = 0.7;
        double doubt = 1 / Math.Sqrt(residuals.Length);
        if (SlowShare < 1 || Rho <= 2 * doubt || ByManyLags(residuals, places, levels, hint * doubt) is not { } slower || !(slower.Rho > Rho))
        {
            return this;
        }

        return slower;
    }

    /// <summary>
    /// φ as (r₂+…+rₘ₊₁)/(r₁+…+rₘ), where m is the last lag with 0.6 of the first, and c = r₁/φ, lags corrected for what the levels take out of
    /// them (<see cref="LagProducts.Fading"/>): one ratio alone is so unsure that a record of 30 independent values passes for one of 70. Its
    /// standard error is that of a first-order noise's over c, as the white part hides so much of the memory (derived, roughly).
    /// </summary>
    /// <returns>Null where there are too few lags, or the second is less above a first-order one's than asked for.</returns>
    private StepNoise? ByManyLags(ReadOnlySpan<double> residuals, ReadOnlySpan<int> places, int levels, double leastPartial = double.NegativeInfinity)
    {
        int n = residuals.Length;
        double squares = 0;
        foreach (double residual in residuals)
        {
            squares += residual * residual;
        }

        Span<double> lags = stackalloc double[Math.Clamp(n / 8, 2, MostLags)];
        lags = lags[..LagProducts.UntilFaded(residuals, places, squares / n, FewestPairs, lags)];
        double lift = Math.Min(0.5, levels * Inflation / n);
        if (lags.Length < 2 || Partial(Lifted(lags[0], lift), Lifted(lags[1], lift)) < leastPartial)
        {
            return null;
        }

        StepNoise found = this;
        for (int round = 0; round < LagProducts.LiftRounds; round++)
        {
            (double slow, double first) = LagProducts.Fading(lags, Math.Min(0.5, levels * found.Inflation / n));
            double most = 1 - (2.0 / n);
            slow = Math.Clamp(slow, Math.Min(first, most), most);
            if (!(slow > 0))
            {
                return null;
            }

            double share = Math.Min(1, first / slow);
            found = this with { Rho = slow, SlowShare = share, RhoError = Math.Sqrt((1 - (slow * slow)) / n) / share };
        }

        return found;
    }

    private static double Lifted(double lag, double lift) => lag + (lift * (1 - lag));

    /// <summary>Partial correlation at lag 2.</summary>
    private static double Partial(double first, double second) => (second - (first * first)) / (1 - (first * first));

    private struct Sums
    {
        private double _squares, _once, _twice, _last, _lastButOne;
        private int _count, _pairs1, _pairs2, _lastPlace, _lastButOnePlace;

        public void Add(double residual, int place)
        {
            _squares += residual * residual;
            if (_count > 0)
            {
                Pair(residual * _last, place - _lastPlace);
            }

            if (_count > 1)
            {
                Pair(residual * _lastButOne, place - _lastButOnePlace);
            }

            (_lastButOne, _lastButOnePlace) = (_last, _lastPlace);
            (_last, _lastPlace) = (residual, place);
            _count++;
        }

        /// <summary>
        /// Neighbours' correlation is corrected for the bias that levels bring, −(1 + 3ρ)/n for each (Marriott and Pope, Biometrika
        /// 41, 1954, for stretches with a mean of their own; from memory, held by simulation); that at lag 2 for what the levels
        /// take out, (1 + ρ)/(1 − ρ)·(1 − r₂)/n each. If the partial correlation at lag 2 is beyond doubt above 0 (two of its standard
        /// errors, 1/√n), the noise is of two parts: φ = r₂/r₁ and c = r₁/φ, and then many lags are asked.
        /// </summary>
        public readonly StepNoise Noise(int levels)
        {
            int n = _count;
            double variance = _squares / n;
            double r1 = Lag(_once, _pairs1, variance);
            r1 = (r1 + ((double)levels / n)) / (1 - Math.Min(0.5, 3.0 * levels / n));
            double most = 1 - (2.0 / n);
            double rho = Math.Clamp(r1, -0.9, most);
            double share = 1;
            double doubt = 2 / Math.Sqrt(n);
            if (rho > doubt && rho < most)
            {
                double r2 = Lag(_twice, _pairs2, variance);
                r2 += levels * (1 + rho) / (1 - rho) / n * (1 - r2);
                if (Partial(rho, r2) > doubt)
                {
                    double slow = Math.Clamp(r2 / rho, rho, most);
                    (share, rho) = (rho / slow, slow);
                }
            }

            return new StepNoise(_squares / (n - levels), rho, share, Math.Sqrt((1 - (rho * rho)) / n));
        }

        private static double Lag(double products, int pairs, double variance) => pairs > 0 && variance > 0 ? products / pairs / variance : 0;

        private void Pair(double product, int lag)
        {
            if (lag == 1)
            {
                _once += product;
                _pairs1++;
            }
            else if (lag == 2)
            {
                _twice += product;
                _pairs2++;
            }
        }
    }
}
