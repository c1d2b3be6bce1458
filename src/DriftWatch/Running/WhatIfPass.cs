using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Watch;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Alarms.WhatIf;

namespace DriftWatch.Running;

/// <summary>What a second judgement gave: all alarms of both held against each other, and the book of the second.</summary>
internal sealed record WhatIfResult(IReadOnlyList<ComparedAlarm> Alarms, IReadOnlyList<AlarmTransition> Would, long Inputs, IReadOnlyList<string> Notices)
{
    public int Count(AlarmFate fate) => Alarms.Count(a => a.Fate == fate);
}

/// <summary>
/// Judges readings twice in one pass, as they were judged and as another bench would judge them. Both begin with nothing known,
/// so that what differs between them comes from the bench alone; alarms that need an older baseline come in neither.
/// </summary>
internal static class WhatIfPass
{
    /// <summary>Read before the span that is asked about, for baselines and drifts to be there. Source: derived, a baseline is taken after minutes and a drift is told within the hour.</summary>
    public static readonly TimeSpan Lead = TimeSpan.FromHours(2);

    private const int ProgressEvery = 16_384;

    /// <param name="source">The readings with the benches that were in force; the caller disposes of it.</param>
    /// <param name="change">From a bench that was in force to the one that judges instead.</param>
    /// <param name="span">Only alarms that came, or would have come, in it; null: all.</param>
    /// <param name="progress">0 to 1.</param>
    /// <param name="breathe">Called now and then, for whoever must leave the processor to others.</param>
    /// <param name="cancel">Ends it.</param>
    public static WhatIfResult Run(
        IInputSource source,
        Func<BenchDefinition, BenchDefinition> change,
        UtcStretch? span,
        IProgress<double>? progress = null,
        Action? breathe = null,
        CancellationToken cancel = default)
    {
        var asWas = new WatchEngine();
        var asWould = new WatchEngine();
        var was = new List<AlarmTransition>();
        var would = new List<AlarmTransition>();
        var findings = new List<FindingLine>();
        long inputs = 0;
        while (source.TryRead(out EngineInput input))
        {
            asWas.Apply(input, findings, was);
            asWould.Apply(input.Kind == InputKind.Bench ? input with { Payload = change(input.Bench) } : input, findings, would);
            findings.Clear();
            if (++inputs % ProgressEvery == 0)
            {
                progress?.Report(source.Progress);
                breathe?.Invoke();
                cancel.ThrowIfCancellationRequested();
            }
        }

        cancel.ThrowIfCancellationRequested();
        progress?.Report(1);
        return new WhatIfResult(
            AlarmComparison.Of(was, would, span), [.. would.Where(l => span is not { } s || (l.AtUtc >= s.FromUtc && l.AtUtc < s.ToUtc))], inputs, source.Notices);
    }
}
