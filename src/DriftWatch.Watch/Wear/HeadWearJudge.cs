using System.Globalization;
using System.Text.Json;
using DriftWatch.Analysis.RfHeads;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Watch.Quantities;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Wear;

/// <summary>
/// Says that one head wears: that its level against the median of the others, of which the tape has no part, falls from
/// line-up to line-up over weeks. A tape's own baseline takes in what has been lost before, so no limit against it tells. Said on the
/// head's RF channel by <see cref="HeadWear"/> when
/// <list type="number">
/// <item>the fall is beyond doubt (<see cref="Confidence"/>), and more than <see cref="LeastFallDb"/>,</item>
/// <item>no single step explains it better: an exchange or a clog is none.</item>
/// </list>
/// It is said again when the fall has grown by <see cref="SaidAgainDb"/>, and ends when a line-up shows that it is so no longer.
/// </summary>
internal sealed class HeadWearJudge
{
    /// <summary>Less is not worth a word. Source: threshold table, a head within ±1 dB of its line-up is normal; common practice, no source.</summary>
    public const double LeastFallDb = 1;

    /// <summary>Of the interval that leaves no fall out, for all heads together. Source: derived by simulation, see the folder's page.</summary>
    public const double Confidence = 0.99;

    /// <summary>Source: common practice, no source (a quarter of the advisory of 2 dB).</summary>
    public const double SaidAgainDb = 0.5;

    // Of what is told to a person. Source: common practice.
    private const double Told = 0.95;
    private const string Source = "common practice, no source";

    private readonly LineUpRecord _record = new();
    private readonly OpenFinding?[] _findings = new OpenFinding?[FourHeads.Count + 1];
    private readonly double[] _saidFallDb = new double[FourHeads.Count + 1];
    private string? _machine;

    /// <summary>A bench comes into force: another machine, or other detectors, and what was seen is of no use.</summary>
    public void Seat(WatchContext context, BenchDefinition bench)
    {
        string machine = string.Join('\n', [bench.Id, bench.Machine.Label, .. context.Roles.Of(ChannelRole.RfLevel)
            .Select(c => JsonSerializer.Serialize(new { c.Definition.Id, c.Definition.Head, c.Definition.Unit, c.Definition.Calibration }))]);
        if (_machine is not null && machine != _machine)
        {
            Forget(context);
        }

        _machine = machine;
    }

    /// <summary>The levels of before can't be compared with those to come.</summary>
    public void Forget(WatchContext context)
    {
        _record.Clear();
        for (int head = 1; head <= FourHeads.Count; head++)
        {
            context.Desk.TakeOutOfService(ref _findings[head], context.Now);
        }
    }

    /// <summary>The machine is lined up on a tape: the means of the last 30 s are kept, and judged with those kept before.</summary>
    public void Keep(WatchContext context, long utcNanoseconds)
    {
        FourHeads levels = default;
        foreach (ChannelWatch channel in context.Roles.Of(ChannelRole.RfLevel))
        {
            if (channel.Definition.Head is { } head && levels[head] is null && channel.IsFresh(context.Now) && channel.Means.MeanAt(context.Now) is { } mean)
            {
                levels = levels.With(head, mean);
            }
        }

        if (levels.Known < 3)
        {
            return; // no head can be held against two others
        }

        _record.Keep(new LineUp(context.Now, utcNanoseconds, levels));
        DateTimeOffset[] dates = _record.Dates;
        FourHeads[] all = _record.LevelsDb;
        for (int head = 1; head <= FourHeads.Count; head++)
        {
            Judge(context, head, HeadWear.Of(dates, all, head, Confidence) is { IsKnown: true, Value: var trend } ? trend : null);
        }
    }

    public void Sync(StateArchive archive, FindingDesk desk)
    {
        _record.Sync(archive);
        archive.Sync(ref _machine);
        for (int head = 1; head <= FourHeads.Count; head++)
        {
            desk.Sync(archive, ref _findings[head]);
            archive.Sync(ref _saidFallDb[head]);
        }
    }

