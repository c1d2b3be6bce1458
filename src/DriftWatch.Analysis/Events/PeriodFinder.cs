using DriftWatch.Analysis.Relations;
using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Events;

/// <summary>The most likely period of a record and how likely noise alone shows one as strong.</summary>
/// <param name="PeriodSeconds">In seconds.</param>
/// <param name="StandardError">Of the period in seconds, if it is one.</param>
/// <param name="Lower">Lower end of its interval in seconds.</param>
/// <param name="Upper">Upper end in seconds.</param>
/// <param name="FalseAlarm">Probability that noise of this correlation alone makes a peak as high anywhere in the range, 0 … 1.</param>
/// <param name="Power">1 − e^(−LR/n) of the best sinusoid, LR its likelihood ratio in correlated noise: 0 … 1, for white noise the generalised power.</param>
/// <param name="PeakToPeak">Greatest minus least of the fitted wave, all harmonics together, in the values' unit.</param>
/// <param name="Harmonics">Amplitudes of the fundamental and its multiples as far as they are worth fitting, in the values' unit.</param>
/// <param name="Correlation">ρ of the noise from one typical step to the next.</param>
/// <param name="Cycles">How many periods the record holds.</param>
public sealed record Periodicity(
    double PeriodSeconds,
    double StandardError,
    double Lower,
    double Upper,
    double FalseAlarm,
    double Power,
    double PeakToPeak,
    IReadOnlyList<double> Harmonics,
    double Correlation,
    double Cycles)
{
    /// <summary>Whether a period may be claimed at a level of false alarms.</summary>
    public bool IsClaimed(double level = 0.05) => FalseAlarm <= level;
}

/// <summary>
/// Finds a period in unevenly sampled values: the highest generalised Lomb-Scargle power between two periods. Slow noise is strong at long
/// periods and makes peaks there that the usual false-alarm probability takes for real; here the noise is taken as first-order
/// autoregressive, its ρ found by restricted likelihood with the candidate's harmonics taken out, values and sinusoids are
/// whitened by it to find the peak, and Baluev's bound is asked of the likelihood ratio between noise with the sinusoid and noise
/// alone, each with its own ρ (this folder's README has what this and the usual way give under red noise).
/// A wave that isn't sinusoidal, such as the sawtooth of a compressor that cycles, is fitted with harmonics (Palmer, 'A fast chi-squared
/// technique for period search of irregularly sampled data', ApJ 695, 2009); where two or three times the period explains
/// far more, that is taken. Period and error: least squares in all parameters, linearised (Gauss and Newton).
/// </summary>
public static class PeriodFinder
{
    /// <summary>Fewer independent points than this have not been shown to give honest answers.</summary>
    public const double LeastEffectivePoints = 30;

    /// <summary>A period must be seen three times to be told from a drift and back. Source: common practice, no source.</summary>
    public const double LeastCycles = 3;

    /// <summary>An F of this much, each for two more parameters, makes a longer period the better one: p ≈ 1e-6 for large n.</summary>
    private const double SubharmonicF = 14;

