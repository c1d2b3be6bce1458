using System.Globalization;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Storage;

namespace DriftWatch.Web.Api;

/// <summary>
/// How the store of a bench does, in bytes and UTC. <c>Standing</c>: good, trouble (something is not stored, or a file is damaged) or unknown (its disk can't be
/// looked at); <c>Says</c> the same in a sentence. <c>KeepsRawMonths</c> and <c>KeepsRollupMonths</c> are null where all is kept. <c>Checked</c> is null before closed
/// months were first verified; <c>Damaged</c> are names of files.
/// </summary>
internal sealed record StoreAnswer(
    string Bench,
    string Standing,
    string Says,
    long LastInput,
    long ReadingsHeldInMemory,
    long LateReadings,
    long DroppedReadings,
    long? Bytes,
    long? FreeBytes,
    long? FloorBytes,
    int? KeepsRawMonths,
    int? KeepsRollupMonths,
    IReadOnlyList<string> Months,
    string? RecordsCopied,
    string? RecordsRestored,
    IReadOnlyList<string> SetAside,
    string? Checked,
    IReadOnlyList<string> Damaged)
{
    public static StoreAnswer Of(IBenchView view)
    {
        StoreHealth store = view.StoreHealth;
        HealthReport health = view.Health;
        StoreFacts? facts = store.Facts;
        string[] damaged = [.. store.LastCheck?.Problems.Select(p => Path.GetFileName(p.Path)) ?? []];
        (string standing, string says) = Stand(health, facts, damaged);
        return new StoreAnswer(
            view.Bench.Id,
            standing,
            says,
            store.LastInput,
            health.ReadingsHeldInMemory,
            health.LateReadings,
            health.DroppedReadings,
            facts?.Bytes,
            facts?.FreeBytes,
            facts?.FloorBytes,
            facts?.RawMonths,
            facts?.RollupMonths,
            facts?.Months ?? [],
            facts?.RecordsCopied is { } copied ? Utc(copied) : null,
            facts?.RecordsRestored,
            facts?.SetAside ?? [],
            store.LastCheck is { } check ? Utc(check.At) : null,
            damaged);
    }

    private static (string Standing, string Says) Stand(HealthReport health, StoreFacts? facts, string[] damaged) =>
        health.StoreTrouble is { } trouble ? ("trouble", $"What comes now is not stored but held in memory: {trouble}")
        : health.DroppedReadings > 0 ? ("trouble", $"{health.DroppedReadings.ToString(CultureInfo.InvariantCulture)} readings were lost because memory was full while the disk took nothing.")
        : damaged.Length > 0 ? ("trouble", $"Found damaged when last verified: {string.Join(", ", damaged)}. Put a backup in its place.")
        : facts is null ? ("unknown", "The folder of the store can't be looked at.")
        : facts.SetAside.Count > 0 || facts.RecordsRestored is not null ? ("trouble", "A file was found damaged when the store was opened; what is known of it stands below.")
        : ("good", "What comes is stored, and no file is known to be damaged.");

    private static string Utc(DateTimeOffset at) => UtcText.FromNanoseconds((at - DateTimeOffset.UnixEpoch).Ticks * TimeSpan.NanosecondsPerTick);
}
