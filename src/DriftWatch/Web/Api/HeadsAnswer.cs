namespace DriftWatch.Web.Api;

/// <summary>The heads against each other and each against its baseline, by the newest readings. Levels and differences in dB.</summary>
/// <param name="Bench">Its id.</param>
/// <param name="At">Now, UTC.</param>
/// <param name="State">Of the machine, as a slug.</param>
/// <param name="SpreadDb">Highest less lowest level; null with fewer than two heads.</param>
/// <param name="Tells">one-head-only, agree, one-apart, either-of-two, divided; null without any level.</param>
/// <param name="OddHead">The head that lies apart; null where none can be named.</param>
/// <param name="Says">In words.</param>
/// <param name="Baseline">The newest baseline that knows these heads; null where there is none.</param>
/// <param name="Heads">In the order of the heads.</param>
internal sealed record HeadsAnswer(
    string Bench, string At, string State, double? SpreadDb, string? Tells, int? OddHead, string Says, HeadBaselineAnswer? Baseline, IReadOnlyList<HeadAnswer> Heads);

/// <summary>When a baseline was taken, by whom (a name, or <c>automatic</c>), and how sure it is: provisional, stable, confirmed.</summary>
internal sealed record HeadBaselineAnswer(string At, string By, string Standing);

/// <summary>
/// One head. <c>LevelDb</c> is null where its reading is a fault or older than its staleness limit: then <c>Says</c> tells why.
/// <c>FromOthersDb</c> is the level less the mean of the other heads. <c>Standing</c>: good, advisory, alarm, not-judged, no-data, fault.
/// </summary>
internal sealed record HeadAnswer(
    int Head,
    string Channel,
    string Label,
    double? LevelDb,
    double? AgeSeconds,
    double? BaselineDb,
    double? FromBaselineDb,
    double? FromOthersDb,
    string Standing,
    string Says,
    IReadOnlyList<HeadLimitAnswer> Limits,
    HeadTrendAnswer Trend);

/// <summary>How a head's level goes, in dB an hour with its interval of 95 %; null, and <c>Says</c> why, where that can't be told or the head tells nothing now.</summary>
internal sealed record HeadTrendAnswer(double? DbPerHour, double? DbPerHourLow, double? DbPerHourHigh, double? MinutesLeft, string Says);

/// <summary>A limit of one head: where it lies now in dB, null where it waits for a baseline.</summary>
internal sealed record HeadLimitAnswer(string Side, string Severity, double? AtDb, string Source);
