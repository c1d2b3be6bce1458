using System.Globalization;
using DriftWatch.Analysis;
using DriftWatch.Analysis.RfHeads;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;

namespace DriftWatch.Web.Api;

/// <summary>Makes of the newest RF readings what can be said of the heads. A head without a fresh reading is missing, never its last value.</summary>
internal sealed class HeadsPicture(IBenchView view, TimeProvider time)
{
    /// <summary>Baselines lie in the store and come once in minutes; the heads are asked for several times a second.</summary>
    private static readonly TimeSpan BaselineAge = TimeSpan.FromSeconds(5);

    private readonly Lock _gate = new();
    private long? _readAt;
    private TakenBaseline? _baseline;

    public HeadsAnswer Now()
    {
        ChannelNow[] channels = [.. view.Channels
            .Where(c => c.Channel is { Role: ChannelRole.RfLevel, Head: not null, Unit: "dB" })
            .OrderBy(c => c.Channel.Head)];
        TakenBaseline? baseline = Baseline(channels);
        var levels = default(FourHeads);
        var lineUp = default(FourHeads);
        foreach (ChannelNow now in channels)
        {
            int head = now.Channel.Head!.Value;
            levels = levels.With(head, Level(now));
            lineUp = lineUp.With(head, Of(baseline, now.Channel.Id));
        }

        // Heads differ by nature: where every level has its line-up, what is judged is how far each has moved from it.
        FourHeads moved = levels.Less(lineUp);
        bool againstLineUp = moved.Known == levels.Known;
        Answer<HeadPicture> picture = HeadLevels.Of(againstLineUp ? moved : levels);
        return new HeadsAnswer(
            view.Bench.Id,
            UtcText.FromNanoseconds(view.ToUtcNanoseconds(view.Now)),
            Slugs.Of(view.State),
            levels.Known > 1 ? Spread(levels) : null,
            picture.IsKnown ? Slugs.Of(picture.Value.Tells) : null,
            picture.IsKnown && picture.Value.OddHead > 0 ? picture.Value.OddHead : null,
            Says(channels, levels, picture, againstLineUp),
            baseline is null ? null : new HeadBaselineAnswer(UtcText.FromNanoseconds(baseline.UtcNanoseconds), baseline.By, Slugs.Of(baseline.Standing)),
            [.. channels.Select(now => HeadOf(now, levels, lineUp))]);
    }

    private HeadAnswer HeadOf(ChannelNow now, in FourHeads levels, in FourHeads lineUp)
    {
        ChannelDefinition channel = now.Channel;
        int head = channel.Head!.Value;
        double? level = levels[head];
        double? baseline = lineUp[head];
        (string standing, string says) = Standing(now, level, baseline);
        return new HeadAnswer(
            head, channel.Id, channel.Label, level, now.Age?.TotalSeconds, baseline, level - baseline, FromOthers(levels, head), standing, says,
            [.. channel.Limits.Select(l => new HeadLimitAnswer(Slugs.Of(l.Side), Slugs.Of(l.Severity), l.At(baseline), l.Source))],
            HeadTrend.Of(view, channel.Id, isFresh: level is not null));
    }

    private (string Standing, string Says) Standing(ChannelNow now, double? level, double? baseline)
    {
        if (now.At is null)
        {
            return ("no-data", "no reading yet");
        }

        if (now.Age > now.Channel.StaleAdvisory)
        {
            return ("no-data", $"no data for {now.Age.Value.TotalSeconds:0} s");
        }

        if (level is not { } value)
        {
            return ("fault", now.Fault is { } fault ? $"fault: {fault.ToSlug().Replace('-', ' ')}" : "no value");
        }

        LimitDefinition[] limits = [.. now.Channel.Limits.Where(IsJudged)];
        if (limits.Length == 0)
        {
            return ("not-judged", now.Channel.Limits.Count == 0 ? "no limits set" : $"not judged while {Slugs.Of(view.State).Replace('-', ' ')}");
        }

        LimitDefinition? worst = limits.Where(l => IsBeyond(l, value, baseline)).MaxBy(l => l.Severity);
        if (worst is not null)
        {
            string severity = Slugs.Of(worst.Severity);
            return (severity, Text($"beyond its {severity} limit of {worst.At(baseline):0.0} dB"));
        }

        return Array.TrueForAll(limits, l => l.At(baseline) is null)
            ? ("not-judged", "its limits wait for a baseline: take one on a good tape")
            : ("good", "within its limits");
    }

