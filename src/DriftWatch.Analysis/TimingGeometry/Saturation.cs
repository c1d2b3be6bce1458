namespace DriftWatch.Analysis.TimingGeometry;

/// <summary>Samples that stand at the end of what was measured with.</summary>
/// <param name="Clipped">One a sample: true where it is at an end.</param>
/// <param name="Count">How many.</param>
/// <param name="LowNs">The lower end found, or null.</param>
/// <param name="HighNs">The upper end found, or null.</param>
public sealed record ClippedSamples(bool[] Clipped, int Count, double? LowNs, double? HighNs);

/// <summary>
/// Finds samples cut off at a converter's end. With the ends known it is a comparison. Without, the signs are: the greatest (or least)
/// value stands three times or more, at least twice running, and what the other samples lead to expect there lies beyond it.
/// </summary>
public static class Saturation
{
    private const int LeastAtTheEnd = 3;

    /// <summary>Beyond the end by more than so many deviations of the noise, on average over the samples there. Chosen: one sample in 700 does so by chance, several together never.</summary>
    private const double Deviations = 3;

    /// <summary>A sample within this share of the ends' distance counts as at the end: half a step of a 10-bit converter.</summary>
    private const double EndShare = 1.0 / 2048;

    /// <param name="samples">The record.</param>
    /// <param name="ends">The converter's ends in ns where they are known.</param>
    public static ClippedSamples Find(TimingSamples samples, (double LowNs, double HighNs)? ends = null)
    {
        ArgumentNullException.ThrowIfNull(samples);
        var clipped = new bool[samples.Count];
        if (ends is { } known)
        {
            if (!(known.HighNs > known.LowNs))
            {
                throw new ArgumentException($"The ends {known.LowNs} and {known.HighNs} hold nothing between them.", nameof(ends));
            }

            double share = EndShare * (known.HighNs - known.LowNs);
            int low = Mark(samples, clipped, v => v <= known.LowNs + share);
            int high = Mark(samples, clipped, v => v >= known.HighNs - share);
            return new ClippedSamples(clipped, low + high, low > 0 ? known.LowNs : null, high > 0 ? known.HighNs : null);
        }

        (double? low, double? high) found = Unknown(samples);
        int count = Mark(samples, clipped, v => v == found.low || v == found.high);
        return new ClippedSamples(clipped, count, found.low, found.high);
    }

    private static int Mark(TimingSamples samples, bool[] clipped, Func<double, bool> atEnd)
    {
        int count = 0;
        for (int i = 0; i < clipped.Length; i++)
        {
            if (atEnd(samples.ErrorsNs[i]))
            {
                clipped[i] = true;
                count++;
            }
        }

        return count;
    }

    /// <summary>The ends where the values bear their signs.</summary>
    private static (double? Low, double? High) Unknown(TimingSamples samples)
    {
        ReadOnlySpan<double> errors = samples.ErrorsNs;
        double? low = Candidate(errors, -1);
        double? high = Candidate(errors, 1);
        if (low is null && high is null)
        {
            return default;
        }

        // Samples at either end are left out of the fit at once: those of one would spoil what is expected at the other.
        bool[] keep = [.. errors.ToArray().Select(e => e != low && e != high)];
        TimingSamples rest = samples.Where(keep);
        if (TimingDecomposer.For(rest) is not { IsKnown: true } fit)
        {
            return default;
        }

        TimingTerms terms = fit.Value.Decompose(rest.ErrorsNs);
        double least = Math.Max(Deviations * terms.NoiseNs, Quantum(errors));
        return (Beyond(samples, terms, low, -1) > least ? low : null, Beyond(samples, terms, high, 1) > least ? high : null);
    }

    /// <summary>The extreme on this side, if it stands often enough and twice running.</summary>
    private static double? Candidate(ReadOnlySpan<double> errors, int sign)
    {
        double end = errors.Length == 0 ? 0 : errors[0];
        foreach (double error in errors)
        {
            end = sign * error > sign * end ? error : end;
        }

        int at = 0;
        bool twiceRunning = false;
        for (int i = 0; i < errors.Length; i++)
        {
            at += errors[i] == end ? 1 : 0;
            twiceRunning |= i > 0 && errors[i] == end && errors[i - 1] == end;
        }

        return at >= LeastAtTheEnd && twiceRunning && at < errors.Length ? end : null;
    }

    /// <summary>How far beyond the end the rest expects those at the end to be, on average.</summary>
    private static double Beyond(TimingSamples samples, in TimingTerms terms, double? end, int sign)
    {
        double sum = 0;
        int count = 0;
        for (int i = 0; i < samples.Count; i++)
        {
            if (samples.ErrorsNs[i] == end && terms.Has(samples.Heads[i]))
            {
                sum += sign * (terms.At(samples.Heads[i], samples.AnglesDegrees[i]) - samples.ErrorsNs[i]);
                count++;
            }
        }

        return count > 0 ? sum / count : 0;
    }

    /// <summary>The least distance of two different values: the converter's step, if it has one.</summary>
    private static double Quantum(ReadOnlySpan<double> errors)
    {
        double[] sorted = errors.ToArray();
        Array.Sort(sorted);
        double least = double.PositiveInfinity;
        for (int i = 1; i < sorted.Length; i++)
        {
            double step = sorted[i] - sorted[i - 1];
            least = step > 0 ? Math.Min(least, step) : least;
        }

        return double.IsFinite(least) ? least : 0;
    }
}
