using System.Globalization;
using DriftWatch.Measurement.Channels;

namespace DriftWatch.Benchmarks.Nights;

/// <summary>The nights' scores as tables for people.</summary>
internal static class NightTables
{
    private const int MostExamples = 3;

    public static void Print(TextWriter output, IReadOnlyList<NightScore> nights)
    {
        Faults(output, nights);
        Named(output, nights);
        Late(output, nights);
        Sound(output, nights);
        FalseByKind(output, nights);
        Calibration(output, nights);
        Goals(output, nights);
        output.WriteLine();
        output.WriteLine(Invariant($"{nights.Count} nights, {nights.Sum(n => n.Night.LengthSeconds) / 3600:0} h played and judged in {nights.Sum(n => n.Night.TookSeconds):0} s of single threads ({nights.Sum(n => n.Night.TookSeconds) / Math.Max(1, nights.Sum(n => n.Night.LengthSeconds) / 43_200):0.0} s for 12 h)."));
    }

    private static void Faults(TextWriter output, IReadOnlyList<NightScore> nights)
    {
        output.WriteLine();
        output.WriteLine("| cause | nights | found | missed | cause named | rightly first | delay after visible: median, greatest s | sudden | in time | drifts | raised before 40 % | false a day |");
        output.WriteLine("|---|---|---|---|---|---|---|---|---|---|---|---|");
        var all = new List<NightScore>();
        foreach (NightCause cause in NightCauses.All)
        {
            List<NightScore> of = [.. nights.Where(n => n.Night.Cause == cause.Slug)];
            all.AddRange(of);
            if (of.Count > 0)
            {
                Row(output, cause.Slug, of);
            }
        }

        if (all.Count > 0)
        {
            Row(output, "all", all);
        }
    }

    private static void Row(TextWriter output, string name, List<NightScore> of)
    {
        List<NightScore> drifts = [.. of.Where(n => n.Night.Pace == NightPace.Drift)];
        double[] delays = [.. of.Where(n => n.Night.Pace == NightPace.AsItBreaks).Select(n => n.DelaySeconds).OfType<double>().Order()];
        int found = of.Count(n => n.Found is not null);
        double hours = of.Sum(n => n.IdleHours);
        int wrong = of.Sum(n => n.False.Count());
        output.WriteLine(Invariant(
            $"| {name} | {of.Count} | {found} | {of.Count - found} | {of.Count(n => n.Named is not null)} | {of.Count(n => n.NamedRightly)} | {(delays.Length > 0 ? $"{delays[delays.Length / 2].ToString("0.0", CultureInfo.InvariantCulture)}, {delays[^1].ToString("0.0", CultureInfo.InvariantCulture)}" : "")} | {of.Count(n => n.IsSudden)} | {of.Count(n => n.IsSudden && n.InTime)} | {drifts.Count} | {drifts.Count(n => n.FoundBefore40Percent)} | {(hours > 0 ? wrong / hours * 24 : 0):0.0} |"));
    }

    /// <summary>What the causes were taken for that were not named rightly first.</summary>
    private static void Named(TextWriter output, IReadOnlyList<NightScore> nights)
    {
        var wrong = nights.Where(n => n.Night.Cause != NightCauses.Sound && !n.NamedRightly && n.Named is not null)
            .GroupBy(n => n.Night.Cause).ToList();
        if (wrong.Count == 0)
        {
            return;
        }

        output.WriteLine();
        output.WriteLine("| cause | named first instead (times, mean stated confidence %, seeds) |");
        output.WriteLine("|---|---|");
        foreach (IGrouping<string, NightScore> cause in wrong)
        {
            output.WriteLine($"| {cause.Key} | {string.Join("; ", cause.GroupBy(n => n.Named!.Cause).Select(g => Invariant($"{g.Key} ({g.Count()}, {100 * g.Average(n => n.Named!.Confidence ?? 0):0}, {string.Join(' ', g.Take(MostExamples).Select(n => n.Night.Seed))})")))} |");
        }
    }

    /// <summary>Sudden faults that were said later than their own delay and half a second, or not at all.</summary>
    private static void Late(TextWriter output, IReadOnlyList<NightScore> nights)
    {
        List<NightScore> late = [.. nights.Where(n => n.IsSudden && !n.InTime)];
        if (late.Count > 0)
        {
            output.WriteLine();
            output.WriteLine("Sudden and late: " + string.Join("; ", late.Select(n => n.DelaySeconds is { } delay
                ? Invariant($"{n.Night.Cause} {n.Night.Seed} {n.Night.Detail} after {delay:0.0} s, own delay {n.Night.OwnDelaySeconds:0.0} s, ramp {n.Night.RampSeconds:0.0} s")
                : Invariant($"{n.Night.Cause} {n.Night.Seed} never"))) + ".");
        }
    }

