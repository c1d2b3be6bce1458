using DriftWatch.Analysis;
using DriftWatch.Measurement.Alarms;

namespace DriftWatch.Watch.Alarms.Health;

/// <summary>How often a tag called, and its share of all calls of the span.</summary>
public sealed record TagCount(string Tag, int Calls, double Share);

/// <summary>The most often a tag was raised within one minute, and when that minute ended.</summary>
public sealed record ChatteringTag(string Tag, int MostInAMinute, long AtUtc);

/// <summary>An alarm that stood for more than a day of what was watched; until null where it had not returned by the end of the span.</summary>
public sealed record StaleAlarm(string Id, string Tag, long SinceUtc, long? UntilUtc);

/// <summary>Calls of one priority, their share of all calls of the span (unknown without a call), and what it is held against.</summary>
public sealed record PriorityShare(AlarmPriority Priority, int Calls, Answer<double> Share, double Target);

/// <summary>How an alarm system did over a span. What a rate or a share could not be told from says so.</summary>
public sealed record AlarmHealthReport
{
    public required UtcStretch Span { get; init; }

    public required double WatchedMinutes { get; init; }

    /// <summary>Lines of the book that ask for a person.</summary>
    public required int Calls { get; init; }

    public required Answer<double> CallsPerTenMinutes { get; init; }

    /// <summary>Of a span shorter than a day: what a day at that pace would hold.</summary>
    public required Answer<double> CallsPerDay { get; init; }

    /// <summary>Whole ten-minute periods that were watched, and how many of them had more than ten calls.</summary>
    public required int Periods { get; init; }

    public required int PeriodsOver { get; init; }

    public required Answer<double> ShareOver { get; init; }

    /// <summary>The most calls of one such period.</summary>
    public required int MostInAPeriod { get; init; }

    /// <summary>Floods that lasted at some time of the span, by fixed periods and by the sliding window.</summary>
    public required IReadOnlyList<AlarmFlood> FloodsByPeriods { get; init; }

    public required IReadOnlyList<AlarmFlood> Floods { get; init; }

    public required IReadOnlyList<ChatteringTag> Chattering { get; init; }

    /// <summary>Alarms that had stood for more than a day at some time of the span, the longest first.</summary>
    public required IReadOnlyList<StaleAlarm> Stale { get; init; }

    /// <summary>Alarms whose trouble existed at the end of the span, by how they stood.</summary>
    public required IReadOnlyDictionary<AlarmState, int> Standing { get; init; }

    /// <summary>Alarms that waited for a person at the end of the span, whether their trouble existed or not.</summary>
    public required int Waiting { get; init; }

    public required IReadOnlyList<TagCount> MostFrequent { get; init; }

    /// <summary>Share that the most frequent tags together have of all calls.</summary>
    public required Answer<double> MostFrequentShare { get; init; }

    /// <summary>Low, medium, high.</summary>
    public required IReadOnlyList<PriorityShare> Priorities { get; init; }

    /// <summary>Times a person acknowledged in the span, and how long the alarm had called by then.</summary>
    public required int Acknowledged { get; init; }

    public required Answer<double> MeanSecondsToAcknowledge { get; init; }

    public required Answer<double> LongestSecondsToAcknowledge { get; init; }
}
