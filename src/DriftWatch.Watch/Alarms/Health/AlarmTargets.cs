namespace DriftWatch.Watch.Alarms.Health;

/// <summary>
/// The figures an alarm system is held against, and what is known of where each comes from. They are those that people cite
/// from ANSI/ISA-18.2, IEC 62682 and EEMUA 191; the texts were not readable here, so that no conformance is claimed: a figure
/// is out of articles about them or from memory, and says which. They were made for a control room's operator; a person beside
/// one tape machine can take them as the upper end of what is bearable.
/// </summary>
public static class AlarmTargets
{
    private const string Articles = "secondary sources";
    private const string Memory = "from memory";

    /// <summary>The length of a period, in minutes. Source: secondary sources, which count in ten minutes.</summary>
    public const int PeriodMinutes = 10;

    /// <summary>Calls in ten minutes that a person can follow. Source: secondary sources.</summary>
    public static HealthTarget PerTenMinutes { get; } = new(1, 2, "about 1, at most 2", Articles + " (about 1); " + Memory + " (at most 2)");

    /// <summary>The same for a day. Source: from memory.</summary>
    public static HealthTarget PerDay { get; } = new(150, 300, "about 150, at most 300", Memory);

    /// <summary>More calls than this in ten minutes are a flood. Source: secondary sources.</summary>
    public const int FloodBegins = 10;

    /// <summary>With fewer calls than this in ten minutes a flood is over. Source: from memory.</summary>
    public const int FloodEnds = 5;

    /// <summary>Share of ten-minute periods with a flood's number of calls. Source: from memory.</summary>
    public static HealthTarget ShareOver { get; } = new(0.01, 0.01, "under 1 %", Memory);

    /// <summary>Floods and chattering: none. Source: from memory.</summary>
    public static HealthTarget None { get; } = new(0, 0, "none", Memory);

    /// <summary>The same tag raised this often within a minute chatters. Source: from memory.</summary>
    public const int ChatterRaised = 3;

    /// <summary>Longer than this, in hours, and an alarm that stands is stale: it tells nobody anything. Source: from memory.</summary>
    public const int StaleHours = 24;

    /// <summary>Stale alarms on any day. Source: from memory (fewer than five).</summary>
    public static HealthTarget Stale { get; } = new(0, 4, "none, at most 4", Memory);

    /// <summary>Alarms that stand at once. Source: from memory (fewer than ten on average).</summary>
    public static HealthTarget Standing { get; } = new(9, 9, "under 10", Memory);

    /// <summary>
    /// What is cited of the share of the ten most frequent. It is of plants with thousands of alarms: a machine has some sixty, of which ten are
    /// most of what ever calls, so that it is shown and nothing is held against it. Source: secondary sources.
    /// </summary>
    public const string MostFrequentCited = "1 % to 5 % is cited, of plants with thousands of alarms; not held against one machine";

    /// <summary>How many of the most frequent tags are shown. Source: from memory.</summary>
    public const int MostFrequent = 10;

    /// <summary>Shares of low, medium and high among the calls. Source: from memory.</summary>
    public static IReadOnlyList<double> PriorityShares { get; } = [0.80, 0.15, 0.05];

    /// <summary>With fewer calls than this nothing is said of the shares. Derived: 5 % of 20 is one call.</summary>
    public const int LeastCallsForShares = 20;

    public static string FloodSource => Articles + " (more than 10); " + Memory + " (until fewer than 5)";

    public static string ArticlesSource => Articles;

    public static string MemorySource => Memory;
}

/// <param name="Good">Up to here all is well.</param>
/// <param name="Most">Up to here it can be managed.</param>
/// <param name="Text">The same for a person.</param>
/// <param name="Source">Where the figures come from, as far as that is known.</param>
public sealed record HealthTarget(double Good, double Most, string Text, string Source)
{
    public HealthVerdict Judge(double value) =>
        value <= Good ? HealthVerdict.Within : value <= Most ? HealthVerdict.Bearable : HealthVerdict.Over;
}

/// <summary>How a measure stands against its target. Append only: the slugs stand in the API.</summary>
public enum HealthVerdict
{
    /// <summary>Shown for itself: no target is known.</summary>
    NoTarget,
    Within,

    /// <summary>Over what is good, within what can be managed.</summary>
    Bearable,
    Over,

    /// <summary>Not enough was watched to say.</summary>
    CannotTell,
}
