using System.Globalization;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.RfHeads;

namespace DriftWatch.Measuring;

/// <summary>The channels of heads 2 to 4 matched to that of head 1 on two bars: columns head, dark, bright.</summary>
internal static class MatchingAid
{
    /// <summary>Good enough, in percent of the step between the bars; above 0 up to 50.</summary>
    public static NumberField Tolerance { get; } = new("tolerance", 0.001, 50, ChannelMatching.GoodWithinPercent);

    /// <exception cref="Acquisition.Recordings.RecordingException">A mistake in the table.</exception>
    /// <exception cref="CannotTellException">Too few readings of head 1.</exception>
    public static MeasureReport Read(NumberTable table, double tolerance)
    {
        if (!table.Has("head") || !table.Has("dark") || !table.Has("bright"))
        {
            throw table.Unfit("the heading names no readings of two bars", "write the columns head, dark, bright");
        }

        int[] heads = [.. Enumerable.Range(0, table.Count).Select(row => table.Whole(row, "head", 1, FourHeads.Count))];
        Answer<TwoBars>[] bars = [.. Enumerable.Range(1, FourHeads.Count).Select(head => BarsOf(table, heads, head))];
        if (!bars[0].IsKnown)
        {
            throw new CannotTellException($"{bars[0].Missing} of head 1, which the others are matched to.");
        }

        var rows = new List<string[]>();
        var advice = new List<string>();
        var quantities = new List<Quantity>();
        bool matched = true;
        for (int head = 2; head <= FourHeads.Count; head++)
        {
            Answer<ChannelMismatch> answer = bars[head - 1].IsKnown ? ChannelMatching.Compare(bars[0].Value, bars[head - 1].Value, head, tolerance) : bars[head - 1].Missing!;
            if (!answer.IsKnown)
            {
                matched = false;
                rows.Add([$"{head}", "not told", "", "", ""]);
                advice.Add($"head {head}: {answer.Missing}.");
                quantities.Add(new Quantity($"gain-{head}", null, "%", Missing: answer.Missing!.ToString()));
                continue;
            }

            ChannelMismatch mismatch = answer.Value;
            matched &= mismatch.IsMatched;
            rows.Add([$"{head}", With(mismatch.GainPercent), With(mismatch.GainDb), With(mismatch.OffsetPercent), With(mismatch.Offset)]);
            advice.Add(Advise(mismatch));
            quantities.Add(Quantity.Of($"gain-{head}", mismatch.GainPercent, "%"));
            quantities.Add(Quantity.Of($"offset-{head}", mismatch.OffsetPercent, "%"));
        }

        string opening = $"{(table.Count == 1 ? "one reading" : $"{table.Count} readings")}, matched to head 1, good within {tolerance.ToString("0.##", CultureInfo.InvariantCulture)} % (± is 95 %).";
        return new MeasureReport(
            [opening],
            [ReportPart.Table(["head", "gain, %", "gain, dB", "offset, %", "offset, as read"], rows), ReportPart.List(null, advice)],
            matched)
        {
            Headline = matched ? "All channels match: leave them." : null,
            Caution = Cautions.Wheel,
            Quantities = quantities,
        };
    }

    private static Answer<TwoBars> BarsOf(NumberTable table, int[] heads, int head)
    {
        int[] rows = [.. Enumerable.Range(0, heads.Length).Where(row => heads[row] == head)];
        return TwoBars.From([.. rows.Select(row => table.Number(row, "dark"))], [.. rows.Select(row => table.Number(row, "bright"))]);
    }

    /// <summary>The gain first: turning it moves the darker bar too.</summary>
    private static string Advise(ChannelMismatch mismatch)
    {
        string gain = mismatch.TurnGain switch
        {
            Turn.Up or Turn.Down => $"turn the gain {(mismatch.TurnGain == Turn.Up ? "up" : "down")} by {Plain(Math.Abs(mismatch.GainPercent.Value))} % ({Plain(Math.Abs(mismatch.GainDb.Value))} dB)",
            Turn.ReadLonger => "whether the gain matches can't be told yet, read longer",
            _ => "leave the gain",
        };
        string offset = mismatch.TurnOffset switch
        {
            Turn.Up or Turn.Down => $"{(mismatch.TurnGain is Turn.Up or Turn.Down ? "then " : "")}turn the black {(mismatch.TurnOffset == Turn.Up ? "up" : "down")} by {Plain(Math.Abs(mismatch.Offset.Value))}",
            Turn.ReadLonger => "whether the black matches can't be told yet, read longer",
            _ => "leave the black",
        };
        return mismatch.IsMatched ? $"head {mismatch.Head}: good, leave it." : $"head {mismatch.Head}: {gain}; {offset}.";
    }

    private static string With(Uncertain value) => $"{Signed(value.Value)} ± {Plain(value.Expanded())}";

    private static string Signed(double value) => value.ToString("+0.00;-0.00;0.00", CultureInfo.InvariantCulture);

    private static string Plain(double value) => value.ToString("0.00", CultureInfo.InvariantCulture);
}
