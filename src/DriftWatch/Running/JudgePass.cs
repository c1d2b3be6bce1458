using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Watch;
using DriftWatch.Watch.Drifts;

namespace DriftWatch.Running;

/// <summary>A stream of inputs in the order of judging, from a log, a plain recording or a store.</summary>
public interface IInputSource : IDisposable
{
    /// <summary>How much has been read, 0 to 1.</summary>
    double Progress { get; }

    /// <summary>What a person should know of the recording: truncation, times that run back, unreadable cells.</summary>
    IReadOnlyList<string> Notices { get; }

    bool TryRead(out EngineInput input);
}

/// <summary>What a judge pass did.</summary>
public sealed record JudgeSummary(long Inputs, long Readings, long Faults, long Lines, IReadOnlyDictionary<string, int> RaisedByKind, Severity? Worst)
{
    /// <summary>What used its tolerance fastest at the end; null where nothing is known to use any.</summary>
    public ChannelDrift? Fastest { get; init; }
}

/// <summary>
/// Judges a recording as fast as it can through the same engine as a live run, and writes the same lines, and those of the
/// alarm book where it is given a stream for them. What is still open at the end stays open: its <c>end</c> is null, as it would have been that night.
/// </summary>
public static class JudgePass
{
    private const int ProgressEvery = 65_536;

    public static JudgeSummary Run(
        IInputSource source, Stream output, IProgress<double>? progress = null, Stream? book = null, CancellationToken cancel = default)
    {
        var engine = new WatchEngine();
        var lines = new List<FindingLine>();
        var alarms = new List<AlarmTransition>();
        var raised = new SortedDictionary<string, int>(StringComparer.Ordinal);
        long inputs = 0;
        long readings = 0;
        long faults = 0;
        long written = 0;
        Severity? worst = null;
        IReadOnlyList<Guid>? recalibrated = (source as AppliedBack)?.Ids;
        while (source.TryRead(out EngineInput input))
        {
            engine.Apply(input, lines, alarms);
            inputs++;
            readings += input.Kind is InputKind.Sample or InputKind.Frame ? 1 : 0;
            faults += input.Kind is InputKind.Fault ? 1 : 0;
            if (lines.Count > 0)
            {
                foreach (FindingLine line in lines)
                {
                    FindingJson.Write(output, recalibrated is null ? line : line with { Recalibrated = recalibrated });
                    output.WriteByte((byte)'\n');
                    if (line.Phase == FindingPhase.Raised)
                    {
                        raised[line.Kind] = raised.GetValueOrDefault(line.Kind) + 1;
                    }

                    worst = worst is null || line.Severity > worst ? line.Severity : worst;
                }

                written += lines.Count;
                lines.Clear();
            }

            if (alarms.Count > 0)
            {
                foreach (AlarmTransition line in alarms)
                {
                    book?.Write(AlarmJson.ToUtf8(recalibrated is null ? line : line with { Recalibrated = recalibrated }));
                    book?.WriteByte((byte)'\n');
                }

                alarms.Clear();
            }

            if (inputs % ProgressEvery == 0)
            {
                cancel.ThrowIfCancellationRequested();
                progress?.Report(source.Progress);
            }
        }

        output.Flush();
        book?.Flush();
        progress?.Report(1);
        return new JudgeSummary(inputs, readings, faults, written, raised, worst)
        {
            Fastest = engine.Drifts.FirstOrDefault(d => d.Leaves),
        };
    }
}
