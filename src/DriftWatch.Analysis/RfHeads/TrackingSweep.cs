using DriftWatch.Analysis.Calibrating;
using MathNet.Numerics.Distributions;

namespace DriftWatch.Analysis.RfHeads;

/// <summary>Where to set the tracking control. Positions in the unit of the sweep, losses in dB against each head's own peak.</summary>
/// <param name="Setting">Where to set it.</param>
/// <param name="Lower">Lower limit of the setting at the confidence asked for.</param>
/// <param name="Upper">Upper limit.</param>
/// <param name="HeadsDisagree">Peaks differ by more than their errors: the heads sit at different heights on the wheel.</param>
/// <param name="PValue">How often equal heads would differ so much.</param>
/// <param name="LossDb">What each head loses there; missing where its peak is.</param>
/// <param name="WorstHead">The head that loses most, 1 to 4; 0 where the heads agree.</param>
/// <param name="Heads">How many heads had a peak.</param>
public readonly record struct TrackingSetting(
    double Setting, double Lower, double Upper, bool HeadsDisagree, double PValue, FourHeads LossDb, int WorstHead, int Heads);

/// <summary>What a sweep of the tracking control says: each head's peak, and where to set it.</summary>
/// <param name="Peaks">Of heads 1 to 4; a shortfall where the head is missing or its peak can't be told.</param>
/// <param name="Setting">A shortfall where no head has a peak.</param>
public sealed record TrackingAdvice(IReadOnlyList<Answer<TrackingPeakFit>> Peaks, Answer<TrackingSetting> Setting);

/// <summary>
/// The tracking aid. Peaks that agree are averaged, each by its own error. Peaks that don't (Cochran's Q of the peaks, 'The combination of
/// estimates from different experiments', Biometrics 10, 1954, as an F test) mean heads of unequal height, and then the mean serves nobody: the
/// setting is the one at which the worst head loses least (derived).
/// </summary>
public static class TrackingSweep
{
    /// <param name="positions">Of the control.</param>
    /// <param name="levelsDb">As many sets of levels, dB; heads may be missing.</param>
    /// <param name="milPerUnit">As for <see cref="TrackingPeak.Fit"/>.</param>
    /// <param name="confidence">Of all intervals, two-sided; heads disagree at the rest.</param>
    /// <exception cref="ArgumentException">Lengths differ, a position is not finite, or the scale is not above zero.</exception>
    public static TrackingAdvice Read(
        IReadOnlyList<double> positions, IReadOnlyList<FourHeads> levelsDb, double? milPerUnit = 1, double confidence = 0.95)
    {
        ArgumentNullException.ThrowIfNull(positions);
        ArgumentNullException.ThrowIfNull(levelsDb);
        if (positions.Count != levelsDb.Count)
        {
            throw new ArgumentException($"As many levels as positions are needed: {positions.Count} positions, {levelsDb.Count} levels.", nameof(levelsDb));
        }

        var peaks = new Answer<TrackingPeakFit>[FourHeads.Count];
        for (int head = 1; head <= FourHeads.Count; head++)
        {
            int[] there = [.. Enumerable.Range(0, positions.Count).Where(i => levelsDb[i][head] is not null)];
            peaks[head - 1] = TrackingPeak.Fit(
                [.. there.Select(i => positions[i])], [.. there.Select(i => levelsDb[i][head]!.Value)], milPerUnit, confidence);
        }

        return new TrackingAdvice(peaks, Advise(peaks, confidence));
    }

    private static Answer<TrackingSetting> Advise(Answer<TrackingPeakFit>[] peaks, double confidence)
    {
        TrackingPeakFit[] known = [.. peaks.Where(p => p.IsKnown).Select(p => p.Value)];
        if (known.Length == 0)
        {
            return new Shortfall("heads with a peak", 0, 1);
        }

        double weights = known.Sum(Weight);
        double mean = known.Sum(p => Weight(p) * p.Position) / weights;
        double p = 1;
        if (known.Length > 1)
        {
            double q = known.Sum(k => Weight(k) * (k.Position - mean) * (k.Position - mean)) / (known.Length - 1);
            p = 1 - FisherSnedecor.CDF(known.Length - 1, known.Sum(k => k.DegreesOfFreedom), q);
        }

        bool disagree = p < 1 - confidence;
        double setting = mean;
        Uncertain u = Coverage.Combine(mean, [.. known.Select(k => (Weight(k) / weights * k.StandardError, (double)k.DegreesOfFreedom))]);
        if (disagree)
        {
            TrackingPeakFit first = known.MinBy(k => k.Position);
            TrackingPeakFit last = known.MaxBy(k => k.Position);
            
            // Heads are equally wide, so the outermost two lose alike in the middle between them, and the others less.
            setting = (first.Position + last.Position) / 2;
            u = Coverage.Combine(setting, (first.StandardError / 2, first.DegreesOfFreedom), (last.StandardError / 2, last.DegreesOfFreedom));
        }

        double?[] loss = [.. peaks.Select(k => k.IsKnown ? Math.Min(k.Value.LossDb(setting), 200) : (double?)null)];
        int worst = disagree ? 1 + Array.IndexOf(loss, loss.Max()) : 0;
        double reach = u.Expanded(confidence);
        return new TrackingSetting(
            setting, setting - reach, setting + reach, disagree, p, new FourHeads(loss[0], loss[1], loss[2], loss[3]), worst, known.Length);
    }

    /// <summary>A perfect record has no error; something far below any dial stands for it.</summary>
    private static double Weight(TrackingPeakFit peak) => 1 / Math.Max(peak.StandardError * peak.StandardError, 1e-24 * peak.Width * peak.Width);
}
