using MathNet.Numerics;

namespace DriftWatch.Analysis.Events;

/// <summary>
/// How likely noise alone makes a peak: for generalised powers p (0 … 1) of n points of white normal noise. One frequency:
/// (1−p)^((n−3)/2). The highest of a range: Baluev's bound from the theory of extremes, 'Assessing the statistical
/// significance of periodogram peaks', MNRAS 385 (2008), 1 − (1−single)·e^(−τ) with
/// τ = γ(n−1)·W·(1−p)^((n−4)/2)·√((n−1)p/2), W = range of frequency × √(4π·var t), γ(m) = √(2/m)·Γ(m/2)/Γ((m−1)/2): an upper
/// bound, close where it is small. Under red noise neither holds for plain powers: see <see cref="PeriodFinder"/>.
/// </summary>
public static class FalseAlarm
{
    /// <summary>At one frequency chosen beforehand.</summary>
    /// <param name="power">0 … 1.</param>
    /// <param name="points">n, 5 or more.</param>
    /// <exception cref="ArgumentException">A power outside 0 … 1 or fewer points.</exception>
    public static double AtOneFrequency(double power, int points)
    {
        Check(power, points);
        return Math.Pow(1 - power, (points - 3) / 2.0);
    }

    /// <summary>Of the highest power from frequency 0 to <paramref name="rangeHz"/>, or over a range that wide.</summary>
    /// <param name="power">The highest, 0 … 1.</param>
    /// <param name="times">All points' times in seconds, any order.</param>
    /// <param name="rangeHz">Width of the range searched, 0 or more.</param>
    /// <exception cref="ArgumentException">A power outside 0 … 1, fewer than 5 points, or a range below 0.</exception>
    public static double OfHighest(double power, ReadOnlySpan<double> times, double rangeHz)
    {
        Check(power, times.Length);
        if (!(rangeHz >= 0) || !double.IsFinite(rangeHz))
        {
            throw new ArgumentException("A range of frequencies is 0 Hz or wider.", nameof(rangeHz));
        }

        int n = times.Length;
        double single = AtOneFrequency(power, n);
        double width = rangeHz * Math.Sqrt(4 * Math.PI * Variance(times));
        double gamma = Math.Sqrt(2.0 / (n - 1)) * Math.Exp(SpecialFunctions.GammaLn((n - 1) / 2.0) - SpecialFunctions.GammaLn((n - 2) / 2.0));
        double tau = gamma * width * Math.Pow(1 - power, (n - 4) / 2.0) * Math.Sqrt((n - 1) * power / 2);

        // 1 − (1−a)·e^(−τ) without loss where both are tiny.
        return Math.Clamp(single - ((1 - single) * ExpM1(-tau)), 0, 1);
    }

    /// <summary>
    /// The same by shuffling the values among their times: the share of shuffled records whose highest power reaches that of the
    /// record, counting the record itself, so never 0. It asks nothing of the noise's distribution but takes its correlation away.
    /// </summary>
    /// <param name="times">In seconds, rising.</param>
    /// <param name="values">As many.</param>
    /// <param name="grid">Which frequencies.</param>
    /// <param name="rounds">How many shuffles; 1/rounds is the least that can come out.</param>
    /// <param name="random">The caller's generator, so that the answer can be had again.</param>
    /// <inheritdoc cref="LombScargle.Generalised"/>
    public static Answer<double> ByShuffling(
        ReadOnlySpan<double> times, ReadOnlySpan<double> values, FrequencyGrid grid, int rounds, Random random)
    {
        ArgumentNullException.ThrowIfNull(random);
        ArgumentOutOfRangeException.ThrowIfLessThan(rounds, 1);
        Answer<double[]> power = LombScargle.Generalised(times, values, grid);
        if (!power.IsKnown)
        {
            return power.Missing!;
        }

        double highest = power.Value.Max();
        double[] shuffled = values.ToArray();
        int reached = 1;
        for (int round = 0; round < rounds; round++)
        {
            random.Shuffle(shuffled);
            reached += LombScargle.Generalised(times, shuffled, grid).Value.Max() >= highest ? 1 : 0;
        }

        return reached / (rounds + 1.0);
    }

    private static double ExpM1(double x) => Math.Abs(x) < 1e-5 ? x * (1 + (x / 2)) : Math.Exp(x) - 1;

    private static void Check(double power, int points)
    {
        if (!(power is >= 0 and <= 1))
        {
            throw new ArgumentException("A power lies between 0 and 1.", nameof(power));
        }

        if (points < 5)
        {
            throw new ArgumentException("The formula needs 5 points.", nameof(points));
        }
    }

    private static double Variance(ReadOnlySpan<double> times)
    {
        double sum = 0, squares = 0;
        foreach (double time in times)
        {
            double t = time - times[0];
            sum += t;
        }

        double mean = sum / times.Length;
        foreach (double time in times)
        {
            double t = time - times[0] - mean;
            squares += t * t;
        }

        return squares / times.Length;
    }
}
