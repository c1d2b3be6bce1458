using System.Globalization;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Statistics;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Watch.Transfers;
using MathNet.Numerics.Statistics;

namespace DriftWatch.Reports.Maintaining;

/// <summary>What the book of transfers says of a collection: hours of the head wheel, steps that were written down, and each recording's geometry.</summary>
internal static class MaintenanceTapes
{
    /// <summary>A deviation of two says all but nothing. Source: common practice, no source.</summary>
    private const int LeastTapes = 3;

    /// <summary>The median and its deviation of fewer would be those of one or two machines. Source: common practice, no source.</summary>
    private const int LeastToCompare = 5;

    /// <summary>
    /// Published: Iglewicz and Hoaglin (1993), 'How to Detect and Handle Outliers', as told in the NIST/SEMATECH e-Handbook of Statistical Methods,
    /// section 1.3.5.17: beyond 3.5 times 1.4826 (their 1/0.6745) median absolute deviations from the median.
    /// </summary>
    private const double FarScore = 3.5;

    private static readonly QuantityKind[] Geometry = [QuantityKind.Skew, QuantityKind.Scallop, QuantityKind.HeadStep, QuantityKind.AsyncResidual];

    public static HourMeter HoursOf(MaintenanceFacts facts)
    {
        CheckDefinition[] items = [.. facts.Procedures.Checks.Items.Where(i => i.Proof == ProofKind.HeadHours)];
        List<HourReading> all =
        [
            .. Passes(facts).SelectMany(p => p.Pass.Entries.Where(e => e.Body is CheckSigned { Value: not null } check && Array.Exists(items, i => i.Key == check.Check))
                    .Select(e => new HourReading(e.AboutUtc, ((CheckSigned)e.Body).Value!.Value, e.By, p.Tape)))
                .Where(r => r.Utc < facts.Span.ToUtc).OrderBy(r => r.Utc),
        ];
        int before = all.FindLastIndex(r => r.Utc < facts.Span.FromUtc);
        CheckDefinition? limit = Array.Find(items, i => i.Limit is not null);
        return new HourMeter([.. all.Skip(Math.Max(0, before))], limit?.Limit, limit?.Source, all.Count == 0 ? null : facts.RanSince);
    }

    /// <summary>Every value that was written down at these steps in the span, oldest first.</summary>
    public static IEnumerable<WrittenStep> Steps(MaintenanceFacts facts, params string[] keys) => Passes(facts)
        .SelectMany(p => StepsOf(facts, p.Pass, p.Tape, keys)).Where(s => s.Utc >= facts.Span.FromUtc && s.Utc < facts.Span.ToUtc).OrderBy(s => s.Utc);

    /// <summary>The line-up baseline of each transfer of the span that tells any geometry: a person's where there is one, the last of them.</summary>
    public static IEnumerable<TapeGeometry> Of(MaintenanceFacts facts, List<TakenBaseline> baselines)
    {
        foreach (IGrouping<string, TakenBaseline> taken in baselines.Where(b => b.Transfer is not null).GroupBy(b => b.Transfer!, StringComparer.Ordinal))
        {
            TakenBaseline baseline = taken.LastOrDefault(b => b.Standing == BaselineStanding.Confirmed) ?? taken.Last();
            List<GeometryValue> values =
            [
                .. facts.Bench.Quantities.Where(q => Geometry.Contains(q.Kind)).OrderBy(q => Array.IndexOf(Geometry, q.Kind)).ThenBy(q => q.Head)
                    .SelectMany(q => baseline.Values.Where(v => v.Channel == q.Id).Select(v => new GeometryValue(q.Id, q.Label, v.Unit, v.Value, v.StandardError, v.Count))),
            ];
            BookTransfer? transfer = Guid.TryParse(taken.Key, out Guid id) ? facts.Book.Transfer(id) : null;
            string tape = transfer is null ? "not in the book" : facts.Book.Tape(transfer.Tape)!.Now.Identifier;
            List<WrittenStep> steps = [.. (transfer?.Passes ?? []).SelectMany(p => StepsOf(facts, p, tape, ["guide-height", "guide-penetration"]))];
            if (values.Count > 0)
            {
                yield return new TapeGeometry(baseline.UtcNanoseconds, tape, taken.Key, values, steps);
            }
        }
    }

