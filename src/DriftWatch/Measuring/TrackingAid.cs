using System.Globalization;
using DriftWatch.Analysis;
using DriftWatch.Analysis.RfHeads;

namespace DriftWatch.Measuring;

/// <summary>Unit of the tracking control's position; without a scale the flanks tell what a unit comes to.</summary>
internal sealed record TrackingUnit(double? MilPerUnit, string Symbol);

/// <summary>Where to set the tracking control, from a sweep of it: columns position, head1 to head4 in dB.</summary>
internal static class TrackingAid
{
    private const double MicrometresPerMil = 25.4;

    // A track that the flanks make less or more wide than this is read in another unit. Source: derived, ± some 40 % of 10 mil.
    private const double LeastWidthMil = 6;
    private const double GreatestWidthMil = 15;

    private const int LinePoints = 81;

    public static ChoiceField<TrackingUnit> Unit { get; } = new(
        "unit", "mil", ("mil", new TrackingUnit(1, "mil")), ("um", new TrackingUnit(1 / MicrometresPerMil, "µm")), ("division", new TrackingUnit(null, "divisions")));

    /// <exception cref="Acquisition.Recordings.RecordingException">A mistake in the table.</exception>
    public static MeasureReport Read(NumberTable table, TrackingUnit unit)
    {
        if (!table.Has("position") || table.OneOf("head1", "head2", "head3", "head4") is null)
        {
            throw table.Unfit("the heading names no sweep of the tracking control", "write the columns position, head1, head2, head3, head4");
        }

        double[] positions = new double[table.Count];
        var levels = new FourHeads[table.Count];
        for (int row = 0; row < table.Count; row++)
        {
            positions[row] = table.Number(row, "position");
            levels[row] = new FourHeads(Level(table, row, "head1"), Level(table, row, "head2"), Level(table, row, "head3"), Level(table, row, "head4"));
        }

        TrackingAdvice advice = TrackingSweep.Read(positions, levels, unit.MilPerUnit);
        string opening = positions.Length == 1
            ? $"one position, {Number(positions[0])} {unit.Symbol}."
            : $"{positions.Length} positions from {Number(positions.Min())} to {Number(positions.Max())} {unit.Symbol}.";
        ReportPart peaks = ReportPart.Table(["head", $"peak, {unit.Symbol}", "95 % from", "to", "top, dB", "flat top", "scatter, dB"], advice.Peaks.Select(Row));
        Quantity[] quantities = [.. advice.Peaks.Select((p, i) => PeakOf(p, i + 1, unit.Symbol))];
        if (!advice.Setting.IsKnown)
        {
            const string missing = "No head shows a peak: sweep the control from well before it to well beyond it, 4 mil each way, with five positions at least.";
            return new MeasureReport([opening], [peaks, ReportPart.Text(missing)], IsSound: false)
            {
                Headline = missing,
                Caution = Cautions.Wheel,
                Quantities = quantities,
                Drawing = Draw(positions, levels, advice, unit.Symbol),
            };
        }

        TrackingSetting setting = advice.Setting.Value;
        string[] says = [.. Say(advice, setting, unit.Symbol)];
        return new MeasureReport([opening], [peaks, ReportPart.Text([.. says, .. Widths(advice, unit.MilPerUnit)])], IsSound: true)
        {
            Headline = says[1],
            Caution = Cautions.Wheel,
            Quantities = [new Quantity("setting", setting.Setting, unit.Symbol, Lower: setting.Lower, Upper: setting.Upper), .. quantities],
            Drawing = Draw(positions, levels, advice, unit.Symbol),
        };
    }

    private static double? Level(NumberTable table, int row, string column) =>
        table.Text(row, column).Length == 0 ? null : table.Number(row, column);

    private static Quantity PeakOf(Answer<TrackingPeakFit> peak, int head, string unit) => peak.IsKnown
        ? new Quantity($"peak-{head}", peak.Value.Position, unit, peak.Value.StandardError, peak.Value.Lower, peak.Value.Upper)
        : new Quantity($"peak-{head}", null, unit, Missing: peak.Missing!.ToString());

