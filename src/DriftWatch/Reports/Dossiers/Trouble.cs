using DriftWatch.Measurement.Channels;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers.Figures;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Reports.Dossiers;

/// <summary>One thing that was wrong while tape ran, as the first page tells it to who does not know the machine.</summary>
/// <param name="Number">On the first page, from 1.</param>
/// <param name="Standing">How grave.</param>
/// <param name="Stretch">When, within the run.</param>
/// <param name="FromSeconds">Place on the tape.</param>
/// <param name="ToSeconds">Place on the tape.</param>
/// <param name="What">In words.</param>
/// <param name="OnTheTape">What the picture shows of it.</param>
/// <param name="ToDo">What to do about it.</param>
/// <param name="Findings">Their numbers in the tables behind.</param>
internal sealed record Trouble(
    int Number, Standing Standing, UtcStretch Stretch, double FromSeconds, double ToSeconds, string What, string OnTheTape, string ToDo, IReadOnlyList<int> Findings)
{
    /// <summary>
    /// So much before and after, so that the pieces can be joined, where no site's rules judge. Source: the trade's workflow,
    /// 're-run sections from 30 s before'.
    /// </summary>
    private const double Handle = 30;

    /// <summary>What carries the picture and the sound; what is wrong elsewhere need not be seen.</summary>
    private static readonly HashSet<ChannelRole> PictureRoles =
    [
        ChannelRole.RfLevel, ChannelRole.ControlTrack, ChannelRole.CorrectorUse, ChannelRole.ServoLock, ChannelRole.SyncLevel, ChannelRole.VideoLevel,
        ChannelRole.AudioLevel, ChannelRole.TimingError, ChannelRole.RfTilt,
    ];

    private static readonly HashSet<QuantityKind> PictureQuantities =
    [
        QuantityKind.RfCommon, QuantityKind.RfDifference, QuantityKind.RfSpread, QuantityKind.Skew, QuantityKind.Scallop, QuantityKind.HeadStep,
        QuantityKind.AsyncResidual, QuantityKind.ControlTrackDips, QuantityKind.RfTiltDips,
    ];

    /// <summary>Causes with all that belongs to them, findings that no cause explains, and times in which nobody watched; by their begin.</summary>
    public static IReadOnlyList<Trouble> Of(Dossier dossier)
    {
        var troubles = new List<Trouble>();
        foreach (List<DossierFinding> together in Together([.. dossier.Within(Severity.Advisory)]))
        {
            troubles.Add(Of(dossier, together));
        }

        foreach (UtcStretch gap in dossier.Unwatched.Select(g => g.Within(dossier.Run.Stretch)).Where(g => g.Nanoseconds > 0))
        {
            troubles.Add(new Trouble(
                0, Standing.Doubtful, gap, Place(dossier, gap.FromUtc), Place(dossier, gap.ToUtc), "Nobody watched: nothing was recorded here.",
                "What the picture shows is not known.", Again(dossier, gap, null) ?? "Look at this part of the transferred picture, or run it again.", []));
        }

        return [.. troubles.OrderBy(t => t.Stretch.FromUtc).Select((t, i) => t with { Number = i + 1 })];
    }

    /// <summary>
    /// What a cause explains and what the alarm book took for one trouble, its cause first: a person has one thing to look at where
    /// a wheel that stops raises ten findings.
    /// </summary>
    private static List<List<DossierFinding>> Together(List<DossierFinding> findings)
    {
        var groups = new List<List<DossierFinding>>();
        foreach (DossierFinding finding in findings.OrderBy(f => f.IsCause ? 0 : 1).ThenBy(f => f.Number))
        {
            List<DossierFinding>? its = finding.IsCause ? null : groups.Find(g =>
                g.Exists(o => (o.IsCause && o.Members.Contains(finding.Number)) || (o.Alarm is { } alarm && alarm == finding.Alarm) || IsWithin(finding, o)));
            if (its is null)
            {
                groups.Add([finding]);
            }
            else
            {
                its.Add(finding);
            }
        }

        return groups;
    }

    /// <summary>Of the same channel, while the other lasted.</summary>
    private static bool IsWithin(DossierFinding finding, DossierFinding other) =>
        finding.Line.Channel is { } channel && channel == other.Line.Channel
        && other.FromUtc <= finding.FromUtc && (other.ToUtc ?? long.MaxValue) >= finding.FromUtc;

    private static Trouble Of(Dossier dossier, List<DossierFinding> all)
    {
        DossierFinding finding = all[0];
        List<UtcStretch> each = [.. all.Select(f => StretchOf(dossier, f)).Where(s => s.Nanoseconds > 0)];
        var stretch = new UtcStretch(each.Min(s => s.FromUtc), each.Max(s => s.ToUtc));
        List<UtcStretch> seen = [.. all.Where(f => IsPicture(dossier, f) && f.Line.Severity == Severity.Alarm).Select(f => StretchOf(dossier, f)).Where(s => s.Nanoseconds > 0)];
        string what = finding.Line.Text;
        if (finding.FirstAction is { } action)
        {
            what = what.Replace(action, "", StringComparison.Ordinal).Trim();
        }

        bool shows = seen.Count > 0;
        UtcStretch beyond = shows ? new UtcStretch(seen.Min(s => s.FromUtc), seen.Max(s => s.ToUtc)) : default;
        return new Trouble(
            0,
            all.Exists(f => f.Line.Severity == Severity.Alarm) ? Standing.Bad : Standing.Doubtful,
            stretch,
            Place(dossier, stretch.FromUtc),
            Place(dossier, stretch.ToUtc),
            what,
            shows ? $"What carries the picture was beyond its limits from {FigureFrame.PlaceText(dossier.Run, beyond)}."
                : "What carries the picture stayed within its alarm limits.",
            string.Join(' ', new[] { finding.FirstAction, Again(dossier, stretch, shows ? beyond : null) ?? (finding.FirstAction is null ? "Look at this part of the picture; no cause was named." : null) }.OfType<string>()),
            [.. all.Select(f => f.Number)]);
    }

    /// <summary>
    /// What is to be run again of a trouble: of a transfer the sections that its review cut out there, so that report, list and edit list say one thing;
    /// of a span, which nobody's rules judge, what carried the picture beyond its limits.
    /// </summary>
    private static string? Again(Dossier dossier, UtcStretch trouble, UtcStretch? beyond)
    {
        if (dossier.Transfer is { } transfer)
        {
            long began = dossier.Run.Stretch.FromUtc;
            List<TapeSection> cut =
            [
                .. transfer.Review.Sections.Where(s => began + (long)(s.RunFromSeconds * 1e9) < trouble.ToUtc && began + (long)(s.RunToSeconds * 1e9) > trouble.FromUtc),
            ];
            return cut.Count > 0 ? $"Run {string.Join(" and ", cut.Select(ReportTape.Section))} again once that is mended."
                : beyond is not null ? "The site's rules do not ask for it to be run again: look at this part of the picture."
                : null;
        }

        long handle = (long)(Handle * 1e9);
        return beyond is { } seen ? $"Run {FigureFrame.PlaceText(dossier.Run, new UtcStretch(seen.FromUtc - handle, seen.ToUtc + handle))} again once that is mended." : null;
    }

    private static UtcStretch StretchOf(Dossier dossier, DossierFinding finding) =>
        new UtcStretch(finding.FromUtc, finding.ToUtc ?? dossier.Span.ToUtc).Within(dossier.Run.Stretch);

    private static double Place(Dossier dossier, long utc) => dossier.Run.PlaceOf(utc) ?? dossier.Run.StartSeconds;

    private static bool IsPicture(Dossier dossier, DossierFinding finding) =>
        dossier.Bench.Channels.Any(c => c.Id == finding.Line.Channel && PictureRoles.Contains(c.Role))
        || dossier.Bench.Quantities.Any(q => q.Id == finding.Line.Channel && PictureQuantities.Contains(q.Kind));
}
