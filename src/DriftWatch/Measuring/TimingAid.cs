using System.Globalization;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.TimingGeometry;

namespace DriftWatch.Measuring;

/// <summary>What a record of timing errors is of, and how it is taken apart.</summary>
/// <param name="Standard">Of the machine.</param>
/// <param name="Tape">What was played while it was taken.</param>
/// <param name="Model">Which terms are fitted.</param>
/// <param name="NsPerUnit">Of the errors' unit.</param>
/// <param name="Range">Where the measurement ends, ±, in that unit; looked for where null.</param>
internal sealed record TimingSettings(TimingStandard Standard, TapePlayed Tape, TimingModel Model, double NsPerUnit, double? Range);

/// <summary>A record that was taken apart, and what it comes to.</summary>
internal sealed record TimingReading(TimingFile File, TimingDecomposition Found, TapePlayed Played, MeasureReport Report)
{
    /// <summary>Null where nothing of the geometry shows.</summary>
    public IReadOnlyList<GuideAdviceItem>? Advice => GuideAdvice.For(Found, Played) is { IsKnown: true, Value: var items } ? items : null;

    /// <summary>Null where there are too few revolutions to hold against each other.</summary>
    public BearingReading? Bearing { get; init; }
}

/// <summary>A record of timing errors taken apart, and what to turn.</summary>
internal static class TimingAid
{
    private static readonly Dictionary<TapePlayed, string> TapeWords = new()
    {
        [TapePlayed.Reference] = "a reference tape: what is shown is this machine's",
        [TapePlayed.FromElsewhere] = "a tape recorded elsewhere: what is shown is the difference to the machine that recorded it",
        [TapePlayed.OwnUnmoved] = "a tape of this machine, unmoved since: guide and heads cancel",
    };

    public static ChoiceField<TimingStandard> Standard { get; } = new(
        "standard", null, ("525", TimingStandard.Mono525), ("525-colour", TimingStandard.Colour525), ("625", TimingStandard.Line625));

    public static ChoiceField<TapePlayed> Tape { get; } = new(
        "tape", "elsewhere", ("reference", TapePlayed.Reference), ("elsewhere", TapePlayed.FromElsewhere), ("own", TapePlayed.OwnUnmoved));

    public static ChoiceField<TimingModel> Terms { get; } = new(
        "terms", "slopes", ("slopes", TimingModel.PerHeadSlopes), ("revolution", TimingModel.OncePerRevolution), ("all", TimingModel.Everything));

    /// <summary>Nanoseconds in the unit of the errors.</summary>
    public static ChoiceField<double> Unit { get; } = new("unit", "ns", ("ns", 1), ("us", 1000));

    /// <summary>In the unit of the errors, above 0.</summary>
    public static NumberField Range { get; } = new("range", double.Epsilon, double.MaxValue);

    /// <exception cref="Acquisition.Recordings.RecordingException">A mistake in the table.</exception>
    /// <exception cref="CannotTellException">Nothing can be told from the record.</exception>
    public static TimingReading Read(NumberTable table, TimingSettings settings)
    {
        TimingFile file = TimingFile.Read(table, settings.Standard, settings.NsPerUnit);
        (double, double)? ends = settings.Range is { } end ? (-end * settings.NsPerUnit, end * settings.NsPerUnit) : null;
        Answer<TimingDecomposition> answer = TimingFit.Decompose(file.Samples, settings.Model, ends);
        if (!answer.IsKnown)
        {
            throw new CannotTellException($"{answer.Missing}. Nothing can be told from this record.");
        }

        TimingDecomposition found = answer.Value;
        BearingReading? bearing = BearingOf(file, found);
        return new TimingReading(file, found, settings.Tape, Report(file, found, settings.Tape, bearing)) { Bearing = bearing };
    }

    /// <summary>What an advice is about, as a slug.</summary>
    public static string What(GuideAdviceItem item) => item.Adjustment switch
    {
        Adjustment.GuideInOut => "guide-in-out",
        Adjustment.GuideHeight => "guide-height",
        _ => $"delay-{item.Head}",
    };

    /// <summary>turn, leave, or leave-not-sure.</summary>
    public static string Verdict(GuideAdviceItem item) => item.Verdict switch
    {
        AdviceVerdict.Turn => "turn",
        AdviceVerdict.LeaveNotSure => "leave-not-sure",
        _ => "leave",
    };

    private static MeasureReport Report(TimingFile file, TimingDecomposition found, TapePlayed played, BearingReading? bearing)
    {
        TimingTerms terms = found.Terms;
        Answer<IReadOnlyList<GuideAdviceItem>> advice = GuideAdvice.For(found, played);
        const string untold = "Nothing to turn can be told: a recording of this machine played on it unmoved shows neither guide nor heads. Play a reference tape.";
        return new MeasureReport(
            [$"{found.Standard.Name}, {file.What}.", $"Played is {TapeWords[played]}."],
            [
                ReportPart.Table(["term", "ns", "comes to"], Rows(found)),
                ReportPart.Text(
                [
                    $"Left over: {terms.ResidualRmsNs:0.00} ns rms of {terms.Points} points; noise {terms.NoiseNs:0.00} ns, correlation {terms.Correlation:0.00}; condition {found.Condition:0.0}.",
                    .. Say(bearing),
                    .. file.Notes.Concat(found.Notes.Select(n => n.Text)).Select(n => $"Note: {n}"),
                ]),
                advice.IsKnown ? ReportPart.List("What to do:", advice.Value.Select(item => item.Text)) : ReportPart.Text(untold),
            ],
            IsSound: true)
        {
            Headline = advice.IsKnown ? null : untold,
            Caution = Cautions.Wheel,
            Quantities = Quantities(found),
        };
    }

