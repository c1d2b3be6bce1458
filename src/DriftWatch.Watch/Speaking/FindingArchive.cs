using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Watch.Snapshots;

namespace DriftWatch.Watch.Speaking;

/// <summary>A finding that lasts, to and from a snapshot.</summary>
internal static class FindingArchive
{
    /// <param name="archive">Where to.</param>
    /// <param name="finding">The finding to write; null when reading.</param>
    public static OpenFinding Sync(StateArchive archive, OpenFinding? finding)
    {
        FindingLine? line = finding?.Line;
        string? id = line?.Id;
        FindingPhase phase = line?.Phase ?? default;
        long input = line?.Input ?? 0;
        string? bench = line?.Bench;
        string? benchHash = line?.BenchHash;
        string? kind = line?.Kind;
        string? channel = line?.Channel;
        Severity severity = line?.Severity ?? default;
        EngineTime start = line?.Start ?? default;
        EngineTime raisedAt = line?.RaisedAt ?? default;
        long startUtc = line?.StartUtc ?? 0;
        long raisedUtc = line?.RaisedUtc ?? 0;
        double? value = line?.Value;
        double? limit = line?.Limit;
        string? unit = line?.Unit;
        string? limitSource = line?.LimitSource;
        string? cause = line?.Cause;
        MachineState state = line?.State ?? default;
        string? text = line?.Text;
        TapePlace? onTape = line?.OnTape;
        archive.Sync(ref id);
        archive.Sync(ref phase);
        archive.Sync(ref input);
        archive.Sync(ref bench);
        archive.Sync(ref benchHash);
        archive.Sync(ref kind);
        archive.Sync(ref channel);
        archive.Sync(ref severity);
        archive.Sync(ref start);
        archive.Sync(ref raisedAt);
        archive.Sync(ref startUtc);
        archive.Sync(ref raisedUtc);
        archive.Sync(ref value);
        archive.Sync(ref limit);
        archive.Sync(ref unit);
        archive.Sync(ref limitSource);
        archive.Sync(ref cause);
        archive.Sync(ref state);
        archive.Sync(ref text);
        Sync(archive, ref onTape);
        IReadOnlyList<FindingDetail> details = SyncDetails(archive, line?.Details ?? []);
        IReadOnlyList<FindingDetail> judgeDetails = SyncDetails(archive, finding?.JudgeDetails ?? []);

        EngineTime saidAt = finding?.SaidAt ?? default;
        string? acknowledgedBy = finding?.AcknowledgedBy;
        string? shelvedBy = finding?.ShelvedBy;
        EngineTime? shelvedUntil = finding?.ShelvedUntil;
        archive.Sync(ref saidAt);
        archive.Sync(ref acknowledgedBy);
        archive.Sync(ref shelvedBy);
        archive.Sync(ref shelvedUntil);
        return finding ?? new OpenFinding
        {
            Line = new FindingLine
            {
                Id = id!,
                Phase = phase,
                Input = input,
                Bench = bench!,
                BenchHash = benchHash!,
                Kind = kind!,
                Channel = channel,
                Severity = severity,
                Start = start,
                RaisedAt = raisedAt,
                StartUtc = startUtc,
                RaisedUtc = raisedUtc,
                Value = value,
                Limit = limit,
                Unit = unit,
                LimitSource = limitSource,
                Cause = cause!,
                State = state,
                Text = text!,
                OnTape = onTape,
                Details = details,
            },
            JudgeDetails = judgeDetails,
            SaidAt = saidAt,
            AcknowledgedBy = acknowledgedBy,
            ShelvedBy = shelvedBy,
            ShelvedUntil = shelvedUntil,
        };
    }

    public static void Sync(StateArchive archive, ref TapePlace? place)
    {
        double? seconds = place?.Seconds;
        PositionBasis basis = place?.Basis ?? default;
        archive.Sync(ref seconds);
        archive.Sync(ref basis);
        place = seconds is { } known ? new TapePlace(known, basis) : null;
    }

    private static FindingDetail[] SyncDetails(StateArchive archive, IReadOnlyList<FindingDetail> details)
    {
        var synced = new FindingDetail[archive.SyncCount(details.Count)];
        for (int i = 0; i < synced.Length; i++)
        {
            FindingDetail detail = archive.IsWriting ? details[i] : default;
            string? name = detail.Name;
            double? number = detail.Number;
            string? word = detail.Word;
            archive.Sync(ref name);
            archive.Sync(ref number);
            archive.Sync(ref word);
            synced[i] = new FindingDetail(name!, number, word);
        }

        return synced;
    }
}