    private static string[] Row(Answer<TrackingPeakFit> peak, int index)
    {
        string head = (index + 1).ToString(CultureInfo.InvariantCulture);
        if (!peak.IsKnown)
        {
            return peak.Missing is { What: "points of the sweep", Has: 0 } ? [head, "no signal", "", "", "", "", ""] : [head, peak.Missing!.ToString(), "", "", "", "", ""];
        }

        TrackingPeakFit fit = peak.Value;
        string flat = fit.FlatHalfWidth > 0 ? Number(2 * fit.FlatHalfWidth) : "none";
        return [head, Number(fit.Position), Number(fit.Lower), Number(fit.Upper), Number(fit.TopDb), flat, Number(fit.ScatterDb)];
    }

    /// <summary>Whether the heads agree, then where to set the control, then what each loses there.</summary>
    private static IEnumerable<string> Say(TrackingAdvice advice, TrackingSetting setting, string unit)
    {
        string where = $"{Number(setting.Setting)} {unit} (95 %: {Number(setting.Lower)} to {Number(setting.Upper)})";
        if (!setting.HeadsDisagree)
        {
            yield return setting.Heads > 1 ? $"The heads agree (chance of more by noise alone: {setting.PValue:0.00})." : "One head alone: whether the others agree can't be told.";
            yield return $"Set the control to {where}.";
            yield break;
        }

        yield return $"The heads do not agree (chance of so much by noise alone: {(setting.PValue < 0.001 ? "below 0.001" : setting.PValue.ToString("0.000", CultureInfo.InvariantCulture))}): they sit at different heights on the wheel, and no setting suits all.";
        yield return $"Set the control to {where}: there the worst head loses least.";
        for (int head = 1; head <= advice.Peaks.Count; head++)
        {
            if (setting.LossDb[head] is { } loss)
            {
                yield return $"  head {head} loses {loss.ToString("0.00", CultureInfo.InvariantCulture)} dB{(head == setting.WorstHead ? ", the most" : "")}";
            }
        }
    }

    private static IEnumerable<string> Widths(TrackingAdvice advice, double? milPerUnit)
    {
        double width = advice.Peaks.Where(p => p.IsKnown).Average(p => p.Value.Width);
        if (milPerUnit is not { } scale)
        {
            yield return $"By the flanks a division is {Number(TrackingTriangle.TrackMil / width)} mil, if the track is 10 mil wide.";
        }
        else if (width * scale is < LeastWidthMil or > GreatestWidthMil)
        {
            yield return $"Note: the flanks fit a track of {Number(width * scale)} mil, not 10. See whether the unit of the position is right, and whether levels are in dB of voltage.";
        }
    }

    private static Drawing Draw(double[] positions, FourHeads[] levels, TrackingAdvice advice, string unit)
    {
        var traces = new List<Trace>();
        var places = new List<Place>();
        double from = positions.Min();
        double step = (positions.Max() - from) / (LinePoints - 1);
        double[] along = step > 0 ? [.. Enumerable.Range(0, LinePoints).Select(i => from + (i * step))] : [];
        for (int head = 1; head <= FourHeads.Count; head++)
        {
            int[] there = [.. Enumerable.Range(0, positions.Length).Where(i => levels[i][head] is not null)];
            if (there.Length > 0)
            {
                traces.Add(new Trace($"head {head}", false, head, [.. there.Select(i => positions[i])], [.. there.Select(i => levels[i][head]!.Value)]));
            }

            if (advice.Peaks[head - 1] is { IsKnown: true, Value: var fit })
            {
                double[] reached = [.. along.Where(x => double.IsFinite(fit.LossDb(x)))];
                traces.Add(new Trace($"two lines of head {head}", true, head, reached, [.. reached.Select(x => fit.TopDb - fit.LossDb(x))]));
                places.Add(new Place($"peak of head {head}", fit.Position, fit.Lower, fit.Upper));
            }
        }

        if (advice.Setting is { IsKnown: true, Value: var setting })
        {
            places.Add(new Place("set it here", setting.Setting, setting.Lower, setting.Upper));
        }

        return new Drawing($"position, {unit}", "level, dB") { ByVoltage = true, Traces = traces, Places = places };
    }

    private static string Number(double value) => (Math.Abs(value) < 0.0005 ? 0 : value).ToString("0.0##", CultureInfo.InvariantCulture);
}
