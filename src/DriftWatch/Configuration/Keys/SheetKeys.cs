namespace DriftWatch.Configuration.Keys;

/// <summary>Every key of a calibration sheet.</summary>
internal static class SheetKeys
{
    public static readonly TableDefinition Reference = new(
        "[reference]",
        "What the points are held against, as its own certificate has it.",
        [
            new("name", KeyKind.Text, "What it is, so that it is found again.", "\"test gauge\"") { Required = true },
            new("serial", KeyKind.Text, "Its number. Two calibrations against one reference share its error, which then cancels in what has drifted.", "\"G-7\""),
            new("certificate", KeyKind.Text, "Number of its certificate.", "\"2026-0143\""),
            new("unit", KeyKind.Unit, "Of all its readings here.", "\"psi\"") { Default = "the channel's unit" },
            new("uncertainty", KeyKind.Number, "Expanded uncertainty by its certificate, in its unit.", "0.05") { Minimum = 0 },
            new("coverage", KeyKind.Number, "The k of that uncertainty.", "2") { Default = "2", Minimum = 1, Maximum = 5 },
            new("resolution", KeyKind.Number, "Least step it shows, in its unit.", "0.01") { Default = "0", Minimum = 0 },
            new("due", KeyKind.Text, "The day it is itself due, year-month-day.", "\"2027-03-01\"") { Minimum = 10, Maximum = 10 },
        ]);

    public static readonly TableDefinition Point = new(
        "[[point]]",
        "One value of the reference, with the input's readings meanwhile. In the order in which they were made, up and down.",
        [
            new("reference", KeyKind.Number, "What the reference read, in its unit.", "25.02") { Required = true },
            new("raw", KeyKind.Numbers, "Readings of the input in its raw unit; several of them tell repeatability.", "[1.5012, 1.5009, 1.5011]") { Required = true, Minimum = 1, Maximum = 1000 },
            new("nominal", KeyKind.Number, "What was aimed at, in the reference's unit; points up and down are paired by it.", "25") { Default = "what the reference read" },
            new("direction", KeyKind.Choice, "From where it was approached.", "\"down\"") { Choices = ["up", "down"], Default = "from where the point before lay" },
            new("settled", KeyKind.Flag, "Whether the readings had come to rest.", "true") { Default = "nobody looked" },
        ]);

    public static readonly TableDefinition Root = new(
        "calibration sheet",
        "What `driftwatch calibrate --sheet` reads. What is left out and stood on the channel's last sheet is taken from there: tolerance, resolution, degree, interval.",
        [
            new("reference", KeyKind.Table, "What the points are held against.", "[reference]") { Required = true, Child = Reference },
            new("tolerance", KeyKind.Number, "Greatest error that is accepted, in the channel's unit; as found and as left are judged by it.", "0.5") { Default = "that of the last sheet, else nothing is judged", Minimum = 0 },
            new("resolution", KeyKind.Number, "Least step of the input, in its raw unit.", "0.001") { Default = "that of the last sheet, else 0", Minimum = 0 },
            new("degree", KeyKind.Integer, "1: a line; 2 to 5: a curve, which needs two points more than its degree.", "1") { Default = "that of the last sheet, else 1", Minimum = 1, Maximum = 5 },
            new("at-raw", KeyKind.Number, "The raw value at which the budget is drawn up.", "2.5") { Default = "at the channel's setpoint, else in the middle" },
            new("origin-raw", KeyKind.Number, "The raw value about which the coefficients are told.", "2.5") { Default = "0" },
            new("interval-months", KeyKind.Integer, "Months until it is due again.", "12") { Default = "that of the last sheet, else 12", Minimum = 1, Maximum = 120 },
            new("conditions", KeyKind.Text, "Where it was made and how warm it was.", "\"at the machine, 21 degC, 40 %RH\""),
            new("note", KeyKind.Text, "Anything else.", "\"after the valve was exchanged\""),
            new("point", KeyKind.Tables, "The points.", "[[point]]") { Required = true, Child = Point },
        ]);
}
