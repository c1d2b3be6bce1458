using System.Globalization;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Reports.Plots;
using DriftWatch.Watch.Alarms.Health;

namespace DriftWatch.Reports.Dossiers;

/// <summary>Lines of the store as the findings that a report tells: one each, numbered by their begin, those of one cause together.</summary>
internal static class DossierFindings
{
    /// <summary>Advisories and alarms that touch the span.</summary>
    /// <param name="lines">Every line of them, the oldest first.</param>
    /// <param name="span">What is told of.</param>
    /// <param name="run">Gives the places on the tape.</param>
    public static IReadOnlyList<DossierFinding> Of(IEnumerable<FindingLine> lines, UtcStretch span, DossierRun run)
    {
        List<FindingLine> told =
        [
            .. Told(lines, span).Where(l => l.Severity > Severity.Note)
                .OrderBy(l => l.StartUtc).ThenBy(l => l.Kind == FindingKinds.Cause ? 0 : 1).ThenBy(l => l.Input).ThenBy(l => l.Id, StringComparer.Ordinal),
        ];
        var numbers = told.Select((line, i) => (line.Id, Number: i + 1)).ToDictionary(n => n.Id, n => n.Number, StringComparer.Ordinal);
        var episodes = new Dictionary<int, int>();
        var members = new Dictionary<string, List<int>>(StringComparer.Ordinal);
        foreach (FindingLine cause in told.Where(l => l.Kind == FindingKinds.Cause))
        {
            List<int> its = [.. MembersOf(cause).Select(id => numbers.GetValueOrDefault(id)).Where(n => n > 0).Order()];
            members[cause.Id] = its;
            its.ForEach(n => episodes.TryAdd(n, numbers[cause.Id]));
        }

        return
        [
            .. told.Select(line =>
            {
                int number = numbers[line.Id];
                return new DossierFinding(
                    number, line, line.StartUtc, line.EndUtc, run.PlaceOf(line.StartUtc), line.EndUtc is { } end ? run.PlaceOf(end) : null,
                    members.GetValueOrDefault(line.Id) ?? [], episodes.TryGetValue(number, out int episode) ? episode : null);
            }),
        ];
    }

    /// <summary>What was only noted in the span, but for the machine's states, which have a figure of their own.</summary>
    public static IEnumerable<FindingLine> NotesOf(IEnumerable<FindingLine> lines, UtcStretch span) =>
        Told(lines, span)
            .Where(l => l.Severity == Severity.Note && l.Kind != FindingKinds.State && l.StartUtc >= span.FromUtc)
            .OrderBy(l => l.StartUtc).ThenBy(l => l.Input);

    private static IEnumerable<FindingLine> Told(IEnumerable<FindingLine> lines, UtcStretch span) =>
        lines.GroupBy(l => l.Id, StringComparer.Ordinal)
            .Select(PlotData.LastWord)
            .Where(l => l.StartUtc < span.ToUtc && (l.EndUtc ?? long.MaxValue) >= span.FromUtc);

    private static IEnumerable<string> MembersOf(FindingLine cause)
    {
        for (int i = 1; ; i++)
        {
            string name = string.Create(CultureInfo.InvariantCulture, $"finding{i}");
            if (cause.Details.FirstOrDefault(d => d.Name == name).Word is not { } id)
            {
                yield break;
            }

            yield return id;
        }
    }
}
