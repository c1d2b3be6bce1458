using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;

namespace DriftWatch.Running;

/// <summary>
/// Buckets of a plot in engineering units, from the store's raw ones. Extremes are exact for any monotonic calibration
/// and means for linear ones; a bent calibration's mean is that of the mean raw value, close where a bucket is narrow.
/// </summary>
internal static class EngineeringBuckets
{
    /// <remarks><paramref name="ofVersion"/> gives the calibration by which what was measured under a version at an instant is to be read.</remarks>
    public static IReadOnlyList<Bucket> Read(
        BenchReader reader, int channel, Func<int, EngineTime, Calibration> ofVersion, EngineTime from, EngineTime to, int count) =>
        Of(reader.ReadBuckets(channel, from, to, count), ofVersion);

    /// <summary>The same of buckets that were read before.</summary>
    public static IReadOnlyList<Bucket> Of(IReadOnlyList<RawBucket> raws, Func<int, EngineTime, Calibration> ofVersion)
    {
        var buckets = new List<Bucket>(raws.Count);
        foreach (RawBucket raw in raws)
        {
            Bucket bucket = Convert(raw, ofVersion(raw.Version, raw.From));
            bool sameSpan = buckets.Count > 0 && buckets[^1].From == bucket.From;
            if (sameSpan)
            {
                buckets[^1] = Join(buckets[^1], bucket);
            }
            else
            {
                buckets.Add(bucket);
            }
        }

        return buckets;
    }

    private static Bucket Convert(in RawBucket raw, Calibration calibration)
    {
        if (raw.Count == 0)
        {
            return new Bucket(raw.From, raw.To, 0, double.NaN, double.NaN, double.NaN, (int)raw.Faults);
        }

        double first = calibration.Convert(raw.Minimum);
        double second = calibration.Convert(raw.Maximum);
        return new Bucket(
            raw.From, raw.To, (int)raw.Count, Math.Min(first, second), Math.Max(first, second),
            calibration.Convert(raw.Sum / raw.Count), (int)raw.Faults);
    }

    private static Bucket Join(in Bucket left, in Bucket right)
    {
        if (left.Count == 0 || right.Count == 0)
        {
            Bucket known = left.Count == 0 ? right : left;
            return known with { Faults = left.Faults + right.Faults };
        }

        int count = left.Count + right.Count;
        return new Bucket(
            left.From, left.To, count, Math.Min(left.Minimum, right.Minimum), Math.Max(left.Maximum, right.Maximum),
            ((left.Mean * left.Count) + (right.Mean * right.Count)) / count, left.Faults + right.Faults);
    }
}
