using System.Globalization;
using DriftWatch.Calibrating;

namespace DriftWatch.Cli.Calibrating;

/// <summary>A calibration in words and columns for a terminal.</summary>
internal static class CalibrationText
{
    public static void Write(TextWriter output, CalibrationDocument document)
    {
        var figures = new CalibrationFigures(document);
        string unit = document.Unit;
        output.WriteLine($"{document.Label} against {document.Reference.Name}: {figures.Turned(document.Turns)}");
        TextTable.Write(
            output,
            ["going", $"reference {unit}", $"raw {document.RawUnit}", "settled", "as found", "as left"],
            document.Points.Select(p => (string[])
            [
                p.Direction, figures.Value(p.Reference), figures.Raw(p.Raw), p.Settled switch { true => "yes", false => "NO", null => "-" }, figures.Signed(p.AsFound), figures.Signed(p.AsLeft),
            ]));
        output.WriteLine();
        TextTable.Write(
            output,
            ["uncertainty of a reading", "", $"u, {unit}", "how"],
            document.Budget.Lines.Select(l => (string[])[l.Source, l.Type, l.Uncertainty is { } u ? figures.Fine(u) : "-", l.Basis])
                .Append(["combined", "", figures.Fine(document.Budget.Combined), $"at {figures.Value(document.Budget.Value)} {unit}; k = {document.Budget.FactorFor95.ToString("0.00", CultureInfo.InvariantCulture)} would cover 95 %"])
                .Append(["expanded, k = 2", "", figures.Value(document.Budget.Expanded), "JCGM 100:2008 (GUM)"]));
        output.WriteLine();
        output.WriteLine($"As found: {Said(document.AsFound, document, figures)}");
        output.WriteLine($"As left:  {Said(document.AsLeft, document, figures)}");
        DriftPoint middle = document.Drift.At[document.Drift.At.Count / 2];
        string rate = middle.PerYear is { } perYear ? $", {figures.Signed(perYear)} {unit} a year" : "";
        output.WriteLine($"Since version {document.Drift.SinceVersion}: {figures.Signed(middle.Difference)} {unit} at {figures.Value(middle.Value)} {unit}{rate}; {(middle.IsSignificant ? "more" : "no more")} than its uncertainty.");
        output.WriteLine(document.HysteresisMissing is { } missing ? $"Hysteresis: {missing}." : $"Hysteresis: {figures.Signed(document.Hysteresis!.Largest)} {unit} at most.");
        output.WriteLine("In-house comparison, no certificate of an accredited laboratory.");
    }

    /// <summary>Whether an error is within the tolerance, in words.</summary>
    public static string Conformity(string conformity, double? tolerance, string unit) => conformity switch
    {
        "within" => $"within ±{tolerance?.ToString("0.######", CultureInfo.InvariantCulture)} {unit}",
        "outside" => $"OUTSIDE ±{tolerance?.ToString("0.######", CultureInfo.InvariantCulture)} {unit}",
        "undecided" => $"too near to ±{tolerance?.ToString("0.######", CultureInfo.InvariantCulture)} {unit} to say",
        _ => "not judged: no tolerance was given",
    };

    private static string Said(ErrorFacts error, CalibrationDocument document, CalibrationFigures figures) =>
        $"largest error {figures.Signed(error.Largest)} {document.Unit} at {figures.Value(error.At)}, U = {figures.Value(error.Expanded)}: {Conformity(error.Conformity, document.Tolerance, document.Unit)}";
}
