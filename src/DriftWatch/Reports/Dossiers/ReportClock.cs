using System.Globalization;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Dossiers.Figures;
using DriftWatch.Watch.Alarms.Health;

namespace DriftWatch.Reports.Dossiers;

/// <summary>Instants and lengths of time in words, in the zone of the report, which is always named.</summary>
internal sealed class ReportClock(TimeZoneInfo zone)
{
    public string Zone => FigureFrame.ZoneName(zone);

    /// <summary>Date and time, without the zone's name: a table's head has it.</summary>
    public string Instant(long utc) => In(utc).ToString("d MMM yyyy HH:mm:ss", CultureInfo.InvariantCulture);

    public string Time(long utc) => In(utc).ToString("HH:mm:ss", CultureInfo.InvariantCulture);

    /// <summary>From and to with date and zone; the date once where it is one.</summary>
    public string Stretch(UtcStretch stretch) =>
        $"{Instant(stretch.FromUtc)} to {(In(stretch.FromUtc).Date == In(stretch.ToUtc).Date ? Time(stretch.ToUtc) : Instant(stretch.ToUtc))} {Zone}";

    /// <summary>A length of time such as <c>1 h 25 min</c>; below ten minutes with its seconds.</summary>
    public static string Length(long nanoseconds)
    {
        var length = TimeSpan.FromSeconds(Math.Round(nanoseconds / 1e9));
        return length.TotalSeconds < 60 ? $"{length.TotalSeconds:0} s"
            : length.TotalMinutes < 10 ? $"{(int)length.TotalMinutes} min {length.Seconds} s"
            : length.TotalMinutes < 60 ? $"{length.TotalMinutes:0} min"
            : $"{(int)length.TotalHours} h {length.Minutes} min";
    }

    private DateTimeOffset In(long utc) => TimeZoneInfo.ConvertTime(UtcText.ToDateTimeOffset(utc), zone);
}