    private static List<Quantity> Quantities(TimingDecomposition found)
    {
        TimingTerms terms = found.Terms;
        var all = new List<Quantity>
        {
            Quantity.Of("mean", terms.Mean, "ns"),
            Quantity.Of("skew", terms.SkewPeakToPeakNs, "ns"),
            Quantity.Of("scallop", terms.SagittaNs, "ns"),
            Quantity.Of("penetration", found.PenetrationMil, "mil"),
            Quantity.Of("height", found.HeightMil, "mil"),
        };
        for (int head = 1; head <= 4; head++)
        {
            all.Add(Quantity.Of($"step-{head}", terms.Step(head), "ns"));
            all.Add(Quantity.Of($"lag-{head}", found.StepArcMinutes(head), "arcmin"));
            if (terms.Model != TimingModel.OncePerRevolution)
            {
                all.Add(Quantity.Of($"slope-{head}", terms.Slope(head), "ns"));
            }
        }

        if (terms.Model != TimingModel.PerHeadSlopes)
        {
            all.Add(Quantity.Of("revolution-sine", terms.RevolutionSine, "ns"));
            all.Add(Quantity.Of("revolution-cosine", terms.RevolutionCosine, "ns"));
        }

        return all;
    }

    private static IEnumerable<string[]> Rows(TimingDecomposition found)
    {
        TimingTerms terms = found.Terms;
        TimingStandard standard = found.Standard;
        yield return ["mean", Ns(terms.Mean), "the wheel servo's, and 0.9 of any height"];
        yield return ["skew, end to end", Ns(terms.SkewPeakToPeakNs), $"p = {Guide(found.PenetrationMil)}, {(found.PenetrationMil.Value < 0 ? "guide IN" : "guide OUT")}"];
        yield return ["scallop, sagitta", Ns(terms.SagittaNs), $"h = {Guide(found.HeightMil)}, {(found.HeightMil.Value < 0 ? "against" : "along")} the heads' motion"];
        for (int head = 1; head <= 4; head++)
        {
            yield return terms.Step(head) is { IsKnown: true } step
                ? [$"step of head {head}", Ns(step.Value), $"{Signed(step.Value.Value / standard.NsPerArcMinute, "0.000")} ± {step.Value.StandardUncertainty / standard.NsPerArcMinute:0.000} arc-minutes"]
                : [$"step of head {head}", "not told", terms.Step(head).Missing!.ToString()];
        }

        for (int head = 1; head <= 4; head++)
        {
            if (terms.Slope(head) is { IsKnown: true } slope)
            {
                yield return [$"slope of head {head}", Ns(slope.Value), "a sign of tip projection, not a measure"];
            }
        }

        if (terms.Model != TimingModel.PerHeadSlopes)
        {
            yield return ["once a revolution, sine", Ns(terms.RevolutionSine), "wheel servo"];
            yield return ["once a revolution, cosine", Ns(terms.RevolutionCosine), "wheel servo"];
        }
    }

    private static IEnumerable<string> Say(BearingReading? bearing)
    {
        if (bearing is not null)
        {
            yield return $"Repeats with the wheel and no term explains it: {bearing.SynchronousRmsNs:0.00} ns rms. Does not repeat (bearing, noise): {bearing.AsynchronousRmsNs:0.00} ns rms.";
            yield return bearing.HalfSpeed.IsKnown ? $"Near half speed: {bearing.HalfSpeed.Value}." : $"Near half speed: not told ({bearing.HalfSpeed.Missing}).";
        }
    }

    private static BearingReading? BearingOf(TimingFile file, TimingDecomposition found)
    {
        if (file.Revolutions.Count < 3 || TimingDecomposer.For(file.Samples, found.Terms.Model) is not { IsKnown: true } decomposer)
        {
            return null;
        }

        Answer<BearingReading> reading = BearingResidual.Split(
            file.Standard, decomposer.Value, file.Samples.Heads, file.Samples.AnglesDegrees, file.Revolutions, file.IsEveryRevolution);
        return reading.IsKnown ? reading.Value : null;
    }

    private static string Ns(Uncertain value) => $"{Signed(value.Value, "0.0")} ± {value.StandardUncertainty:0.0}";

    private static string Guide(Uncertain mil) =>
        $"{Signed(mil.Value, "0.0000")} ± {mil.StandardUncertainty:0.0000} mil ({Signed(mil.Value * TimingStandard.MicrometresPerMil, "0.0")} µm)";

    /// <summary>With its sign, and 0 without one.</summary>
    private static string Signed(double value, string format)
    {
        string text = Math.Abs(value).ToString(format, CultureInfo.InvariantCulture);
        return text.Any(c => c is >= '1' and <= '9') ? (value < 0 ? "-" : "+") + text : text;
    }
}
