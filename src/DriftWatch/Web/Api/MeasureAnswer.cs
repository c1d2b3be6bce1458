using DriftWatch.Analysis.TimingGeometry;
using DriftWatch.Measuring;

namespace DriftWatch.Web.Api;

/// <summary>
/// What a measurement comes to: the words that the command line prints, its numbers, and what there is to draw. Where it can't be
/// told, <c>Told</c> is false and <c>Missing</c> says what is missing and what to do.
/// </summary>
/// <param name="Told">Whether there is an answer at all.</param>
/// <param name="Missing">Why not.</param>
/// <param name="IsSound">Nothing is left to do, or what was looked for was found.</param>
/// <param name="Headline">The one sentence to act on.</param>
/// <param name="Opening">What was read.</param>
/// <param name="Parts">What it says, in the order to read.</param>
/// <param name="Quantities">Its numbers, not rounded.</param>
/// <param name="Drawing">What there is to draw.</param>
/// <param name="Timing">Only of a record of timing errors.</param>
/// <param name="Caution">What can hurt on the way.</param>
/// <param name="TookMilliseconds">What working it out took.</param>
internal sealed record MeasureAnswer(
    bool Told,
    string? Missing,
    bool IsSound,
    string? Headline,
    IReadOnlyList<string> Opening,
    IReadOnlyList<MeasurePartAnswer> Parts,
    IReadOnlyList<Quantity> Quantities,
    Drawing? Drawing,
    TimingRecordAnswer? Timing,
    string? Caution,
    double TookMilliseconds)
{
    public static MeasureAnswer Of(MeasureReport report, TimingReading? timing = null) => new(
        true,
        null,
        report.IsSound,
        report.Headline,
        report.Opening,
        [.. report.Parts.Select(p => new MeasurePartAnswer(Measurement.Channels.Slugs.Of(p.Layout), p.Title, p.Lines, p.Columns, p.Rows))],
        [.. report.Quantities.Select(Finite)],
        report.Drawing,
        timing is null ? null : TimingRecordAnswer.Of(timing),
        report.Caution,
        0);

    public static MeasureAnswer Untold(string missing) => new(false, missing, false, missing, [], [], [], null, null, null, 0);

    /// <summary>JSON has no infinity: an uncertainty without bounds is none.</summary>
    private static Quantity Finite(Quantity quantity) => quantity with
    {
        StandardUncertainty = Finite(quantity.StandardUncertainty), Lower = Finite(quantity.Lower), Upper = Finite(quantity.Upper),
    };

    private static double? Finite(double? value) => value is { } number && double.IsFinite(number) ? number : null;
}

/// <summary>A part of an answer; <c>Layout</c> is text, list, table or figures.</summary>
internal sealed record MeasurePartAnswer(string Layout, string? Title, IReadOnlyList<string> Lines, IReadOnlyList<string> Columns, IReadOnlyList<string[]> Rows);

/// <summary>
/// The points that were fitted: point i belongs to <c>Heads[i]</c> at <c>AnglesDegrees[i]</c>; the fitted line there is error less residual.
/// <c>Advice</c> is null where nothing of the geometry shows.
/// </summary>
internal sealed record TimingRecordAnswer(
    IReadOnlyList<int> Heads,
    IReadOnlyList<double> AnglesDegrees,
    IReadOnlyList<double> ErrorsNs,
    IReadOnlyList<double> ResidualsNs,
    int LeftOut,
    IReadOnlyList<TimingAdviceAnswer>? Advice)
{
    public static TimingRecordAnswer Of(TimingReading reading)
    {
        TimingSamples used = reading.Found.Used;
        return new TimingRecordAnswer(
            used.Heads.ToArray(),
            used.AnglesDegrees.ToArray(),
            used.ErrorsNs.ToArray(),
            reading.Found.ResidualNs,
            reading.File.Samples.Count - used.Count,
            reading.Advice is { } advice
                ? [.. advice.Select(a => new TimingAdviceAnswer(TimingAid.What(a), TimingAid.Verdict(a), a.SureOfSense, a.Text))]
                : null);
    }
}

/// <summary>One piece of advice; <c>Verdict</c> is turn, leave or leave-not-sure, <c>SureOfSense</c> how sure the direction is, 0.5 to 1.</summary>
internal sealed record TimingAdviceAnswer(string What, string Verdict, double SureOfSense, string Text);

internal sealed record MeasurementsAnswer(IReadOnlyList<MeasurementAnswer> Items);

/// <summary>A measurement: POST its fields to <c>/measure/{id}</c>. <c>Caution</c> is null where nothing can hurt.</summary>
internal sealed record MeasurementAnswer(string Id, string Summary, string? Caution);
