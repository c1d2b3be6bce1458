using System.Globalization;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Analysis.TimingGeometry;

namespace DriftWatch.Measuring;

/// <summary>What is adjusted, and how its error in ns is signed: skew counts against p, sagitta along h.</summary>
internal sealed record Knob(bool InOut, double NsPerMil)
{
    public static Knob Of(bool inOut, TimingStandard machine) => new(inOut, inOut ? -machine.SkewPeakToPeakNsPerMil : machine.SagittaNsPerMil);

    public string Side(double mil) => InOut ? mil < 0 ? "IN" : "OUT" : mil < 0 ? "against the heads' motion" : "along the heads' motion";

    public string Way(double mil) => InOut ? mil < 0 ? "IN, towards the wheel" : "OUT, away from the wheel" : Side(mil);
}

/// <summary>A visible error told to the loop, in ns, and the move made before it in mil if it was not the advised one.</summary>
internal readonly record struct SeenError(double Ns, double? MovedMil);

/// <summary>The half-error rule step by step: what each new recording shows, and the next move.</summary>
internal static class HalfErrorAid
{
    /// <summary>How the error is made visible, with words for each.</summary>
    public static IReadOnlyList<(string Name, string Words)> ProcedureWords { get; } =
    [
        ("new-recording", "a new recording after every move, reproduced so that this machine's error stands in it with opposite sense"),
        ("replay", "a recording of this machine replayed on it unmoved"),
        ("archive", "a tape that is to be preserved"),
    ];

    public static ChoiceField<SetUpProcedure> Procedure { get; } = new(
        "procedure", null, ("new-recording", SetUpProcedure.NewRecordingOppositeSense), ("replay", SetUpProcedure.ReplayUnmoved), ("archive", SetUpProcedure.ArchivePlayback));

    /// <summary>True: errors are skew from end to end; false: sagitta of the scallop.</summary>
    public static ChoiceField<bool> Adjust { get; } = new("adjust", "height", ("height", false), ("in-out", true));

    /// <summary>Standard error of one visible error, ns.</summary>
    public static NumberField StandardError { get; } = new("standard-error", 1e-6, 1e6);

    /// <summary>Share of the visible error that is moved.</summary>
    public static NumberField Gain { get; } = new("gain", 0.1, 0.5, 0.5);

    public static HalfErrorLoop Begin(SetUpProcedure procedure, Knob knob, double errorNs, double gain) =>
        new(procedure, errorNs / Math.Abs(knob.NsPerMil), gain);

    /// <summary>Tells the loop what was seen.</summary>
    public static HalfErrorAdvice Tell(HalfErrorLoop loop, Knob knob, SeenError seen) =>
        loop.Tell(seen.Ns / knob.NsPerMil, loop.SeenMil.Count > 0 ? seen.MovedMil : null);

    public static string Threshold(HalfErrorLoop loop, Knob knob) =>
        $"Errors below {loop.Advice.ThresholdMil * Math.Abs(knob.NsPerMil):0.0} ns ({loop.Advice.ThresholdMil:0.00} mil) are left alone. {loop.Advice.Text}";

    /// <summary>What the newest recording showed, and what to do.</summary>
    public static IEnumerable<string> Say(HalfErrorLoop loop, Knob knob)
    {
        HalfErrorAdvice advice = loop.Advice;
        yield return $"{Math.Abs(loop.SeenMil[^1]):0.000} mil {knob.Side(loop.SeenMil[^1])}{(loop.Convergence is { } left ? $", {100 * Math.Abs(left):0} % of the first" : "")}.";
        if (advice.KnobScale is { } scale)
        {
            yield return $"The knob moves {scale:0.00} ± {advice.KnobScaleError:0.00} of what is asked of it.";
        }

        if (advice.State != HalfErrorState.Move)
        {
            yield return advice.Text;
            yield break;
        }

        yield return Move(advice, knob);
        if (advice.GoPast)
        {
            yield return "That is against the last approach: go past it by a quarter turn and come back, so that play is taken up on the same side.";
        }

        yield return $"Then make a NEW recording: the old one still shows half of the error. About {advice.StepsLeft} more; noise leaves {advice.NoiseFloorMil:0.000} mil for good.";
        if (loop.SeenMil.Count > 1 && Math.Abs(loop.SeenMil[^1]) > Math.Abs(loop.SeenMil[^2]))
        {
            yield return "It grew. If it grows again, the sense is wrong or there is play.";
        }
    }