    private static void Sound(TextWriter output, IReadOnlyList<NightScore> nights)
    {
        List<NightScore> sound = [.. nights.Where(n => n.Night.Cause == NightCauses.Sound)];
        if (sound.Count == 0)
        {
            return;
        }

        double hours = sound.Sum(n => n.IdleHours);
        int wrong = sound.Sum(n => n.False.Count());
        output.WriteLine();
        output.WriteLine(Invariant(
            $"Sound nights: {sound.Count}, {hours:0} h; {wrong} false findings, {wrong / hours * 24:0.00} in 24 h, in {sound.Count(n => n.False.Any())} of the nights."));
    }

    private static void Goals(TextWriter output, IReadOnlyList<NightScore> nights)
    {
        List<NightScore> ill = [.. nights.Where(n => n.Night.Cause != NightCauses.Sound)];
        List<NightScore> drifts = [.. ill.Where(n => n.Night.Pace == NightPace.Drift)];
        output.WriteLine();
        output.WriteLine(Invariant(
            $"Goals: false findings in sound nights {nights.Where(n => n.Night.Cause == NightCauses.Sound).Sum(n => n.False.Count())} (at most 1 in 100 nights); cause right first {Share(ill.Count(n => n.NamedRightly), ill.Count)} (90 %); sudden faults in time {Share(ill.Count(n => n.IsSudden && n.InTime), ill.Count(n => n.IsSudden))} (100 %); drifts raised before 40 % of the tolerance {Share(drifts.Count(n => n.FoundBefore40Percent), drifts.Count)} (95 %)."));

        static string Share(int part, int of) => of == 0 ? "not played" : Invariant($"{part} of {of}, {100.0 * part / of:0} %");
    }

    private static void FalseByKind(TextWriter output, IReadOnlyList<NightScore> nights)
    {
        var wrong = nights.SelectMany(n => n.False.Select(f => (n.Night, Finding: f)))
            .GroupBy(w => (w.Finding.Kind, w.Finding.Channel, w.Finding.Severity, w.Finding.Cause)).OrderByDescending(g => g.Count()).ToList();
        if (wrong.Count == 0)
        {
            return;
        }

        output.WriteLine();
        output.WriteLine("| false finding | channel | severity | its cause | times | in sound nights | examples: seed at second, text |");
        output.WriteLine("|---|---|---|---|---|---|---|");
        foreach (var group in wrong)
        {
            output.WriteLine(Invariant(
                $"| {group.Key.Kind} | {group.Key.Channel ?? "–"} | {Slugs.Of(group.Key.Severity)} | {group.Key.Cause} | {group.Count()} | {group.Count(w => w.Night.Cause == NightCauses.Sound)} | {string.Join("; ", group.Take(MostExamples).Select(w => Invariant($"{w.Night.Seed} at {w.Finding.CountsFromSeconds:0}: {w.Finding.Text}")))} |"));
        }
    }

    private static void Calibration(TextWriter output, IReadOnlyList<NightScore> nights)
    {
        List<(double Confidence, bool Right)> stated = [.. nights.SelectMany(n => n.Confidences)];
        output.WriteLine();
        if (stated.Count == 0)
        {
            output.WriteLine("No finding stated a confidence.");
            return;
        }

        output.WriteLine("| stated confidence | causes named | mean stated % | right % |");
        output.WriteLine("|---|---|---|---|");
        for (int bin = 0; bin < 5; bin++)
        {
            List<(double Confidence, bool Right)> inside = [.. stated.Where(s => Math.Min(4, (int)(s.Confidence * 5)) == bin)];
            output.WriteLine(inside.Count == 0
                ? Invariant($"| {bin * 20} to {(bin + 1) * 20} % | 0 | | |")
                : Invariant($"| {bin * 20} to {(bin + 1) * 20} % | {inside.Count} | {100 * inside.Average(s => s.Confidence):0} | {100.0 * inside.Count(s => s.Right) / inside.Count:0} |"));
        }
    }

    private static string Invariant(FormattableString text) => FormattableString.Invariant(text);
}
