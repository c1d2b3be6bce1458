using System.Globalization;

namespace DriftWatch.Web.Live;

/// <summary>
/// Where a client of the live stream stands: the cursors of the newest finding line and of the newest line of the alarm book
/// it has. As text, and as the id of an event, <c>finding.alarm</c>; the first alone is understood too.
/// </summary>
internal readonly record struct LiveCursor(long Finding, long Alarm)
{
    public static bool TryParse(string text, out long finding, out long? alarm)
    {
        string[] parts = text.Split('.');
        alarm = null;
        if (!long.TryParse(parts[0], NumberStyles.None, CultureInfo.InvariantCulture, out finding) || parts.Length > 2)
        {
            return false;
        }

        if (parts.Length == 1)
        {
            return true;
        }

        bool ok = long.TryParse(parts[1], NumberStyles.None, CultureInfo.InvariantCulture, out long second);
        alarm = ok ? second : null;
        return ok;
    }

    public override string ToString() => string.Create(CultureInfo.InvariantCulture, $"{Finding}.{Alarm}");
}