    /// <summary>The loop over all that was seen so far: columns error in ns and, where the move was not the advised one, moved in mil.</summary>
    /// <param name="table">Null before the first recording.</param>
    /// <param name="procedure">How the error is made visible.</param>
    /// <param name="knob">What is adjusted.</param>
    /// <param name="errorNs">Standard error of a reading.</param>
    /// <param name="gain">Share of the visible error that is moved.</param>
    /// <exception cref="RecordingException">A mistake in the table, or a row after the loop has ended.</exception>
    public static MeasureReport Read(NumberTable? table, SetUpProcedure procedure, Knob knob, double errorNs, double gain)
    {
        HalfErrorLoop loop = Begin(procedure, knob, errorNs, gain);
        if (loop.Advice.State == HalfErrorState.Refused)
        {
            return new MeasureReport([], [ReportPart.Text(loop.Advice.Text)], IsSound: false) { Headline = loop.Advice.Text, Caution = Cautions.Wheel };
        }

        var parts = new List<ReportPart> { ReportPart.Text(Threshold(loop, knob)) };
        var seenNs = new List<double>();
        string error = table is null ? "" : table.Needed("the error seen in ns", "error", "seen");
        for (int row = 0; row < (table?.Count ?? 0); row++)
        {
            if (loop.Advice.State is not (HalfErrorState.WaitsForFirst or HalfErrorState.Move))
            {
                throw table!.Mistake(row, error, "the loop had ended before this recording", "take this row out, or begin a new loop");
            }

            var seen = new SeenError(table!.Number(row, error), table.Text(row, "moved").Length > 0 ? table.Number(row, "moved") : null);
            seenNs.Add(seen.Ns);
            Tell(loop, knob, seen);
            parts.Add(ReportPart.List($"Recording {row + 1}, {seen.Ns.ToString("0.###", CultureInfo.InvariantCulture)} ns:", Say(loop, knob)));
        }

        HalfErrorAdvice advice = loop.Advice;
        return new MeasureReport([], parts, advice.State == HalfErrorState.Settled)
        {
            Headline = advice.State == HalfErrorState.Move ? Move(advice, knob) : advice.Text,
            Caution = Cautions.Wheel,
            Quantities =
            [
                new Quantity("move", advice.State == HalfErrorState.Move ? advice.MoveMil : null, "mil", Missing: advice.State == HalfErrorState.Move ? null : "no move is asked for"),
                new Quantity("threshold", advice.ThresholdMil, "mil"),
                .. advice.KnobScale is { } scale ? [new Quantity("knob-scale", scale, "1", advice.KnobScaleError)] : Array.Empty<Quantity>(),
            ],
            Drawing = Draw(seenNs, advice.ThresholdMil * Math.Abs(knob.NsPerMil)),
        };
    }

    private static string Move(HalfErrorAdvice advice, Knob knob) =>
        $"Move the guide {Math.Abs(advice.MoveMil):0.000} mil ({Math.Abs(advice.MoveMil) * TimingStandard.MicrometresPerMil:0.0} µm) {knob.Way(advice.MoveMil)}.";

    private static Drawing Draw(List<double> seenNs, double thresholdNs)
    {
        double[] recordings = [.. Enumerable.Range(1, seenNs.Count).Select(i => (double)i)];
        return new Drawing("recording", "error seen, ns")
        {
            Traces = [new Trace("error seen", false, 0, recordings, seenNs), new Trace("from recording to recording", true, 0, recordings, seenNs)],
            Places = [new Place("left alone within", 0, -thresholdNs, thresholdNs, IsLevel: true)],
        };
    }
}
