using System.Globalization;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Alarms.Health;

namespace DriftWatch.Cli;

/// <summary>The book of alarms and its measures as text for a person.</summary>
internal static class AlarmsText
{
    /// <summary>One entry for each coming, the newest last, and a line that counts them.</summary>
    public static void Stories(TextWriter output, IReadOnlyList<AlarmStory> stories)
    {
        foreach (AlarmStory story in stories)
        {
            output.WriteLine($"{Instant(story.RaisedUtc)}  {Slugs.Of(story.Priority).ToUpperInvariant(),-6}  {story.Last.Tag}  ({Stands(story)})");
            output.WriteLine($"    {story.Text}");
            List<string> facts = [];
            if (story.Last.OnTape is { } place)
            {
                facts.Add($"on the tape at {place}, {place.BasisWords}");
            }

            if (story.Cause is { } cause)
            {
                facts.Add($"cause: {cause}");
            }

            if (TagOf(story.Last.FirstOut) is { } first && first != story.Last.Tag)
            {
                facts.Add($"first: {first}");
            }

            if (story.Last.Findings > 1)
            {
                facts.Add($"{story.Last.Findings} findings");
            }

            if (story.ReturnedUtc is { } returned)
            {
                facts.Add($"over at {Instant(returned)}, after {HealthRows.Duration((returned - story.RaisedUtc) / 1e9)}");
            }

            if (facts.Count > 0)
            {
                output.WriteLine($"    {string.Join("; ", facts)}");
            }

            if (story.Acknowledged is { } answer)
            {
                output.WriteLine($"    acknowledged {Instant(answer.AtUtc)} by {answer.By ?? "nobody named"}{(answer.Why is null ? "" : $": {answer.Why}")}");
            }

            if (story.Last is { To: AlarmState.Shelved or AlarmState.OutOfService, Step: AlarmStep.Shelved or AlarmStep.TakenOutOfService, By: { } by } quiet)
            {
                string until = quiet.ShelvedUntilUtc is { } end ? $" until {Instant(end)}" : "";
                output.WriteLine($"    {Slugs.Of(quiet.To)}{until} by {by}{(quiet.Why is null ? "" : $": {quiet.Why}")}");
            }

            output.WriteLine();
        }

        output.WriteLine(stories.Count == 0
            ? "No alarm."
            : $"{Whole(stories.Count)} {(stories.Count == 1 ? "alarm" : "alarms")}: "
                + string.Join(", ", Enum.GetValues<AlarmPriority>().Reverse().Select(p => $"{Whole(stories.Count(s => s.Priority == p))} {Slugs.Of(p)}"))
                + $"; {Whole(stories.Count(s => s.IsOpen))} not back to normal.");
    }

    public static void Lines(TextWriter output, IReadOnlyList<AlarmTransition> lines) => TextTable.Write(
        output,
        ["when (UTC)", "step", "stands", "priority", "tag", "by", "what"],
        lines.Select(l => (string[])
        [
            Instant(l.AtUtc), Slugs.Of(l.Step), Slugs.Of(l.To), Slugs.Of(l.Priority), l.Tag, l.By ?? "-", l.By is null ? l.Text : l.Why ?? "-",
        ]));

    public static void Health(TextWriter output, AlarmHealthReport report)
    {
        output.WriteLine($"{Instant(report.Span.FromUtc)} to {Instant(report.Span.ToUtc)} UTC, of which {HealthRows.Duration(report.WatchedMinutes * 60)} were watched: {Whole(report.Calls)} calls");
        output.WriteLine();
        TextTable.Write(
            output,
            ["measure", "is", "target", "stands", "where the target comes from"],
            HealthRows.Of(report).Select(r => (string[])[r.Label, r.Value, Or(r.Target), Words(r.Verdict), Or(r.Source)]));
        if (report.MostFrequent.Count > 0)
        {
            output.WriteLine();
            TextTable.Write(
                output,
                ["calls", "share", "tag"],
                report.MostFrequent.Select(t => (string[])[Whole(t.Calls), (t.Share * 100).ToString("0.#", CultureInfo.InvariantCulture) + " %", t.Tag]));
        }

        output.WriteLine();
        output.WriteLine("Calls are lines of the book that ask for a person: raised, worsened, or heard again.");
        output.WriteLine(HealthRows.Caveat);
    }

    private static string Stands(AlarmStory story) => story switch
    {
        { CameAgain: true, Last.To: not AlarmState.Normal } => "came again before it was answered for",
        { Last.To: AlarmState.Normal } => "back to normal",
        { Last.To: AlarmState.Unacknowledged } => "stands, waits for a person",
        { Last.To: AlarmState.Acknowledged } => "stands, acknowledged",
        { Last.To: AlarmState.ReturnedUnacknowledged } => "over, waits for a person",
        _ => Slugs.Of(story.Last.To).Replace('-', ' '),
    };

    /// <summary><c>kind.subject</c> of a finding's id, which is <c>bench.kind.subject.number</c>.</summary>
    private static string? TagOf(string finding)
    {
        int from = finding.IndexOf('.', StringComparison.Ordinal) + 1;
        int to = finding.LastIndexOf('.');
        return from > 0 && to > from ? finding[from..to] : null;
    }

    private static string Words(HealthVerdict verdict) => verdict switch
    {
        HealthVerdict.Within => "within",
        HealthVerdict.Bearable => "bearable",
        HealthVerdict.Over => "OVER",
        HealthVerdict.CannotTell => "can't be told",
        _ => "-",
    };

    private static string Or(string text) => text.Length == 0 ? "-" : text;

    private static string Instant(long utc) => UtcText.ToDateTimeOffset(utc).ToString("yyyy-MM-dd HH:mm:ss", CultureInfo.InvariantCulture);

    private static string Whole(int number) => number.ToString(CultureInfo.InvariantCulture);
}
