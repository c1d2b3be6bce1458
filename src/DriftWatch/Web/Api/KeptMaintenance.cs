using System.Collections.Concurrent;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Maintaining;
using DriftWatch.Running;

namespace DriftWatch.Web.Api;

/// <summary>
/// Months up to now are asked for again and again while a page is open, and reading them costs most of what a bench can be asked. The last answer
/// stands for ten minutes, unless something was found, alarmed or entered since: by then months look no different. Safe from any thread.
/// </summary>
internal sealed class KeptMaintenance
{
    /// <summary>Source: our own choice.</summary>
    private const long StandsNanoseconds = 600L * EngineTime.NanosecondsPerSecond;

    private const long Minute = 60L * EngineTime.NanosecondsPerSecond;

    /// <summary>How many lengths of span are kept; a page offers four.</summary>
    private const int MostKept = 32;

    private readonly ConcurrentDictionary<(string Bench, long Minutes), (Stamp Stamp, long ToUtc, MaintenanceAnswer Answer)> _kept = new();

    /// <exception cref="Storage.StoreException">As the reader throws it.</exception>
    /// <exception cref="InvalidDataException">As the reader throws it.</exception>
    public MaintenanceAnswer Of(IBenchView view, string store, long fromUtc, long toUtc)
    {
        (string, long) key = (view.Bench.Id, (toUtc - fromUtc + (Minute / 2)) / Minute);
        var stamp = new Stamp(view.Bench.SourceHash, view.Transfers?.Kept.Entries.Count ?? 0, view.LatestFindings(1).NextCursor, view.LatestAlarms(1).NextCursor);
        if (_kept.TryGetValue(key, out (Stamp Stamp, long ToUtc, MaintenanceAnswer Answer) last) && last.Stamp == stamp
            && toUtc >= last.ToUtc && toUtc - last.ToUtc < StandsNanoseconds)
        {
            return last.Answer;
        }

        var answer = MaintenanceAnswer.Of(MaintenanceReader.Read(store, fromUtc, toUtc, view.Transfers?.Kept));
        if (_kept.Count >= MostKept)
        {
            _kept.Clear();
        }

        _kept[key] = (stamp, toUtc, answer);
        return answer;
    }

    /// <summary>What changes when anything that an answer tells of was added.</summary>
    private readonly record struct Stamp(string BenchHash, int Entries, long Findings, long Alarms);
}
