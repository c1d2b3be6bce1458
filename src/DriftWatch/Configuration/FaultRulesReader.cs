using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;

namespace DriftWatch.Configuration;

/// <summary>Reads fault levels and lays those of input, sensor and channel over one another.</summary>
internal static class FaultRulesReader
{
    public static FaultRules Read(SectionReader? section)
    {
        if (section is null)
        {
            return new FaultRules();
        }

        var rules = new FaultRules
        {
            Low = section.Number("low"),
            BelowFault = Code(section.Choice("low-means"), FaultCode.UnderRange),
            High = section.Number("high"),
            AboveFault = Code(section.Choice("high-means"), FaultCode.OverRange),
            MaximumStep = section.Number("maximum-step"),
            StuckAfter = section.Duration("stuck-after"),
        };
        if (rules.Low >= rules.High)
        {
            section.Say("high", $"'high' ({SectionReader.Plain(rules.High.Value)}) is not above 'low' ({SectionReader.Plain(rules.Low.Value)})", "write high above low, or leave one out");
        }

        if (rules.MaximumStep <= 0)
        {
            section.Say("maximum-step", $"'maximum-step' is {SectionReader.Plain(rules.MaximumStep.Value)}, allowed is more than 0", "write the greatest step that is believable within one period, in the raw unit");
            rules = rules with { MaximumStep = null };
        }

        return rules;
    }

    /// <summary>The tighter level of the two holds, with its own meaning.</summary>
    public static FaultRules Tighter(FaultRules left, FaultRules right)
    {
        bool leftLow = left.Low >= right.Low || right.Low is null;
        bool leftHigh = left.High <= right.High || right.High is null;
        return new FaultRules
        {
            Low = leftLow ? left.Low : right.Low,
            BelowFault = leftLow ? left.BelowFault : right.BelowFault,
            High = leftHigh ? left.High : right.High,
            AboveFault = leftHigh ? left.AboveFault : right.AboveFault,
            MaximumStep = Least(left.MaximumStep, right.MaximumStep),
            StuckAfter = left.StuckAfter < right.StuckAfter || right.StuckAfter is null ? left.StuckAfter : right.StuckAfter,
        };
    }

    /// <summary>The channel's own word, key by key.</summary>
    public static FaultRules Override(FaultRules rules, SectionReader? section)
    {
        if (section is null)
        {
            return rules;
        }

        FaultRules own = Read(section);
        return new FaultRules
        {
            Low = own.Low ?? rules.Low,
            BelowFault = section.Has("low-means") || own.Low is not null ? own.BelowFault : rules.BelowFault,
            High = own.High ?? rules.High,
            AboveFault = section.Has("high-means") || own.High is not null ? own.AboveFault : rules.AboveFault,
            MaximumStep = own.MaximumStep ?? rules.MaximumStep,
            StuckAfter = own.StuckAfter ?? rules.StuckAfter,
        };
    }

    /// <summary>The same levels for a raw value that a rising line turns into the one they were written for.</summary>
    public static FaultRules Through(FaultRules rules, Affine rawToWritten) => rules with
    {
        Low = rules.Low is { } low ? rawToWritten.Undo(low) : null,
        High = rules.High is { } high ? rawToWritten.Undo(high) : null,
        MaximumStep = rules.MaximumStep is { } step ? step / rawToWritten.Gain : null,
    };

    private static FaultCode Code(string? slug, FaultCode otherwise) =>
        slug is not null && FaultCodes.TryParse(slug, out FaultCode code) ? code : otherwise;

    private static double? Least(double? left, double? right) =>
        left is null ? right : right is null ? left : Math.Min(left.Value, right.Value);
}
