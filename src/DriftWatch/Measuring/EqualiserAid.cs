using System.Globalization;
using DriftWatch.Analysis;
using DriftWatch.Analysis.RfHeads;

namespace DriftWatch.Measuring;

/// <summary>The dip in a sweep of the master equaliser: columns setting, level.</summary>
internal static class EqualiserAid
{
    /// <exception cref="Acquisition.Recordings.RecordingException">A mistake in the table.</exception>
    /// <exception cref="CannotTellException">Too few readings.</exception>
    public static MeasureReport Read(NumberTable table)
    {
        if (!table.Has("setting") || !table.Has("level"))
        {
            throw table.Unfit("the heading names no sweep of the equaliser", "write the columns setting, level");
        }

        double[] settings = table.Column("setting");
        double[] levels = table.Column("level");
        Answer<EqualiserReading> answer = EqualiserSweep.Read(settings, levels);
        if (!answer.IsKnown)
        {
            throw new CannotTellException($"{answer.Missing}. Read the level at more settings.");
        }

        EqualiserReading reading = answer.Value;
        string opening = $"{settings.Length} readings at settings {Number(settings.Min())} to {Number(settings.Max())}; they scatter by {Number(reading.Scatter)} about a smooth curve.";
        string[] says = reading.Dip is { } dip
            ? [
                $"The level rises to a top at {Number(dip.TopSetting)}, dips by {Number(dip.Depth.Value)} ± {Number(dip.Depth.Expanded())} and rises again.",
                $"Set the equaliser to the dip: {Number(dip.Setting)} (95 %: {Number(dip.Lower)} to {Number(dip.Upper)}).",
            ]
            : [WhyNot(reading.Shape)];
        return new MeasureReport([opening], [ReportPart.Text(says) with { IsJoined = true }], reading.Dip is not null)
        {
            Headline = says[^1],
            Caution = Cautions.Wheel,
            Quantities = reading.Dip is { } found
                ? [new Quantity("dip", found.Setting, "1", Lower: found.Lower, Upper: found.Upper), Quantity.Of("depth", found.Depth, "1")]
                : [],
            Drawing = new Drawing("setting", "level")
            {
                Traces =
                [
                    new Trace("level", false, 0, settings, levels),
                    new Trace("smooth curve", true, 0, [.. reading.Curve.Select(p => p.Setting)], [.. reading.Curve.Select(p => p.Level)]),
                ],
                Places = reading.Dip is { } at ? [new Place("dip", at.Setting, at.Lower, at.Upper)] : [],
            },
        };
    }

    private static string WhyNot(SweepShape shape) => "No dip: " + shape switch
    {
        SweepShape.Level => "nothing stands out of the noise. See whether the control does anything, or read each setting longer.",
        SweepShape.OnlyRises => "the level only rises. Go on with the sweep, in smaller steps about where it flattens.",
        SweepShape.OnlyFalls => "the level only falls. Begin lower.",
        SweepShape.SecondRiseMissing => "the level rises and falls, and does not rise again within the sweep. Go on further up.",
        SweepShape.FirstRiseMissing => "the level falls and rises, and its first rise is missing. Begin lower, to see where it comes from.",
        SweepShape.SeveralDips => "there is more than one. Sweep again over each alone.",
        _ => "there seems to be one, but the readings scatter too much or lie too wide apart to place it. Take smaller steps about it.",
    };

    private static string Number(double value) => (Math.Abs(value) < 0.0005 ? 0 : value).ToString("0.0##", CultureInfo.InvariantCulture);
}
