using System.Globalization;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Diagnosis;

/// <summary>What is said of an episode: the cause, how sure it is, what else it could be, what moved first, what to do first.</summary>
internal static class CauseWords
{
    // Below this 'probably' would be too much. Source: common practice, no source.
    private const double Probably = 0.6;

    // Alternatives less probable than this are not worth naming. Source: common practice, no source.
    private const double WorthNaming = 0.05;

    private const int MostNamed = 12;

    public static FindingFacts Facts(WatchContext context, SubjectReader reader, Episode episode, List<Candidate> candidates)
    {
        Signature? signature = SignatureTable.Of(episode.Cause);
        double confidence = episode.Probability;
        var details = new List<FindingDetail> { new("confidence", Math.Round(confidence, 2)) };
        int? head = episode.Head;
        if (head is { } number)
        {
            details.Add(new FindingDetail("head", number));
        }

        string? first = First(context, episode);
        if (first is not null)
        {
            details.Add(new FindingDetail("first", null, first));
        }

        foreach (Candidate other in candidates)
        {
            if (other.Cause != episode.Cause && other.Probability >= WorthNaming)
            {
                details.Add(new FindingDetail("couldBe-" + other.Cause, Math.Round(other.Probability, 2)));
            }
        }

        foreach (Clue clue in signature?.Clues ?? [])
        {
            Observation seen = reader.Read(clue.Subject, context);
            details.Add(new FindingDetail("evidence-" + clue.Subject, null, seen.IsSeen ? Slugs.Of(seen.Direction) : "not-seen"));
            if (seen.IsSeen)
            {
                details.Add(new FindingDetail("tolerances-" + clue.Subject, Math.Round(seen.Value, 3)));
            }
        }

        if (signature is not null)
        {
            details.Add(new FindingDetail("firstAction", null, signature.FirstAction));
        }

        details.Add(new FindingDetail("findings", episode.Count));
        for (int i = 0; i < Math.Min(MostNamed, episode.Members.Count); i++)
        {
            details.Add(new FindingDetail(string.Create(CultureInfo.InvariantCulture, $"finding{i + 1}"), null, episode.Members[i]));
        }

        return new FindingFacts
        {
            Kind = FindingKinds.Cause,
            Subject = episode.Cause,
            Severity = episode.Worst,
            Start = episode.Start,
            Cause = episode.Cause ?? Candidate.Unknown,
            LimitSource = signature?.Source,
            Text = Sentence(signature, confidence, head, episode.Count),
            Details = details,
        };
    }

    /// <summary>The head that a cause is said of; null for one that is of none.</summary>
    public static int? Head(Signature? signature, SubjectReader reader, WatchContext context) =>
        signature is null || signature.TakesThePicture ? null
        : signature.Explains(Subjects.Wear) ? reader.WornHead(context)
        : signature.Clues.Any(c => c.Subject == Subjects.OneHead) ? reader.WorstHead() : null;

    private static string Sentence(Signature? signature, double confidence, int? head, int findings)
    {
        if (signature is null)
        {
            return string.Create(CultureInfo.InvariantCulture, $"{findings} findings belong together, but their pattern fits no cause that is known here. Look at what moved first.");
        }

        string words = signature.Words.Replace("{head}", head?.ToString(CultureInfo.InvariantCulture) ?? "?", StringComparison.Ordinal);
        string percent = (100 * confidence).ToString("0", CultureInfo.InvariantCulture);
        return confidence >= Probably
            ? $"Probably {words} ({percent} %). {signature.FirstAction}"
            : $"It may be that {words} ({percent} %); what else it could be is in the details. {signature.FirstAction}";
    }

    /// <summary>The channel or quantity whose finding began first.</summary>
    private static string? First(WatchContext context, Episode episode)
    {
        FindingLine? first = null;
        foreach (OpenFinding open in context.Desk.Open)
        {
            if (episode.Has(open.Line.Id) && (first is null || open.Line.Start < first.Start))
            {
                first = open.Line;
            }
        }

        return first?.Channel;
    }
}
