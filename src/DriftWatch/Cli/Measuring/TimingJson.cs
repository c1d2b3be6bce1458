using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Nodes;
using DriftWatch.Analysis.TimingGeometry;
using DriftWatch.Measuring;

namespace DriftWatch.Cli.Measuring;

/// <summary>
/// What <c>measure timing</c> found, for programs: <c>driftwatch.measure.timing/1</c>. Each quantity is an object with
/// value, standardError and unit, or with <c>missing</c> in words; nothing is rounded.
/// </summary>
internal static class TimingJson
{
    private const string Format = "driftwatch.measure.timing/1";

    private static readonly JsonSerializerOptions Plain = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    public static string Of(string name, TimingReading reading)
    {
        (TimingFile file, TimingDecomposition found, TapePlayed played, MeasureReport report) = reading;
        TimingTerms terms = found.Terms;
        var quantities = new JsonObject();
        foreach (Quantity quantity in report.Quantities)
        {
            quantities[quantity.Name] = quantity.Value is { } value
                ? Number(value, quantity.StandardUncertainty!.Value, quantity.Unit)
                : new JsonObject { ["missing"] = quantity.Missing, ["unit"] = quantity.Unit };
        }

        var record = new JsonObject
        {
            ["format"] = Format,
            ["file"] = name,
            ["standard"] = TimingAid.Standard.WordOf(file.Standard),
            ["tape"] = TimingAid.Tape.WordOf(played),
            ["points"] = terms.Points,
            ["revolutions"] = file.Revolutions.Count > 0 ? file.Revolutions.Count : null,
            ["quantities"] = quantities,
            ["residual"] = new JsonObject
            {
                ["rmsNs"] = terms.ResidualRmsNs, ["noiseNs"] = terms.NoiseNs, ["correlation"] = terms.Correlation, ["condition"] = found.Condition,
            },
            ["bearing"] = reading.Bearing is { } bearing
                ? new JsonObject { ["repeatsNs"] = bearing.SynchronousRmsNs, ["doesNotRepeatNs"] = bearing.AsynchronousRmsNs }
                : null,
            ["notes"] = new JsonArray([.. file.Notes.Concat(found.Notes.Select(n => n.Text)).Select(n => (JsonNode)n)]),
            ["advice"] = reading.Advice is { } advice ? new JsonArray([.. advice.Select(Item)]) : null,
        };
        return record.ToJsonString(Plain);
    }

    private static JsonObject Item(GuideAdviceItem item)
    {
        return new JsonObject
        {
            ["what"] = TimingAid.What(item),
            ["verdict"] = TimingAid.Verdict(item),
            ["off"] = Number(item.Amount.Value, item.Amount.StandardUncertainty, item.Adjustment == Adjustment.HeadDelay ? "arcmin" : "mil"),
            ["toleranceNs"] = item.ToleranceNs,
            ["sureOfSense"] = item.SureOfSense,
            ["text"] = item.Text,
        };
    }

    private static JsonObject Number(double value, double error, string unit) =>
        new() { ["value"] = value, ["standardError"] = error, ["unit"] = unit };
}
