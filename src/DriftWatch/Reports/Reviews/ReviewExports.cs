using System.Globalization;
using System.Text;
using AnyAscii;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Reports.Reviews;

/// <summary>A stretch of tape as the exports write it.</summary>
/// <param name="FromSeconds">Place on the tape.</param>
/// <param name="ToSeconds">Its end.</param>
/// <param name="RunFromSeconds">Since the run began, as a file of the run counts.</param>
/// <param name="RunToSeconds">Its end since the run began.</param>
/// <param name="What">Kind, or <c>run-again</c>.</param>
/// <param name="Text">Plain words.</param>
internal readonly record struct ReviewRow(double FromSeconds, double ToSeconds, double RunFromSeconds, double RunToSeconds, string What, string Text)
{
    public static ReviewRow Of(TapeSection section) =>
        new(section.FromSeconds, section.ToSeconds, section.RunFromSeconds, section.RunToSeconds, "run-again", string.Join(" ", section.Reasons));

    public static ReviewRow Of(ReviewItem item, long beganUtc) => new(
        item.From.Seconds, item.To.Seconds, (item.FromUtc - beganUtc) / 1e9, (item.ToUtc - beganUtc) / 1e9, item.Kind, item.Text);
}

/// <summary>Sections to run again, and what happened where, for other tools: RFC 4180 CSV, an edit list in CMX 3600 style, WebVTT.</summary>
internal static class ReviewExports
{
    /// <summary>Heading <c>from,to,run-from,run-to,what,text</c>; seconds with milliseconds.</summary>
    public static string Csv(IEnumerable<ReviewRow> rows)
    {
        var text = new StringBuilder("from,to,run-from,run-to,what,text\r\n");
        foreach (ReviewRow row in rows)
        {
            text.Append(CultureInfo.InvariantCulture, $"{row.FromSeconds:0.000},{row.ToSeconds:0.000},{row.RunFromSeconds:0.000},{row.RunToSeconds:0.000},{row.What},{Quoted(row.Text)}\r\n");
        }

        return text.ToString();
    }

    /// <summary>What an edit list can number: three digits. The rest is said in it, and stands in the CSV.</summary>
    private const int MostEvents = 999;

    /// <summary>
    /// One cut for each row: source times are places on the tape, record times follow each other from zero. Non-drop
    /// frames of 30 or 25 a second; a place that is real time and not timecode is counted at 30000/1001 in 525/60.
    /// </summary>
    /// <param name="rows">In the order of the tape.</param>
    /// <param name="title">Shortened to 70 characters; like all words in ASCII, for the format is older than any other set of characters.</param>
    /// <param name="reel">Name of the tape; letters and digits of it, 8 at most.</param>
    /// <param name="standard">"525/60" or "625/50".</param>
    /// <param name="basis">Of the places.</param>
    public static string EditList(IEnumerable<ReviewRow> rows, string title, string reel, string standard, PositionBasis basis)
    {
        int rate = standard == "625/50" ? 25 : 30;
        double framesPerSecond = rate == 25 || basis == PositionBasis.Timecode ? rate : 30_000 / 1001.0;
        string source = new([.. reel.ToUpperInvariant().Where(char.IsAsciiLetterOrDigit).Take(8)]);
        source = source.Length == 0 ? "TAPE" : source;
        var text = new StringBuilder();
        string line = Plain(OneLine(title));
        text.Append(CultureInfo.InvariantCulture, $"TITLE: {line[..Math.Min(70, line.Length)]}\r\nFCM: NON-DROP FRAME\r\n");
        long recorded = 0;
        int number = 0;
        List<ReviewRow> all = [.. rows];
        foreach (ReviewRow row in all.Take(MostEvents))
        {
            // Whole frames around the stretch, and one at least, so that nothing of it is cut away.
            long from = Math.Max(0, (long)Math.Floor(row.FromSeconds * framesPerSecond));
            // What lasts over a counter's being set anew is as long as it ran: its last place lies before its first, or anywhere.
            double end = row.ToSeconds < row.FromSeconds ? row.FromSeconds + row.RunToSeconds - row.RunFromSeconds : row.ToSeconds;
            long to = Math.Max(from + 1, (long)Math.Ceiling(end * framesPerSecond));
            text.Append(CultureInfo.InvariantCulture, $"\r\n{++number:000}  {source,-8} B     C        {Code(from, rate)} {Code(to, rate)} {Code(recorded, rate)} {Code(recorded + to - from, rate)}\r\n* {Plain(OneLine(row.Text))}\r\n");
            if (row.FromSeconds < 0)
            {
                text.Append("* IT BEGINS BEFORE 00:00:00:00 OF THE COUNTER, WHICH THIS FORMAT CAN'T TELL. THE CSV HAS THE PLACE.\r\n");
            }

            recorded += to - from;
        }

        if (all.Count > MostEvents)
        {
            text.Append(CultureInfo.InvariantCulture, $"\r\n* THIS LIST HAS {MostEvents} OF {all.Count} EVENTS, AS MANY AS ITS FORMAT CAN NUMBER. THE CSV HAS THEM ALL.\r\n");
        }

        return text.ToString();
    }

    /// <summary>One cue for each row, in seconds since the run began; an instant shows for a second.</summary>
    /// <param name="rows">By their beginning.</param>
    /// <param name="title">Stands behind the signature.</param>
    public static string WebVtt(IEnumerable<ReviewRow> rows, string title)
    {
        var text = new StringBuilder();
        text.Append(CultureInfo.InvariantCulture, $"WEBVTT - {Cue(OneLine(title))}\n");
        int number = 0;
        foreach (ReviewRow row in rows)
        {
            double to = Math.Max(row.RunToSeconds, row.RunFromSeconds + 1);
            text.Append(CultureInfo.InvariantCulture, $"\n{++number}\n{Clock(row.RunFromSeconds)} --> {Clock(to)}\n{Cue(OneLine($"{row.What}: {row.Text}"))}\n");
        }

        return text.ToString();
    }

    private static string Code(long frames, int rate)
    {
        long seconds = frames / rate;
        return string.Create(CultureInfo.InvariantCulture, $"{seconds / 3600 % 24:00}:{seconds / 60 % 60:00}:{seconds % 60:00}:{frames % rate:00}");
    }

    private static string Clock(double seconds)
    {
        long milliseconds = Math.Max(0, (long)Math.Round(seconds * 1000));
        return string.Create(CultureInfo.InvariantCulture, $"{milliseconds / 3_600_000:00}:{milliseconds / 60_000 % 60:00}:{milliseconds / 1000 % 60:00}.{milliseconds % 1000:000}");
    }

    /// <summary>In ASCII; a degree is written out, which the library's table drops.</summary>
    private static string Plain(string text) => text.Replace("°", "deg ", StringComparison.Ordinal).Transliterate();

    private static string OneLine(string text) => string.Join(' ', text.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));

    private static string Cue(string text) => text
        .Replace("&", "&amp;", StringComparison.Ordinal).Replace("<", "&lt;", StringComparison.Ordinal).Replace(">", "&gt;", StringComparison.Ordinal);

    private static string Quoted(string text) => $"\"{text.Replace("\"", "\"\"", StringComparison.Ordinal)}\"";
}
