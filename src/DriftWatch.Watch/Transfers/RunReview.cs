using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Transfers;

namespace DriftWatch.Watch.Transfers;

/// <summary>Something that happened while the tape ran, with its place.</summary>
/// <param name="Id">Of the finding or entry.</param>
/// <param name="Kind">Kind of the finding, or <c>mark</c> or <c>note</c>.</param>
/// <param name="Severity">Of the finding; a note for marks and notes.</param>
/// <param name="Channel">Null where it concerns the bench.</param>
/// <param name="FromUtc">Nanoseconds since 1970, within the run.</param>
/// <param name="ToUtc">End; that of the run where it lasted longer.</param>
/// <param name="From">Place of its beginning.</param>
/// <param name="To">Place of its end.</param>
/// <param name="Text">One sentence.</param>
public sealed record ReviewItem(
    string Id, string Kind, Severity Severity, string? Channel, long FromUtc, long ToUtc, TapePlace From, TapePlace To, string Text)
{
    public double Seconds => (ToUtc - FromUtc) / 1e9;
}

/// <summary>A stretch of tape to be run again.</summary>
/// <param name="FromSeconds">Place with the handle before it; not before the tape's begin.</param>
/// <param name="ToSeconds">Place with the handle behind it.</param>
/// <param name="RunFromSeconds">The same in seconds since the run began, as a file of the run counts.</param>
/// <param name="RunToSeconds">Its end in seconds since the run began.</param>
/// <param name="Reasons">What happened there.</param>
public sealed record TapeSection(double FromSeconds, double ToSeconds, double RunFromSeconds, double RunToSeconds, IReadOnlyList<string> Reasons);

/// <summary>What happened where on the tape.</summary>
public static class RunReview
{
    // Words of judging itself, which say nothing of the tape.
    private static readonly HashSet<string> NotOfTheTape =
    [
        FindingKinds.State, FindingKinds.PassBegins, FindingKinds.PassEnds, FindingKinds.BenchInForce, FindingKinds.CannotTell, FindingKinds.BaselineTaken,
    ];

    /// <summary>Findings and marks of a run, by their beginning.</summary>
    /// <param name="pass">Its run began; where it goes on, to <paramref name="nowUtc"/>.</param>
    /// <param name="lines">Finding lines that touch the run, oldest first; the last word on each finding counts.</param>
    /// <param name="places">Of the run.</param>
    /// <param name="nowUtc">The newest instant known, nanoseconds since 1970.</param>
    public static IReadOnlyList<ReviewItem> Items(BookPass pass, IEnumerable<FindingLine> lines, TapePlaces places, long nowUtc)
    {
        ArgumentNullException.ThrowIfNull(pass);
        ArgumentNullException.ThrowIfNull(places);
        if (pass.RunBegan is not { } began)
        {
            return [];
        }

        long begin = began.Entry.AboutUtc;
        long end = Math.Max(begin, pass.RunEnded?.Entry.AboutUtc ?? nowUtc);
        var items = new List<ReviewItem>();
        foreach (IGrouping<string, FindingLine> finding in lines.Where(l => !NotOfTheTape.Contains(l.Kind)).GroupBy(l => l.Id))
        {
            FindingLine line = finding.Last();
            // What is said of an instant has no length; what was not over when last heard of goes on.
            long to = line.EndUtc ?? (line.Phase == FindingPhase.Ended || line.Severity == Severity.Note ? line.StartUtc : end);
            if (line.StartUtc < end && to >= begin)
            {
                Add(line.Id, line.Kind, line.Severity, line.Channel, line.StartUtc, to, WhileItStood(finding).Text);
            }
        }

        foreach (Said<NoteWritten> note in pass.Notes.Where(n => n.Entry.AboutUtc >= begin && n.Entry.AboutUtc <= end))
        {
            string kind = note.Body.IsMark ? "mark" : "note";
            Add(note.Entry.Id.ToString("D"), kind, Severity.Note, null, note.Entry.AboutUtc, note.Entry.AboutUtc, note.Entry.Note ?? "Mark.");
        }

        return [.. items.OrderBy(i => i.FromUtc).ThenBy(i => i.Id, StringComparer.Ordinal)];

        void Add(string id, string kind, Severity severity, string? channel, long from, long to, string text)
        {
            from = Math.Clamp(from, begin, end);
            to = Math.Clamp(to, from, end);
            items.Add(new ReviewItem(id, kind, severity, channel, from, to, places.At(from), places.At(to), text));
        }
    }

    /// <summary>
    /// The stretches that have to be run again: what was grave enough for that verdict and each mark, with handles, joined where they
    /// nearly touch, and cut in two where the counter was set anew: no other tool could find a place that runs over that.
    /// </summary>
    /// <param name="items">Of the run.</param>
    /// <param name="rules">Which are grave enough, and how they are cut.</param>
    /// <param name="places">Of the run.</param>
    /// <param name="beganUtc">Nanoseconds since 1970.</param>
    /// <param name="endedUtc">End of the run.</param>
    /// <param name="more">Stretches that have to be run again and lie at no item, each with its reason.</param>
    public static IReadOnlyList<TapeSection> Sections(
        IEnumerable<ReviewItem> items, VerdictRules rules, TapePlaces places, long beganUtc, long endedUtc, IEnumerable<(long FromUtc, long ToUtc, string Reason)>? more = null)
    {
        ArgumentNullException.ThrowIfNull(rules);
        ArgumentNullException.ThrowIfNull(places);
        long handle = Nanoseconds(rules.Review.HandleSeconds);
        long join = Nanoseconds(rules.Review.JoinSeconds);
        List<ReviewItem> all = [.. items];
        // A rule that asks for more than so many is met by none of fewer, and then sends no section to the machine either.
        List<VerdictRule> met = [.. rules.Rules.Where(r => r.Verdict == Verdict.RunAgain && all.Count(i => VerdictJudgement.Counts(r, i)) > r.MoreThan)];
        var cut = new List<(long From, long To, List<string> Reasons)>();
        foreach ((long from, long to, string reason) in all.Where(i => i.Kind == "mark" || met.Exists(r => VerdictJudgement.Counts(r, i))).Select(i => (i.FromUtc, i.ToUtc, i.Text)).Concat(more ?? []).OrderBy(c => c.Item1))
        {
            if (cut.Count > 0 && from - cut[^1].To <= join)
            {
                cut[^1] = (cut[^1].From, Math.Max(cut[^1].To, to), cut[^1].Reasons);
            }
            else
            {
                cut.Add((from, to, []));
            }

            cut[^1].Reasons.Add(reason);
        }

        return
        [
            .. cut.SelectMany(c => places.Pieces(Math.Max(beganUtc, c.From - handle), Math.Min(endedUtc, c.To + handle)).Select(p => new TapeSection(
                p.FromSeconds, p.ToSeconds, (p.FromUtc - beganUtc) / 1e9, (p.ToUtc - beganUtc) / 1e9, [.. c.Reasons.Distinct()]))),
        ];
    }

    // The word that ends a finding says that all is well again, which is no reason to run a tape again.
    private static FindingLine WhileItStood(IEnumerable<FindingLine> finding) =>
        finding.LastOrDefault(l => l.Phase != FindingPhase.Ended) ?? finding.Last();

    private static long Nanoseconds(double seconds) => (long)(seconds * 1e9);
}