    /// <summary>What is said of a head, or not: the claim alone.</summary>
    public static bool IsWorn(HeadWearTrend trend) => trend.IsClaimed && !trend.IsOneStep && trend.FallDb >= LeastFallDb;

    private void Judge(WatchContext context, int head, HeadWearTrend? known)
    {
        ref OpenFinding? finding = ref _findings[head];
        if (known is { } trend && IsWorn(trend) && ChannelOf(context, head) is { } channel)
        {
            if (finding is null || Math.Abs(trend.FallDb - _saidFallDb[head]) >= SaidAgainDb)
            {
                _saidFallDb[head] = trend.FallDb;
                FindingFacts facts = Facts(context, channel, trend);
                if (finding is null)
                {
                    finding = context.Desk.Raise(facts);
                }
                else
                {
                    context.Desk.Update(finding, facts);
                }
            }
        }
        else if (finding is not null && (known is null || known.Value.FallDb < LeastFallDb / 2 || known.Value.DbPerMonth(Told).Upper >= 0))
        {
            context.Desk.End(finding, context.Now, "recovered", $"Head {Whole(head)} no longer falls against the others from line-up to line-up.");
            finding = null;
        }
    }

    private FindingFacts Facts(WatchContext context, ChannelWatch channel, HeadWearTrend trend)
    {
        (double perMonth, double low, double high) = trend.DbPerMonth(Told);
        double days = 7 * trend.Weeks;
        List<FindingDetail> details =
        [
            new("head", trend.Head),
            new("dbPerMonth", perMonth),
            new("dbPerMonthLow", low),
            new("dbPerMonthHigh", high),
            new("fallDb", trend.FallDb),
            new("overOthersDb", trend.Line.At(days)),
            new("lineUps", trend.Baselines),
            new("days", days),
        ];
        string outlook = "";
        if (SpreadLimitDb(context) is { } limit && trend.DaysTo(-limit, Told) is { IsKnown: true, Value: var (best, earliest) })
        {
            details.Add(new("limitDb", -limit));
            details.Add(new("daysLeft", best));
            details.Add(new("daysLeftEarliest", earliest));
            outlook = best > 0
                ? $" At this rate it is {Say.Number(limit)} dB below them in {Whole(best)} days, in {Whole(earliest)} at the earliest."
                : $" It is more than {Say.Number(limit)} dB below them now.";
        }

        return new FindingFacts
        {
            Kind = FindingKinds.Wear,
            Channel = channel.Definition.Id,
            Severity = Severity.Advisory,
            Start = _findings[trend.Head]?.Line.Start ?? _record.First,
            Value = -trend.FallDb,
            Limit = -LeastFallDb,
            Unit = "dB",
            LimitSource = Source,
            Cause = "head-worn",
            Text = $"Head {Whole(trend.Head)} has fallen by {Say.Number(trend.FallDb)} dB against the others in {Whole(trend.Baselines)} line-ups of {Whole(days)} days, by {Say.Number(-perMonth)} dB a month ({Say.Number(-high)} to {Say.Number(-low)}), as a worn tip does.{outlook} With the wheel at rest clean its tip as the machine's manual says and line up again; if it stays low, plan the exchange of the wheel.",
            Details = details,
        };
    }

    /// <summary>How far a head may lie below the others: the advisory limit of their spread.</summary>
    private static double? SpreadLimitDb(WatchContext context)
    {
        IReadOnlyList<LimitDefinition> limits = context.Quantities.Of(QuantityKind.RfSpread)?.Definition.Limits ?? [];
        return limits.FirstOrDefault(l => l is { Side: LimitSide.High, Severity: Severity.Advisory, Reference: LimitReference.Absolute })?.Value;
    }

    private static ChannelWatch? ChannelOf(WatchContext context, int head) =>
        Array.Find(context.Roles.Of(ChannelRole.RfLevel), c => c.Definition.Head == head);

    private static string Whole(double number) => number.ToString("0", CultureInfo.InvariantCulture);
}