    public static IEnumerable<GeometrySpread> SpreadOf(IReadOnlyList<TapeGeometry> tapes)
    {
        foreach (IGrouping<string, GeometryValue> same in tapes.SelectMany(t => t.Values).GroupBy(v => v.Id, StringComparer.Ordinal))
        {
            GeometryValue[] all = [.. same];
            double[] errors = [.. all.Select(v => v.StandardError).OfType<double>()];
            yield return new GeometrySpread(
                same.Key, all[0].Label, all[0].Unit, all.Length,
                all.Length < LeastTapes ? new Shortfall("tapes", all.Length, LeastTapes) : all.Select(v => v.Value).StandardDeviation(),
                errors.Length == 0 ? null : Math.Sqrt(errors.Average(e => e * e)));
        }
    }

    /// <summary>
    /// The tips of the wheel that recorded are on the tape, and no line-up takes them away: a head step far from the others' is its recorder's.
    /// </summary>
    public static Answer<List<StandingOutTape>> StandingOut(IReadOnlyList<TapeGeometry> tapes, BenchDefinition bench)
    {
        string[] ids = [.. bench.Quantities.Where(q => q.Kind == QuantityKind.HeadStep).Select(q => q.Id)];
        List<(TapeGeometry Tape, GeometryValue Step)> all = [.. tapes.SelectMany(t => t.Values.Where(v => ids.Contains(v.Id)).Select(v => (t, v)))];
        int told = all.Select(a => a.Tape.Transfer).Distinct().Count();
        if (told < LeastToCompare)
        {
            return new Shortfall("tapes with head steps", told, LeastToCompare);
        }

        List<StandingOutTape> far =
        [
            .. all.GroupBy(a => a.Step.Id, StringComparer.Ordinal).Where(same => same.Count() >= LeastToCompare).SelectMany(Far).OrderBy(o => o.Tape.Utc).ThenBy(o => Array.IndexOf(ids, o.Step.Id)),
        ];
        return far;
    }

    private static IEnumerable<StandingOutTape> Far(IEnumerable<(TapeGeometry Tape, GeometryValue Step)> same)
    {
        double[] values = [.. same.Select(s => s.Step.Value)];
        (double usual, double scale) = RobustScale.MadInPlace(values);
        foreach ((TapeGeometry tape, GeometryValue step) in same)
        {
            // What one is known to counts too: recordings of one machine may agree better than a single half minute does.
            double deviation = Math.Sqrt((scale * scale) + ((step.StandardError ?? 0) * (step.StandardError ?? 0)));
            double score = deviation > 0 ? Math.Abs(step.Value - usual) / deviation : 0;
            if (score > FarScore)
            {
                yield return new StandingOutTape(tape, step, usual, score);
            }
        }
    }

    private static IEnumerable<WrittenStep> StepsOf(MaintenanceFacts facts, BookPass pass, string tape, string[] keys) => pass.Steps
        .Where(s => keys.Contains(s.Body.Step) && s.Body is { IsDone: true } && (s.Body.Before ?? s.Body.After) is not null)
        .Select(s =>
        {
            LineUpStepDefinition? step = facts.Procedures.LineUp.Steps.FirstOrDefault(d => d.Key == s.Body.Step);
            return new WrittenStep(
                s.Entry.AboutUtc, string.Create(CultureInfo.InvariantCulture, $"{tape}, pass {pass.Number}"), s.Body.Step, step?.Text ?? s.Body.Step, s.Body.Tolerance?.Unit ?? step?.Unit,
                s.Body.Before?.Value, s.Body.After?.Value, (s.Body.After ?? s.Body.Before)!.IsByHand, s.Body.Turned);
        });

    private static IEnumerable<(BookPass Pass, string Tape)> Passes(MaintenanceFacts facts) =>
        facts.Book.Transfers.SelectMany(t => t.Passes.Select(p => (p, facts.Book.Tape(t.Tape)!.Now.Identifier)));
}
