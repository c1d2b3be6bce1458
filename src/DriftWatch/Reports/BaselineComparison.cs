using DriftWatch.Analysis;
using DriftWatch.Analysis.Trend;
using DriftWatch.Measurement.Baselines;

namespace DriftWatch.Reports;

/// <summary>One channel of two baselines.</summary>
/// <param name="Channel">Id.</param>
/// <param name="Unit">Of both; where they differ, of the later one, and nothing is subtracted.</param>
/// <param name="Before">In the earlier baseline; null where it is not in it.</param>
/// <param name="After">In the later one.</param>
/// <param name="Difference">Later less earlier; null where one is missing or the unit changed.</param>
/// <param name="Errors">The difference in standard errors of both; null where one has none.</param>
/// <param name="Remark">Why not, or what else changed; empty for nothing.</param>
internal sealed record BaselineDifference(string Channel, string Unit, BaselineValue? Before, BaselineValue? After, double? Difference, double? Errors, string Remark);

/// <summary>One channel over many baselines: wear. Slopes in the unit a week; the interval holds 95 %.</summary>
/// <param name="Count">Baselines that hold the channel.</param>
/// <param name="Days">From the first to the last.</param>
/// <param name="PerWeek">Median slope of all pairs (Theil-Sen).</param>
/// <param name="Low">Sen's lower limit.</param>
/// <param name="High">Sen's upper limit.</param>
/// <param name="Significance">Two-sided, of Mann-Kendall; a shortfall below ten baselines.</param>
internal sealed record BaselineTrend(int Count, double Days, double PerWeek, double Low, double High, Answer<double> Significance);

/// <summary>Baselines held against each other: two of them channel by channel, or one channel over all.</summary>
internal static class BaselineComparison
{
    private const double SecondsPerDay = 86_400;

    /// <summary>In the order of the later one; what only the earlier one has stands at the end.</summary>
    public static List<BaselineDifference> Of(TakenBaseline before, TakenBaseline after)
    {
        var differences = new List<BaselineDifference>();
        foreach (BaselineValue now in after.Values)
        {
            differences.Add(Of(before.Values.FirstOrDefault(v => v.Channel == now.Channel), now));
        }

        differences.AddRange(before.Values
            .Where(was => after.Values.All(v => v.Channel != was.Channel))
            .Select(was => new BaselineDifference(was.Channel, was.Unit, was, null, null, null, "only in the earlier one")));
        return differences;
    }

    /// <summary>The channel's value over time; baselines without it, or in another unit than the last, are left out.</summary>
    /// <returns>A shortfall below <see cref="TheilSen.LeastPoints"/> baselines.</returns>
    public static Answer<BaselineTrend> Trend(IReadOnlyList<TakenBaseline> baselines, string channel)
    {
        List<(double Seconds, double Value)> points = Points(baselines, channel);
        if (points.Count < TheilSen.LeastPoints)
        {
            return new Shortfall("baselines", points.Count, TheilSen.LeastPoints);
        }

        double origin = points[0].Seconds;
        double[] days = [.. points.Select(p => (p.Seconds - origin) / SecondsPerDay)];
        double[] values = [.. points.Select(p => p.Value)];
        Answer<TheilSenFit> fit = TheilSen.Fit(days, values);
        if (!fit.IsKnown)
        {
            return fit.Missing!;
        }

        Answer<MannKendallResult> test = MannKendall.Test(values);
        return new BaselineTrend(
            points.Count, days[^1], 7 * fit.Value.Slope, 7 * fit.Value.Lower, 7 * fit.Value.Upper, test.IsKnown ? test.Value.P : test.Missing!);
    }

    private static BaselineDifference Of(BaselineValue? before, BaselineValue after)
    {
        if (before is null)
        {
            return new BaselineDifference(after.Channel, after.Unit, null, after, null, null, "only in the later one");
        }

        if (before.Unit != after.Unit)
        {
            return new BaselineDifference(after.Channel, after.Unit, before, after, null, null, $"the unit was {before.Unit}");
        }

        double difference = after.Value - before.Value;
        double? error = Math.Sqrt((before.StandardError * before.StandardError) + (after.StandardError * after.StandardError) ?? double.NaN);
        return new BaselineDifference(
            after.Channel, after.Unit, before, after, difference, error is > 0 ? difference / error : null,
            before.CalibrationVersion != after.CalibrationVersion ? $"calibration {before.CalibrationVersion} then, {after.CalibrationVersion} now" : "");
    }

    private static List<(double Seconds, double Value)> Points(IReadOnlyList<TakenBaseline> baselines, string channel)
    {
        string? unit = null;
        var points = new List<(double, double)>();
        foreach (TakenBaseline baseline in baselines.OrderByDescending(b => b.UtcNanoseconds))
        {
            if (baseline.Values.FirstOrDefault(v => v.Channel == channel) is { } value && (unit ??= value.Unit) == value.Unit)
            {
                points.Add((baseline.UtcNanoseconds / 1e9, value.Value));
            }
        }

        points.Reverse();
        return points;
    }
}
