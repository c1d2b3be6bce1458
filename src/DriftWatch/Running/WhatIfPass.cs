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
        return Held(was, would, span, inputs, source.Notices);
    }

    /// <summary>The same for two feeds of the same readings, of which the second has other calibrations in it; lines of its book name them.</summary>
    /// <param name="asWas">As it was judged; the caller disposes of both.</param>
    /// <param name="asWould">The other.</param>
    /// <param name="span">As above.</param>
    /// <param name="progress">0 to 1.</param>
    /// <param name="cancel">Ends it.</param>
    public static WhatIfResult Run(IInputSource asWas, AppliedBack asWould, UtcStretch? span, IProgress<double>? progress = null, CancellationToken cancel = default)
    {
        List<AlarmTransition> was = AlarmsOf(asWas, new Progress(progress, 0), cancel, out _);
        List<AlarmTransition> would = AlarmsOf(asWould, new Progress(progress, 0.5), cancel, out long inputs);
        return Held(was, [.. would.Select(l => l with { Recalibrated = asWould.Ids })], span, inputs, asWould.Notices);
    }

    private static List<AlarmTransition> AlarmsOf(IInputSource source, Progress progress, CancellationToken cancel, out long inputs)
    {
        var engine = new WatchEngine();
        var alarms = new List<AlarmTransition>();
        var findings = new List<FindingLine>();
        inputs = 0;
        while (source.TryRead(out EngineInput input))
        {
            engine.Apply(input, findings, alarms);
            findings.Clear();
            if (++inputs % ProgressEvery == 0)
            {
                progress.Report(source.Progress);
                cancel.ThrowIfCancellationRequested();
            }
        }

        progress.Report(1);
        return alarms;
    }

    /// <summary>One half of the way.</summary>
    private readonly record struct Progress(IProgress<double>? Of, double From)
    {
        public void Report(double share) => Of?.Report(From + (share / 2));
    }

    private static WhatIfResult Held(List<AlarmTransition> was, List<AlarmTransition> would, UtcStretch? span, long inputs, IReadOnlyList<string> notices) =>
        new(
            AlarmComparison.Of(was, would, span), [.. would.Where(l => span is not { } s || (l.AtUtc >= s.FromUtc && l.AtUtc < s.ToUtc))], inputs, notices);
}