    /// <summary>As the judge has it: in the states that it names, and in an unknown one.</summary>
    private bool IsJudged(LimitDefinition limit) =>
        limit.JudgedIn.Count == 0 || view.State == MachineState.Unknown || limit.JudgedIn.Contains(view.State);

    private static bool IsBeyond(LimitDefinition limit, double value, double? baseline) =>
        limit.At(baseline) is { } at && (limit.Side == LimitSide.Low ? value < at : value > at);

    private static double? Level(ChannelNow now) => now.Age <= now.Channel.StaleAdvisory && now.Value is { } value && double.IsFinite(value) ? value : null;

    private static double? FromOthers(FourHeads levels, int head)
    {
        double[] others = [.. Enumerable.Range(1, FourHeads.Count).Where(h => h != head).Select(h => levels[h]).OfType<double>()];
        return others.Length == 0 ? null : levels[head] - others.Average();
    }

    private static double Spread(FourHeads levels)
    {
        double[] known = [.. Enumerable.Range(1, FourHeads.Count).Select(h => levels[h]).OfType<double>()];
        return known.Max() - known.Min();
    }

    private static string Says(ChannelNow[] channels, FourHeads levels, Answer<HeadPicture> picture, bool againstLineUp)
    {
        if (channels.Length == 0)
        {
            return "This bench measures no head's RF in dB.";
        }

        if (!picture.IsKnown)
        {
            return "No head tells anything now.";
        }

        string how = againstLineUp ? "counted from the baseline" : "by the levels themselves, for there is no baseline of them all";
        HeadPicture seen = picture.Value;
        string said = seen.Tells switch
        {
            HeadsTell.Agree => Text($"The heads lie together, within {HeadLevels.AgreeWithinDb:0.#} dB, {how}."),
            HeadsTell.OneApart => Text($"Head {seen.OddHead} lies apart: {Math.Abs(seen.DifferencesDb[seen.OddHead]!.Value):0.0} dB {(seen.DifferencesDb[seen.OddHead] < 0 ? "below" : "above")} what the heads have in common, {how}. The others lie together."),
            HeadsTell.EitherOfTwo => Text($"The two heads that tell differ by {seen.SpreadDb:0.0} dB, {how}; which of them is off can't be told."),
            HeadsTell.Divided => Text($"The heads lie {seen.SpreadDb:0.0} dB apart, {how}, and no single one can be named: look at what they have in common first."),
            _ => "One head alone tells: there is nothing to hold it against.",
        };
        int[] missing = [.. channels.Select(c => c.Channel.Head!.Value).Where(h => levels[h] is null)];
        return missing.Length == 0 ? said : $"{said} {(missing.Length == 1 ? $"Head {missing[0]} tells" : $"Heads {string.Join(", ", missing)} tell")} nothing now.";
    }

    private TakenBaseline? Baseline(ChannelNow[] channels)
    {
        lock (_gate)
        {
            if (_readAt is not { } at || time.GetElapsedTime(at) > BaselineAge)
            {
                _readAt = time.GetTimestamp();
                _baseline = view.Baselines().LastOrDefault(b => channels.Any(c => Of(b, c.Channel.Id) is not null));
            }

            return _baseline;
        }
    }

    private static double? Of(TakenBaseline? baseline, string channel) => baseline?.Values.FirstOrDefault(v => v.Channel == channel && v.Unit == "dB")?.Value;

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
