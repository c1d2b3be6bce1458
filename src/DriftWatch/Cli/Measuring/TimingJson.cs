using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Nodes;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.TimingGeometry;

namespace DriftWatch.Cli.Measuring;

/// <summary>
/// What <c>measure timing</c> found, for programs: <c>driftwatch.measure.timing/1</c>. Each quantity is an object with
/// value, standardError and unit, or with <c>missing</c> in words; nothing is rounded.
/// </summary>
internal static class TimingJson
{
    private const string Format = "driftwatch.measure.timing/1";

    private static readonly JsonSerializerOptions Plain = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    public static string Of(string name, string tape, TimingFile file, TimingDecomposition found, TapePlayed played)
    {
        TimingTerms terms = found.Terms;
        var quantities = new JsonObject
        {
            ["mean"] = Quantity(terms.Mean, "ns"),
            ["skew"] = Quantity(terms.SkewPeakToPeakNs, "ns"),
            ["scallop"] = Quantity(terms.SagittaNs, "ns"),
            ["penetration"] = Quantity(found.PenetrationMil, "mil"),
            ["height"] = Quantity(found.HeightMil, "mil"),
        };
        for (int head = 1; head <= 4; head++)
        {
            quantities[$"step-{head}"] = Quantity(terms.Step(head), "ns");
            quantities[$"lag-{head}"] = Quantity(found.StepArcMinutes(head), "arcmin");
            if (terms.Model != TimingModel.OncePerRevolution)
            {
                quantities[$"slope-{head}"] = Quantity(terms.Slope(head), "ns");
            }
        }

        if (terms.Model != TimingModel.PerHeadSlopes)
        {
            quantities["revolution-sine"] = Quantity(terms.RevolutionSine, "ns");
            quantities["revolution-cosine"] = Quantity(terms.RevolutionCosine, "ns");
        }

        var record = new JsonObject
        {
            ["format"] = Format,
            ["file"] = name,
            ["standard"] = StandardArgument.NameOf(file.Standard),
            ["tape"] = tape,
            ["points"] = terms.Points,
            ["revolutions"] = file.Revolutions.Count > 0 ? file.Revolutions.Count : null,
            ["quantities"] = quantities,
            ["residual"] = new JsonObject
            {
                ["rmsNs"] = terms.ResidualRmsNs, ["noiseNs"] = terms.NoiseNs, ["correlation"] = terms.Correlation, ["condition"] = found.Condition,
            },
            ["bearing"] = TimingMeasurement.BearingOf(file, found) is { } bearing
                ? new JsonObject { ["repeatsNs"] = bearing.SynchronousRmsNs, ["doesNotRepeatNs"] = bearing.AsynchronousRmsNs }
                : null,
            ["notes"] = new JsonArray([.. file.Notes.Concat(found.Notes.Select(n => n.Text)).Select(n => (JsonNode)n)]),
            ["advice"] = GuideAdvice.For(found, played) is { IsKnown: true, Value: var advice } ? new JsonArray([.. advice.Select(Item)]) : null,
        };
        return record.ToJsonString(Plain);
    }

    private static JsonObject Item(GuideAdviceItem item)
    {
        string what = item.Adjustment switch
        {
            Adjustment.GuideInOut => "guide-in-out",
            Adjustment.GuideHeight => "guide-height",
            _ => $"delay-{item.Head}",
        };
        return new JsonObject
        {
            ["what"] = what,
            ["verdict"] = item.Verdict switch
            {
                AdviceVerdict.Turn => "turn",
                AdviceVerdict.LeaveNotSure => "leave-not-sure",
                _ => "leave",
            },
            ["off"] = Quantity(item.Amount, item.Adjustment == Adjustment.HeadDelay ? "arcmin" : "mil"),
            ["toleranceNs"] = item.ToleranceNs,
            ["sureOfSense"] = item.SureOfSense,
            ["text"] = item.Text,
        };
    }

    private static JsonObject Quantity(Uncertain value, string unit) =>
        new() { ["value"] = value.Value, ["standardError"] = value.StandardUncertainty, ["unit"] = unit };

    private static JsonObject Quantity(Answer<Uncertain> answer, string unit) =>
        answer.IsKnown ? Quantity(answer.Value, unit) : new JsonObject { ["missing"] = answer.Missing!.ToString(), ["unit"] = unit };
}
