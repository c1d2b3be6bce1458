using DriftWatch.Analysis;
using DriftWatch.Analysis.RfHeads;
using DriftWatch.Analysis.Trend;
using DriftWatch.Calibrating;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Diagnosis;
using MathNet.Numerics.Statistics;

namespace DriftWatch.Reports.Maintaining;

/// <summary>Composes a record of maintenance of facts: pure, the same for the same facts. It judges nothing; what can't be told says what is missing.</summary>
internal static class MaintenanceMaker
{
    /// <summary>Quantities of the air side, in the order in which the air takes its way.</summary>
    private static readonly QuantityKind[] AirSide =
    [
        QuantityKind.CompressorDuty, QuantityKind.CompressorPeriod, QuantityKind.SupplyFallRate, QuantityKind.SupplyRiseRate, QuantityKind.AirUse,
        QuantityKind.SupplyHeadroom, QuantityKind.RegulatorEffect, QuantityKind.RegulatedUnrest, QuantityKind.NormalisedVacuum, QuantityKind.ThroatFrostMargin,
    ];

    public static MaintenanceRecord Of(MaintenanceFacts facts)
    {
        ArgumentNullException.ThrowIfNull(facts);
        List<TakenBaseline> baselines = [.. facts.Baselines.Where(b => b.Standing != BaselineStanding.Provisional).OrderBy(b => b.UtcNanoseconds)];
        HourMeter hours = MaintenanceTapes.HoursOf(facts);
        List<TapeGeometry> tapes = [.. MaintenanceTapes.Of(facts, baselines)];
        return new MaintenanceRecord
        {
            Bench = facts.Bench,
            Span = facts.Span,
            WatchedHours = facts.Watched.Sum(w => w.Within(facts.Span).Nanoseconds / 3.6e12),
            TapeHours = TapeHours(facts),
            Baselines = baselines.Count,
            LinesLeftOut = facts.LinesLeftOut,
            Provisional = facts.Baselines.Count - baselines.Count,
            Hours = hours,
            Heads = [.. RfChannels(facts).Select(c => LineOf(baselines, c.Id, c.Label, c.Unit, c.Head) is var line ? line with { PerHundredHours = PerHundredHours(line.Points, hours) } : line)],
            Against = [.. Against(facts, baselines)],
            Equalising = [.. MaintenanceTapes.Steps(facts, "head-matching", "equaliser", "tracking")],
            Air = facts.Air,
            Compressor =
            [
                .. facts.Bench.Quantities.Where(q => AirSide.Contains(q.Kind)).OrderBy(q => Array.IndexOf(AirSide, q.Kind)).Select(q => LineOf(baselines, q.Id, q.Label, q.Unit, null))
                    .Where(l => l.Points.Count > 0),
            ],
            Causes = [.. CausesOf(facts)],
            Sags = SagsOf(facts),
            Tapes = tapes,
            Spread = [.. MaintenanceTapes.SpreadOf(tapes)],
            StandingOut = MaintenanceTapes.StandingOut(tapes, facts.Bench),
            Calibrations = [.. Moves(facts)],
            Alarms = facts.Alarms,
        };
    }

    /// <summary>Baselines that have it in the unit of the last one.</summary>
    private static UpkeepLine LineOf(List<TakenBaseline> baselines, string id, string label, string unit, int? head)
    {
        List<UpkeepPoint> points =
        [
            .. baselines.SelectMany(b => b.Values.Where(v => v.Channel == id && v.Unit == unit).Select(v => new UpkeepPoint(b.UtcNanoseconds, v.Value, v.StandardError))),
        ];
        return new UpkeepLine(id, label, unit, head, points, BaselineComparison.Trend(baselines, id));
    }

    private static IEnumerable<ChannelDefinition> RfChannels(MaintenanceFacts facts) =>
        facts.Bench.Channels.Where(c => c is { Role: ChannelRole.RfLevel, Head: not null }).OrderBy(c => c.Head);

    /// <summary>Over the hours that stood on the meter when each baseline was taken, read between its readings; none before the first or after the last.</summary>
    private static Answer<TheilSenFit> PerHundredHours(IReadOnlyList<UpkeepPoint> points, HourMeter meter)
    {
        IReadOnlyList<HourReading> read = meter.Readings;
        int since = 1 + Enumerable.Range(0, Math.Max(0, read.Count - 1)).LastOrDefault(i => read[i + 1].Hours < read[i].Hours, -1); // a meter that ran back is of another wheel
        var hundreds = new List<double>();
        var values = new List<double>();
        foreach (UpkeepPoint point in points)
        {
            for (int i = since; i + 1 < read.Count; i++)
            {
                if (point.Utc >= read[i].Utc && point.Utc <= read[i + 1].Utc && read[i + 1].Utc > read[i].Utc)
                {
                    double share = (double)(point.Utc - read[i].Utc) / (read[i + 1].Utc - read[i].Utc);
                    hundreds.Add((read[i].Hours + (share * (read[i + 1].Hours - read[i].Hours))) / 100);
                    values.Add(point.Value);
                    break;
                }
            }
        }

        return values.Count < TheilSen.LeastPoints
            ? new Shortfall("line-ups between readings of the hour meter", values.Count, TheilSen.LeastPoints)
            : TheilSen.Fit(hundreds.ToArray(), values.ToArray());
    }

