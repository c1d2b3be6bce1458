using System.Globalization;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Storage.Queries;

namespace DriftWatch.Calibrating;

/// <summary>One calibration that a store knows of.</summary>
/// <param name="Channel">As the bench file of its day describes it.</param>
/// <param name="Calibration">With its document, where it was made by a sheet.</param>
/// <param name="ValidFromUtc">From when it holds, nanoseconds since 1970; null where that is the beginning of the store.</param>
/// <param name="IsInForce">By which readings are turned now.</param>
internal sealed record CalibrationRow(ChannelDefinition Channel, Calibration Calibration, long? ValidFromUtc, bool IsInForce)
{
    public CalibrationDocument? Document { get; } = CalibrationDocument.Of(Calibration);

    public string? Due => Calibration.Due?.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
}

/// <summary>Everything that ever turned a bench's readings: the bench files' own calibrations and those that were entered.</summary>
internal static class CalibrationHistory
{
    /// <returns>In the order of the newest bench file's channels, then by version; channels that are gone last.</returns>
    public static IReadOnlyList<CalibrationRow> Of(BenchReader reader)
    {
        IReadOnlyList<StoredBench> benches = reader.BenchVersions();
        AnchorTable anchors = reader.ReadAnchors();
        var channels = new Dictionary<int, ChannelDefinition>();
        var found = new Dictionary<(int Key, int Version), (ChannelDefinition Channel, Calibration Calibration, long? From)>();
        foreach (StoredBench stored in benches)
        {
            foreach (ChannelDefinition channel in stored.Bench.Channels)
            {
                bool isFirst = !channels.ContainsKey(channel.Key);
                channels[channel.Key] = channel;
                long? from = isFirst || anchors.Anchors.Count == 0 ? null : anchors.ToUtcNanoseconds(stored.At);
                found[(channel.Key, channel.Calibration.Version)] = found.TryGetValue((channel.Key, channel.Calibration.Version), out var known)
                    ? (channel, channel.Calibration, known.From) // a later file may have given it a note or a due date
                    : (channel, channel.Calibration, from);
            }
        }

        foreach (StoredCalibration stored in reader.Calibrations())
        {
            if (channels.TryGetValue(stored.Channel, out ChannelDefinition? channel))
            {
                long? from = stored.Calibration.ValidFromUtcNanoseconds ?? (anchors.Anchors.Count == 0 ? null : anchors.ToUtcNanoseconds(stored.At));
                found[(stored.Channel, stored.Calibration.Version)] = (channel, stored.Calibration, from);
            }
        }

        CalibrationTable table = CalibrationTable.Of(reader);
        List<int> order = benches.Count == 0 ? [] : [.. benches[^1].Bench.Channels.Select(c => c.Key)];
        return
        [
            .. found.OrderBy(f => order.IndexOf(f.Key.Key) is var place and >= 0 ? place : int.MaxValue).ThenBy(f => f.Key.Key).ThenBy(f => f.Key.Version)
                .Select(f => new CalibrationRow(f.Value.Channel, f.Value.Calibration, f.Value.From, table[f.Key.Key].Version == f.Key.Version)),
        ];
    }

    /// <summary>
    /// By which each channel of a bench is turned at an instant: of those that hold by then the newest, whether a bench file brought it or a person entered it.
    /// Channels of which the store knows none are left out.
    /// </summary>
    /// <param name="all">As <see cref="Of"/> gives them.</param>
    /// <param name="bench">Whose channels.</param>
    /// <param name="utc">Nanoseconds since 1970.</param>
    public static IEnumerable<CalibrationRow> InForceAt(IReadOnlyList<CalibrationRow> all, BenchDefinition bench, long utc) =>
        bench.Channels.Select(c => all.LastOrDefault(r => r.Channel.Key == c.Key && !(r.ValidFromUtc > utc))).OfType<CalibrationRow>();
}
