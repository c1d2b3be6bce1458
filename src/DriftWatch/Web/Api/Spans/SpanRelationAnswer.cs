using DriftWatch.Analysis;
using DriftWatch.Analysis.Relations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;

namespace DriftWatch.Web.Api.Spans;

/// <summary>
/// Which of two channels moved first in a span, by the cross-correlation of their whitened means of <c>StepSeconds</c> each. <c>Verdict</c> is <c>first-leads</c>,
/// <c>second-leads</c> or <c>cannot-be-told</c>, then <c>Why</c>: <c>no-relation</c>, <c>too-close-to-tell</c>, <c>at-the-end</c>. <c>LagSeconds</c>, with an interval of 95 %:
/// how much later the second moves. <c>RelationP</c>: how often two unrelated channels show as much at any lag. Where there is too little, <c>Untold</c> says what.
/// </summary>
internal sealed record SpanRelationAnswer(
    string Bench,
    string From,
    string To,
    string First,
    string Second,
    double StepSeconds,
    double LongestLagSeconds,
    int Points,
    string? Verdict,
    string? Why,
    double? LagSeconds,
    double? LagSecondsLow,
    double? LagSecondsHigh,
    double? Correlation,
    double? RelationP,
    int? Pairs,
    string? Untold)
{
    /// <summary>Means of a span: what is slower than some thousandths of it is seen. Source: our own choice, answered in a fraction of a second.</summary>
    private const int Means = 4000;

    /// <summary>Lags searched either way, in means. Source: our own choice, a hundredth of the span and more.</summary>
    private const int Lags = 60;

    public static SpanRelationAnswer Of(SpanRequest request, ChannelDefinition first, ChannelDefinition second)
    {
        IBenchView view = request.View;
        SpanGrid grid = request.Grid(Means, first.Period > second.Period ? first.Period : second.Period);
        IReadOnlyList<IReadOnlyList<Bucket>> both = view.Columns([first, second], grid);
        double origin = grid.From.Seconds;
        (double[] firstTimes, double[] firstValues) = Series(both[0], origin);
        (double[] secondTimes, double[] secondValues) = Series(both[1], origin);
        double step = grid.Width / 1e9;
        double longest = step * Math.Clamp(grid.Count / 4, 1, Lags);
        Answer<LeadLagAnswer> answer = LeadLag.Find(firstTimes, firstValues, secondTimes, secondValues, step, longest);
        LeadLagAnswer? told = answer.IsKnown ? answer.Value : null;
        return new SpanRelationAnswer(
            view.Bench.Id,
            UtcText.FromNanoseconds(request.FromUtc),
            UtcText.FromNanoseconds(request.ToUtc),
            first.Id,
            second.Id,
            step,
            longest,
            Math.Min(firstValues.Length, secondValues.Length),
            told is { } a ? VerdictOf(a.Verdict) : null,
            told is { } b ? WhyOf(b.Why) : null,
            Finite(told?.LagSeconds),
            Finite(told?.Lower),
            Finite(told?.Upper),
            Finite(told?.Correlation),
            Finite(told?.RelationP),
            told?.Pairs,
            answer.Missing?.ToString());
    }

    private static (double[] Times, double[] Values) Series(IReadOnlyList<Bucket> buckets, double origin)
    {
        List<Bucket> known = [.. buckets.Where(b => b.Count > 0 && double.IsFinite(b.Mean))];
        return ([.. known.Select(b => ((b.From.Seconds + b.To.Seconds) / 2) - origin)], [.. known.Select(b => b.Mean)]);
    }

    private static string VerdictOf(LeadLagVerdict verdict) => verdict switch
    {
        LeadLagVerdict.FirstLeads => "first-leads",
        LeadLagVerdict.SecondLeads => "second-leads",
        _ => "cannot-be-told",
    };

    private static string? WhyOf(LeadLagReason reason) => reason switch
    {
        LeadLagReason.NoRelation => "no-relation",
        LeadLagReason.TooCloseToTell => "too-close-to-tell",
        LeadLagReason.AtTheEnd => "at-the-end",
        _ => null,
    };

    private static double? Finite(double? value) => value is { } number && double.IsFinite(number) ? number : null;
}
