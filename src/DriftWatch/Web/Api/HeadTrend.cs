using System.Globalization;
using DriftWatch.Running;
using DriftWatch.Watch.Drifts;

namespace DriftWatch.Web.Api;

/// <summary>The drift of one head's RF in words, from the table that judgement makes once a minute.</summary>
internal static class HeadTrend
{
    /// <summary>A table of which two makings in a row are missing tells nothing of now.</summary>
    private static readonly TimeSpan TooOld = TimeSpan.FromMinutes(3);

    public static HeadTrendAnswer Of(IBenchView view, string channel, bool isFresh)
    {
        DriftTable table = view.Drifts;
        if (!isFresh)
        {
            return Untold("no level now");
        }

        if (table.At is not { } at || view.Now - at > TooOld)
        {
            return Untold("not looked at of late");
        }

        return table.Items.FirstOrDefault(d => d.Id == channel) switch
        {
            { SlopePerHour: { } slope, SlopePerHourLow: { } low, SlopePerHourHigh: { } high } drift =>
                new HeadTrendAnswer(slope, low, high, drift.MinutesLeft, Words(slope, low, high, drift)),
            { Untold: "no-baseline" } => Untold("waits for a baseline"),
            { Untold: "too-little-seen" } => Untold("too little seen yet"),
            _ => Untold("not followed"),
        };
    }

    private static string Words(double slope, double low, double high, ChannelDrift drift)
    {
        string over = drift.WindowMinutes is { } window ? Text($" over {window:0} min") : "";
        if (low <= 0 && high >= 0)
        {
            string word = IsSteady(slope, low, high, drift) ? "steady" : "can't be told yet";
            return Text($"{word}{over}: {slope:+0.0;-0.0;0.0} dB/h (95 %: {low:+0.0;-0.0;0.0} to {high:+0.0;-0.0;0.0})");
        }

        string way = slope < 0 ? "falls" : "rises";
        double least = Math.Min(Math.Abs(low), Math.Abs(high));
        double most = Math.Max(Math.Abs(low), Math.Abs(high));
        string limit = drift.MinutesLeft is { } left ? Text($"; at its limit in {left:0} min at this rate") : "";
        return Text($"{way} {Math.Abs(slope):0.0} dB/h{over} (95 %: {least:0.0} to {most:0.0}){limit}");
    }

    /// <summary>That no slope is seen for the noise is not standing still: the page's own rule, an eighth of the tolerance in an hour at most.</summary>
    private static bool IsSteady(double slope, double low, double high, ChannelDrift drift) =>
        slope == 0 || drift.UsedSharePerHour is not { } used || Math.Max(Math.Abs(low), Math.Abs(high)) * Math.Abs(used / slope) < 0.125;

    private static HeadTrendAnswer Untold(string why) => new(null, null, null, null, why);

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
