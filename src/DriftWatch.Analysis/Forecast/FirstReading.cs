using DriftWatch.Analysis.Statistics;
using DriftWatch.Analysis.Trend;
using MathNet.Numerics.Distributions;

namespace DriftWatch.Analysis.Forecast;

/// <summary>
/// Time of the first reading at a limit or beyond, noise and all: earlier than the level's own crossing
/// (<see cref="TimeToLimit"/>), since the noise reaches ahead. For one line and noise the chance to have seen none is e^−Λ, with Λ the
/// sum of the chances of each step, which depend on the distance z to the limit in deviations of the noise:
/// for correlation r from one reading to the next (1−r)·κ(z)·ν(z·√(2(1−r))), where κ is the rate at which an Ornstein-Uhlenbeck process
/// that hasn't crossed does so (1/(1+√2π∫₀ᶻe^(u²/2)Φ(u)du) above 0; 1, 2, 3 at 0, −1, −√3, the Hermite polynomials' zeros)
/// and ν allows for looking at steps only (Siegmund and Yakir, 'The Statistics of Gene Mapping', 2007, from memory); never more
/// than for independent readings, −ln Φ(z). Within two fifths of the exact rate, which moves the time by a fraction of what the noise does.
/// That chance is averaged over what is not known: line, by its
/// covariance and Student's t, and deviation of the noise, by its effective size; at 512 points of a Halton sequence, so the
/// answer is the same each time. Wild readings, which <see cref="Drift"/> leaves out, are left out here, too.
/// </summary>
public static class FirstReading
{
    private const int Draws = 512;

    /// <param name="drift">As estimated up to now.</param>
    /// <param name="limit">In the unit of the values.</param>
    /// <param name="side">On which side of the limit it is bad.</param>
    /// <param name="now">In the drift's own time, usually that of the last reading.</param>
    /// <param name="horizonSeconds">How far ahead of now is of interest.</param>
    /// <param name="confidence">Of the interval: as much chance is left on either side.</param>
    /// <returns>
    /// The best is the time by which the chance is even. Already beyond goes by the level; a single reading beyond is no news to who asks.
    /// </returns>
    /// <exception cref="ArgumentException">A number is not finite, or the horizon is not positive.</exception>
    public static LimitForecast Of(
        DriftEstimate drift, double limit, LimitSide side, double now, double horizonSeconds, double confidence = 0.95)
    {
        Finite.Require(limit);
        Finite.Require(now);
        TimeToLimit.CheckHorizon(horizonSeconds);
        Points.CheckConfidence(confidence);
        double sign = side == LimitSide.Above ? 1 : -1;
        double distance = -sign * (drift.At(now) - limit);
        if (distance <= 0)
        {
            return new LimitForecast(LimitOutlook.AlreadyBeyond, now, now, now);
        }

        if (!(drift.NoiseDeviation > 0))
        {
            // Without noise the first reading beyond is the level's.
            return TimeToLimit.Of(drift, limit, side, now, horizonSeconds, confidence);
        }

        (double Distance, double Approach)[] lines = Lines(drift, distance, sign * drift.Slope, sign, now);
        var rate = new PassageRate(drift.SlowShare * Math.Max(0, drift.Correlation));
        double earliest = Quantile(lines, rate, (1 - confidence) / 2);
        double best = Quantile(lines, rate, 0.5);
        double latest = Quantile(lines, rate, (1 + confidence) / 2);
        double horizonSteps = horizonSeconds / drift.Step;
        return new LimitForecast(
            earliest > horizonSteps ? LimitOutlook.NotWithinHorizon : LimitOutlook.Crosses,
            now + (earliest * drift.Step), now + (best * drift.Step), now + (latest * drift.Step));
    }

    /// <summary>Distance now and approach a step, in deviations of the noise, of lines and noises that the data allow.</summary>
    private static (double Distance, double Approach)[] Lines(DriftEstimate drift, double distance, double slope, double sign, double now)
    {
        double x = now - drift.MeanTime;
        double levelError = Math.Sqrt(drift.VarianceAt(now));
        double slopeError = Math.Sqrt(drift.SlopeVariance);
        double both = sign * sign * (drift.Covariance + (x * drift.SlopeVariance));
        double together = levelError > 0 && slopeError > 0 ? Math.Clamp(both / (levelError * slopeError), -1, 1) : 0;
        var lines = new (double, double)[Draws];
        for (int k = 0; k < Draws; k++)
        {
            double first = Normal.InvCDF(0, 1, Halton(k, 2));
            double second = Normal.InvCDF(0, 1, Halton(k, 3));
            double student = Math.Sqrt(drift.DegreesOfFreedom / ChiSquared.InvCDF(drift.DegreesOfFreedom, Halton(k, 5)));
            double size = drift.EffectiveSize;

            // A line takes two independent readings' worth of variance out of the noise.
            double noise = drift.NoiseDeviation * Math.Sqrt(size / (size - 2)) * Math.Sqrt(size / ChiSquared.InvCDF(size, Halton(k, 7)));
            double level = levelError * student * first;
            double turn = slopeError * student * ((together * first) + (Math.Sqrt(1 - (together * together)) * second));
            lines[k] = ((distance - level) / noise, (slope + turn) * drift.Step / noise);
        }

        return lines;
    }

    /// <summary>Steps after which the chance to have seen a reading beyond is <paramref name="chance"/>; infinite if it never is.</summary>
    private static double Quantile((double Distance, double Approach)[] lines, PassageRate rate, double chance)
    {
        const double most = 1e15;
        if (Chance(lines, rate, most) < chance)
        {
            return double.PositiveInfinity;
        }

        double low = 0;
        double high = most;
        for (int i = 0; i < 200 && high - low > 1e-9 * high; i++)
        {
            double middle = low > 0 ? Math.Sqrt(low * high) : high / 1000;
            (low, high) = Chance(lines, rate, middle) < chance ? (middle, high) : (low, middle);
            if (high < 1e-3)
            {
                break;
            }
        }

        return high;
    }

    private static double Chance((double Distance, double Approach)[] lines, PassageRate rate, double steps)
    {
        double none = 0;
        foreach ((double distance, double approach) in lines)
        {
            none += Math.Exp(-rate.Sum(distance, approach, steps));
        }

        return 1 - (none / lines.Length);
    }

    /// <summary>Point k of the sequence of a base, within 0 and 1 (Halton 1960).</summary>
    private static double Halton(int k, int radix)
    {
        double value = 0;
        double part = 1.0 / radix;
        for (int i = k + 1; i > 0; i /= radix)
        {
            value += i % radix * part;
            part /= radix;
        }

        return value;
    }
}
