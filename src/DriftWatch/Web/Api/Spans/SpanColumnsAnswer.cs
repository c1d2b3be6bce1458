using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;

namespace DriftWatch.Web.Api.Spans;

/// <summary>
/// All channels of a span on the same columns. Column i of <c>Count</c> begins at the instant of the last of <c>Starts</c> that is not
/// after it, plus <c>ColumnSeconds</c> for each column since: one entry, and one more wherever the clock was set. No reading of a column is lost:
/// its least and greatest are in it, at any width.
/// </summary>
internal sealed record SpanColumnsAnswer(
    string Bench,
    string From,
    string To,
    string Now,
    double ColumnSeconds,
    int Count,
    IReadOnlyList<SpanStart> Starts,
    IReadOnlyList<ChannelColumnsAnswer> Channels)
{
    public static SpanColumnsAnswer Of(SpanRequest request, int columns)
    {
        IBenchView view = request.View;
        SpanGrid grid = request.Grid(columns);
        IReadOnlyList<IReadOnlyList<Bucket>> all = view.Columns(request.Channels, grid);
        return new SpanColumnsAnswer(
            view.Bench.Id,
            UtcText.FromNanoseconds(request.FromUtc),
            UtcText.FromNanoseconds(request.ToUtc),
            UtcText.FromNanoseconds(view.ToUtcNanoseconds(view.Now)),
            grid.Width / 1e9,
            grid.Count,
            StartsOf(grid, view),
            [.. request.Channels.Select((channel, i) => ChannelColumnsAnswer.Of(channel, grid, all[i]))]);
    }

    public static IReadOnlyList<SpanStart> StartsOf(SpanGrid grid, IBenchView view) =>
        [.. grid.Anchors(view).Select(a => new SpanStart((int)((a.Engine.Nanoseconds / grid.Width) - grid.First), UtcText.FromNanoseconds(a.UtcNanoseconds)))];
}

/// <summary>From column <c>Column</c> on, columns are counted from the instant <c>At</c>.</summary>
internal sealed record SpanStart(int Column, string At);

/// <summary>
/// One channel, in <c>Unit</c>, a number a column and null where nothing was measured. <c>Faults</c> holds pairs: a column, and how many
/// readings in it were faults. Numbers are rounded to seven figures.
/// </summary>
internal sealed record ChannelColumnsAnswer(
    string Id,
    string Unit,
    IReadOnlyList<double?> Minimum,
    IReadOnlyList<double?> Maximum,
    IReadOnlyList<double?> Mean,
    IReadOnlyList<int> Faults)
{
    /// <summary>More than any screen shows and any instrument here resolves.</summary>
    private const int Figures = 7;

    public static ChannelColumnsAnswer Of(ChannelDefinition channel, SpanGrid grid, IReadOnlyList<Bucket> buckets)
    {
        var minimum = new double?[grid.Count];
        var maximum = new double?[grid.Count];
        var mean = new double?[grid.Count];
        var faults = new List<int>();
        foreach (Bucket bucket in buckets)
        {
            int at = (int)(((bucket.From.Nanoseconds + (grid.Width / 2)) / grid.Width) - grid.First);
            if (at < 0 || at >= grid.Count)
            {
                continue;
            }

            if (bucket.Count > 0 && double.IsFinite(bucket.Mean))
            {
                minimum[at] = Rounded(bucket.Minimum);
                maximum[at] = Rounded(bucket.Maximum);
                mean[at] = Rounded(bucket.Mean);
            }

            if (bucket.Faults > 0)
            {
                faults.Add(at);
                faults.Add(bucket.Faults);
            }
        }

        return new ChannelColumnsAnswer(channel.Id, channel.Unit, minimum, maximum, mean, faults);
    }

    private static double? Rounded(double value)
    {
        if (value == 0 || !double.IsFinite(value))
        {
            return double.IsFinite(value) ? value : null;
        }

        int places = Figures - 1 - (int)Math.Floor(Math.Log10(Math.Abs(value)));
        return places is >= 0 and <= 15 ? Math.Round(value, places) : value;
    }
}