    /// <param name="times">In seconds, rising.</param>
    /// <param name="values">As many, in their unit.</param>
    /// <param name="shortestPeriod">In seconds; half of it should be longer than the sampling step.</param>
    /// <param name="longestPeriod">In seconds; searched up to a third of the record at most.</param>
    /// <param name="harmonics">Fundamental and multiples fitted at most, 1 or more.</param>
    /// <param name="confidence">Of the period's interval.</param>
    /// <returns>A shortfall where the record is too short for the shortest period, has too few independent points or no two values that differ.</returns>
    /// <exception cref="ArgumentException">Lengths differ, a number is not finite, times don't rise, or the periods are no range.</exception>
    public static Answer<Periodicity> Find(
        ReadOnlySpan<double> times,
        ReadOnlySpan<double> values,
        double shortestPeriod,
        double longestPeriod,
        int harmonics = 4,
        double confidence = 0.95)
    {
        Traces.Check(times, values);
        Traces.CheckConfidence(confidence);
        ArgumentOutOfRangeException.ThrowIfLessThan(harmonics, 1);
        _ = FrequencyGrid.Between(shortestPeriod, longestPeriod, 1);
        if (times.Length < LeastEffectivePoints)
        {
            return new Shortfall("points", times.Length, LeastEffectivePoints);
        }

        if (LombScargle.Lacking(values) is { } missing)
        {
            return missing;
        }

        double length = times[^1] - times[0];
        double longest = Math.Min(longestPeriod, length / LeastCycles);
        if (longest <= shortestPeriod)
        {
            return new Shortfall("s of record", length, LeastCycles * shortestPeriod);
        }

        var grid = FrequencyGrid.Between(shortestPeriod, longest, length);
        var noise = new CorrelatedNoise(times);
        double rho = 0;
        double power = 0;
        double frequency = 0;
        for (int round = 0; round < 3; round++)
        {
            double[] powers = LombScargle.Whitened(times, values, grid, noise, rho);
            int peak = Array.IndexOf(powers, powers.Max());
            (power, frequency) = Refine(times, values, grid, peak, noise, rho);
            if (round < 2)
            {
                var wave = new HarmonicWave(times, values, noise, Usable(harmonics, frequency, grid));
                rho = wave.Correlation(frequency) ?? rho;
            }
        }

        double effective = Autocorrelation.EffectiveSampleSize(times.Length, rho);
        if (effective < LeastEffectivePoints)
        {
            return new Shortfall("independent points", effective, LeastEffectivePoints);
        }

        // With the correlation that suits the wave, noise without a wave looks worse than it need: each must have its own.
        power = new HarmonicWave(times, values, noise, 1).LikelihoodPower(frequency);

        // Either correlation is estimated from so many independent points, which makes the ratio a little too great: by about
        // this factor, found by simulation (README).
        double allowed = 1 - Math.Pow(1 - power, 1 - (2 / effective));
        double alarm = FalseAlarm.OfHighest(allowed, times, grid.Last - grid.First);
        frequency = Longer(times, values, noise, rho, frequency, harmonics, grid) ?? frequency;
        int worth = Worth(times, values, noise, rho, frequency, Usable(harmonics, frequency, grid));
        if (new HarmonicWave(times, values, noise, worth).Solve(rho, frequency) is not { } fit)
        {
            return new Shortfall("determined parameters", 0, 1);
        }

        double reach = CorrelatedNoise.Reach(effective, rho, 2 + (2 * worth), confidence) * fit.FrequencyError;
        double period = 1 / fit.Frequency;
        double slowest = Math.Max(fit.Frequency - reach, fit.Frequency / 10);
        return new Periodicity(
            period,
            fit.FrequencyError * period * period,
            1 / (fit.Frequency + reach),
            1 / slowest,
            alarm,
            power,
            fit.PeakToPeak,
            fit.Amplitudes,
            rho,
            length / period);
    }

    /// <summary>Multiples above the grid's end, which sampling may not show, are left out.</summary>
    private static int Usable(int harmonics, double frequency, FrequencyGrid grid) =>
        Math.Clamp((int)Math.Floor(grid.Last / frequency), 1, harmonics);

    /// <summary>
    /// How many harmonics are worth their two parameters each, by Schwarz's criterion (1978): those that only fit noise would seem to sharpen
    /// the period, the h-th as h² does, and make its error too small.
    /// </summary>
    private static int Worth(
        ReadOnlySpan<double> times, ReadOnlySpan<double> values, CorrelatedNoise noise, double rho, double frequency, int most)
    {
        int best = 1;
        double least = double.PositiveInfinity;
        for (int count = 1; count <= most; count++)
        {
            if (new HarmonicWave(times, values, noise, count).Squares(rho, frequency) is not { } squares)
            {
                break;
            }

            double criterion = (times.Length * Math.Log(Math.Max(squares, double.Epsilon))) + (2 * count * Math.Log(times.Length));
            if (criterion < least)
            {
                (best, least) = (count, criterion);
            }
        }

        return best;
    }

    private static (double Power, double Frequency) Refine(
        ReadOnlySpan<double> times, ReadOnlySpan<double> values, FrequencyGrid grid, int peak, CorrelatedNoise noise, double rho)
    {
        // Ten times finer about the peak: the height then is short of the true one by less than a thousandth of itself.
        double first = Math.Max(grid.First, grid.At(peak) - grid.Step);
        var fine = new FrequencyGrid(first, grid.Step / 10, 21);
        double[] powers = LombScargle.Whitened(times, values, fine, noise, rho);
        int at = Array.IndexOf(powers, powers.Max());
        return (powers[at], fine.At(at));
    }

    /// <summary>Half or a third of a frequency, where its harmonics explain far more than the frequency's own do.</summary>
    private static double? Longer(
        ReadOnlySpan<double> times, ReadOnlySpan<double> values, CorrelatedNoise noise, double rho, double frequency, int harmonics, FrequencyGrid grid)
    {
        int own = Usable(harmonics, frequency, grid);
        if (new HarmonicWave(times, values, noise, own).Squares(rho, frequency) is not { } before)
        {
            return null;
        }

        foreach (int factor in (int[])[2, 3])
        {
            double lower = frequency / factor;
            int count = Math.Min(own * factor, Usable(own * factor, lower, grid));
            int added = 2 * (count - own);
            int left = times.Length - (2 * count) - 1;
            if (lower < grid.First || added < 2 || left < LeastEffectivePoints || new HarmonicWave(times, values, noise, count).Squares(rho, lower) is not { } after)
            {
                continue;
            }

            if ((before - after) / added > SubharmonicF * after / left)
            {
                return lower;
            }
        }

        return null;
    }
}