    private static IEnumerable<HeadAgainstOthers> Against(MaintenanceFacts facts, List<TakenBaseline> baselines)
    {
        Dictionary<string, int> heads = RfChannels(facts).GroupBy(c => c.Head!.Value).ToDictionary(g => g.First().Id, g => g.Key, StringComparer.Ordinal);
        if (heads.Count == 0)
        {
            yield break;
        }

        var dates = new List<DateTimeOffset>();
        var levels = new List<FourHeads>();
        foreach (TakenBaseline baseline in baselines)
        {
            FourHeads at = default;
            foreach (BaselineValue value in baseline.Values)
            {
                at = heads.TryGetValue(value.Channel, out int head) ? at.With(head, value.Value) : at;
            }

            DateTimeOffset date = UtcText.ToDateTimeOffset(baseline.UtcNanoseconds);
            if (at.Known > 0 && (dates.Count == 0 || date > dates[^1]))
            {
                dates.Add(date);
                levels.Add(at);
            }
        }

        foreach (int head in heads.Values.Order())
        {
            yield return new HeadAgainstOthers(head, dates.Count == 0 ? new Shortfall("line-ups with this head and two others", 0, HeadWear.LeastBaselines) : HeadWear.Of(dates, levels, head));
        }
    }

    private static double TapeHours(MaintenanceFacts facts)
    {
        double total = 0;
        foreach ((MachineState state, UtcStretch stretch) in Web.Api.Spans.SpanEventsAnswer.StatesOf(facts.Lines, facts.Span.FromUtc, facts.Span.ToUtc))
        {
            total += state >= MachineState.Running ? facts.Watched.Sum(w => w.Within(stretch).Nanoseconds / 3.6e12) : 0;
        }

        return total;
    }

    private static IEnumerable<NamedCause> CausesOf(MaintenanceFacts facts) => LastWords(facts, FindingKinds.Cause)
        .GroupBy(l => l.Cause, StringComparer.Ordinal)
        .Select(g => new NamedCause(g.Key, g.Count(), g.Min(l => l.StartUtc), g.Max(l => l.StartUtc), CauseActions.FirstOf(g.Key)))
        .OrderByDescending(c => c.Count).ThenBy(c => c.Cause, StringComparer.Ordinal);

    private static Sags SagsOf(MaintenanceFacts facts)
    {
        List<FindingLine> sags = [.. LastWords(facts, FindingKinds.PressureSag)];
        double[] seconds = [.. sags.Where(s => s.EndUtc is not null).Select(s => (s.EndUtc!.Value - s.StartUtc) / 1e9)];
        double[] depths = [.. sags.Select(s => s.Details.FirstOrDefault(d => d.Name == "depthPsi").Number).OfType<double>()];
        return new Sags(sags.Count, seconds.Length == 0 ? null : seconds.Median(), seconds.Length == 0 ? null : seconds.Max(), depths.Length == 0 ? null : depths.Max());
    }

    /// <summary>The newest line of each finding of a kind that began in the span.</summary>
    private static IEnumerable<FindingLine> LastWords(MaintenanceFacts facts, string kind) => facts.Lines
        .Where(l => l.Kind == kind && l.StartUtc >= facts.Span.FromUtc && l.StartUtc < facts.Span.ToUtc)
        .GroupBy(l => l.Id, StringComparer.Ordinal).Select(g => g.Last());

    private static IEnumerable<CalibrationMove> Moves(MaintenanceFacts facts)
    {
        foreach (CalibrationRow row in facts.Calibrations)
        {
            if (row.Document is not { } document || !UtcText.TryParse(document.Entered, out long utc) || utc < facts.Span.FromUtc || utc >= facts.Span.ToUtc)
            {
                continue;
            }

            DriftPoint most = document.Drift.At.MaxBy(p => Math.Abs(p.Difference))!;
            yield return new CalibrationMove(
                document.Label, document.Unit, document.Version, utc, document.By, document.Drift.Days, most.Value, most.Difference, most.Uncertainty, most.PerYear, most.IsSignificant,
                document.Drift.Basis, document.Due);
        }
    }
}
