using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Units;

namespace DriftWatch.Notices;

/// <summary>Puts what befell an alarm into words for a person, and gives each notice its lasting id.</summary>
/// <param name="bench">The bench's id.</param>
/// <param name="label">What people call it.</param>
/// <param name="zone">Of the people who read; UTC stands beside it.</param>
internal sealed class NoticeWriter(string bench, string label, TimeZoneInfo? zone = null)
{
    /// <summary>Items named in a digest; the rest is counted, and stands in the book of alarms.</summary>
    public const int MostItems = 20;

    public string Bench => bench;

    /// <summary>Derived from where it goes and what it tells, so that a second sending after a crash has the same one.</summary>
    public static string IdOf(string bench, string route, string key) =>
        Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes($"{bench}\n{route}\n{key}")).AsSpan(0, 16));

    public static string KeyOf(AlarmTransition line) =>
        string.Create(CultureInfo.InvariantCulture, $"{line.Id}/{Slugs.Of(line.Step)}/{line.Input}/{line.Place}");

    /// <summary>The line that says that the store takes readings again: who was told to restart nothing waits for it.</summary>
    public static bool IsStoreRecovered(AlarmTransition line) => line.Step == AlarmStep.Returned && NoticeDesk.IsOfTheStore(line);

    /// <param name="line">The line of the book.</param>
    /// <param name="route">Where it goes.</param>
    /// <param name="unanswered">For how long nobody has answered for it, where that is why it goes.</param>
    /// <param name="causeSaid">The sentences in which its cause was said, where they are not the line's own.</param>
    public AlarmNotice Of(AlarmTransition line, string route, TimeSpan unanswered = default, string? causeSaid = null)
    {
        NoticeKind kind = line.Calls ? NoticeKind.Alarm : IsStoreRecovered(line) ? NoticeKind.StoreRecovered : NoticeKind.FollowUp;
        string state = line.Step switch
        {
            AlarmStep.Acknowledged => $"acknowledged{(line.By is { } by ? " by " + by : "")}",
            AlarmStep.Returned => "over",
            AlarmStep.CauseNamed => "probable cause",
            _ => $"{Slugs.Of(line.Priority)} priority",
        };
        var text = new StringBuilder(line.Text).Append('\n');
        Line(text, $"{label}: {state}; began {When(line.StartUtc)}, said {When(line.AtUtc)}.");
        if (line.Value is { } value && line.Limit is { } limit)
        {
            Line(text, $"Worst value {value:0.###} {line.Unit}, limit {limit:0.###} {line.Unit} ({line.LimitSource ?? "source not told"}).");
        }

        if (line.OnTape is { } place)
        {
            Line(text, $"On the tape: {place}, {place.BasisWords}.");
        }

        if (line.Consequence is { } consequence && kind == NoticeKind.Alarm)
        {
            Line(text, $"If nobody acts: {consequence}.");
        }

        if (causeSaid is not null)
        {
            text.Append(causeSaid).Append('\n');
        }
        else if (line.Cause is { } cause && line.Step != AlarmStep.CauseNamed)
        {
            Line(text, $"Probable cause: {cause.Replace('-', ' ')}.");
        }

        if (unanswered > TimeSpan.Zero)
        {
            Line(text, $"Nobody has answered for it in {Configuration.DurationText.Write(unanswered)}.");
        }

        return Make(kind, IdOf(bench, route, KeyOf(line)), line.Priority, line.AtUtc, $"[{label}] {state}: {line.Text}", text.ToString().TrimEnd('\n')) with
        {
            Alarm = line,
            Count = 1,
        };
    }

    /// <summary>A digest that begins with one notice.</summary>
    public AlarmNotice Digest(AlarmNotice first, string id) => Gather(
        Make(NoticeKind.Digest, id, first.Priority, first.AtUtc, "", ""), first);

    /// <summary>The digest with one more in it; it is put into words by <see cref="Word"/>.</summary>
    public static AlarmNotice Gather(AlarmNotice digest, AlarmNotice more) => digest with
    {
        Count = digest.Count + 1,
        Priority = more.Priority > digest.Priority ? more.Priority : digest.Priority,
        Items = more.Alarm is { } line && digest.Items.Count < MostItems
            ? [.. digest.Items, new NoticeItem(line.Id, line.Tag, line.Priority, line.Step, line.AtUtc, line.Text)]
            : digest.Items,
    };

    public AlarmNotice Word(AlarmNotice digest)
    {
        var text = new StringBuilder();
        Line(text, $"{digest.Count} more on {label}, gathered since {When(digest.AtUtc)}:");
        foreach (NoticeItem item in digest.Items)
        {
            Line(text, $"{When(item.AtUtc)} {Slugs.Of(item.Step)}, {Slugs.Of(item.Priority)}: {item.Text}");
        }

        if (digest.Count > digest.Items.Count)
        {
            Line(text, $"And {digest.Count - digest.Items.Count} more. All stand in the book of alarms.");
        }

        return digest with
        {
            Subject = OneLine(string.Create(CultureInfo.InvariantCulture, $"[{label}] {digest.Count} more, up to {Slugs.Of(digest.Priority)} priority")),
            Text = text.ToString().TrimEnd('\n'),
        };
    }

    public AlarmNotice Test(string id, string by, string route, long utc) => Make(
        NoticeKind.Test, id, AlarmPriority.Low, utc,
        $"[{label}] Test of route {route}",
        $"This is a test, asked for by {by}. Route {route} works if you read it. Nothing is wrong on {label}.");

    /// <summary>Several lines, or one, of which the book has none yet. That the store fails goes first and by a kind of its own, because the others hang on it.</summary>
    public AlarmNotice Unstored(IReadOnlyList<AlarmTransition> lines, string route, long utc)
    {
        AlarmTransition? ofStore = lines.FirstOrDefault(NoticeDesk.IsOfTheStore);
        AlarmTransition[] others = [.. lines.Where(l => !NoticeDesk.IsOfTheStore(l))];
        AlarmNotice digest = Make(NoticeKind.Digest, IdOf(bench, route, "unstored/" + KeyOf(lines[^1])), AlarmPriority.Low, utc, "", "");
        foreach (AlarmTransition line in others)
        {
            digest = Gather(digest, Of(line, route));
        }

        var text = new StringBuilder();
        if (ofStore is not null)
        {
            Line(text, $"{ofStore.Text} {label}: began {When(ofStore.StartUtc)}.");
            Line(text, $"Alarms stand in no book until the store takes them; the page shows them from memory, and by this way they are told once a minute at most. Watch the machine. Make room or mend the disk; do not restart the service before.");
        }

        if (others.Length > 0)
        {
            Line(text, $"The store of {label} takes nothing, so this is told from memory. It stands in no book yet:");
        }

        foreach (NoticeItem item in digest.Items)
        {
            Line(text, $"{When(item.AtUtc)} {Slugs.Of(item.Step)}, {Slugs.Of(item.Priority)}: {item.Text}");
        }

        if (digest.Count > digest.Items.Count)
        {
            Line(text, $"And {digest.Count - digest.Items.Count} more.");
        }

        string subject = ofStore is null
            ? string.Create(CultureInfo.InvariantCulture, $"[{label}] {digest.Count} not stored yet, up to {Slugs.Of(digest.Priority)} priority: {others[0].Text}")
            : $"[{label}] The store takes no readings" + (others.Length > 0 ? string.Create(CultureInfo.InvariantCulture, $"; {others.Length} more not stored yet: {others[0].Text}") : "");
        return digest with
        {
            Kind = ofStore is null ? NoticeKind.Digest : NoticeKind.StoreFailing,
            Priority = ofStore is not null && ofStore.Priority > digest.Priority ? ofStore.Priority : digest.Priority,
            Alarm = ofStore,
            Count = lines.Count,
            Subject = OneLine(subject),
            Text = text.ToString().TrimEnd('\n'),
        };
    }

    /// <summary>Local time with its offset, and UTC beside it; UTC alone where that is the local time.</summary>
    private string When(long utc)
    {
        DateTimeOffset local = TimeZoneInfo.ConvertTime(UtcText.ToDateTimeOffset(utc), zone ?? TimeZoneInfo.Utc);
        return zone is null || zone.Id == TimeZoneInfo.Utc.Id
            ? UtcText.FromNanoseconds(utc)
            : string.Create(CultureInfo.InvariantCulture, $"{local:yyyy-MM-dd HH:mm:ss} local time (UTC{local:zzz}; {UtcText.FromNanoseconds(utc)})");
    }

    /// <summary>No line breaks in a subject: a header of a letter ends with one.</summary>
    private static string OneLine(string text)
    {
        string line = string.Concat(text.Select(c => char.IsControl(c) ? ' ' : c));
        return line.Length <= 200 ? line : line[..199] + "…";
    }

    private static void Line(StringBuilder text, FormattableString line) => text.Append(line.ToString(NumbersForPeople.Format)).Append('\n');

    private AlarmNotice Make(NoticeKind kind, string id, AlarmPriority priority, long utc, string subject, string text) => new()
    {
        Id = id,
        Kind = kind,
        Bench = bench,
        BenchLabel = label,
        Priority = priority,
        AtUtc = utc,
        Subject = OneLine(subject),
        Text = text,
    };
}
