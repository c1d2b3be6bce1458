using DriftWatch.Measurement.Samples;

namespace DriftWatch.Configuration.Keys;

/// <summary>The tables that bench files and profiles have in common.</summary>
internal static class SharedKeys
{
    public static readonly TableDefinition Line = new(
        "line = { … }",
        "A straight line: value = gain · raw + offset.",
        [
            new("gain", KeyKind.Number, "Units of the quantity per unit of raw; not 0.", "25.0") { Required = true },
            new("offset", KeyKind.Number, "The value at raw 0, in the unit of the quantity.", "-12.5") { Default = "0" },
        ]);

    public static readonly TableDefinition Calibration = new(
        "calibration = { … }",
        "From the raw unit to the unit of the quantity, in exactly one of four forms.",
        [
            new("line", KeyKind.Table, "A straight line by its gain and offset.", "{ gain = 25.0, offset = -12.5 }") { Child = Line },
            new("points", KeyKind.Points, "Measured pairs [raw, value]; the straight line that fits them best (least squares) is used.", "[[0.5, 0.0], [4.5, 100.0]]") { Minimum = 2, Maximum = 1000 },
            new("polynomial", KeyKind.Numbers, "Coefficients, lowest order first: value = c0 + c1·raw + c2·raw² …", "[-12.5, 25.0, 0.01]") { Minimum = 1, Maximum = 10 },
            new("table", KeyKind.Points, "Pairs [raw, value] of rising raw, joined by straight lines; the end pieces go on beyond the ends.", "[[0.5, 0.0], [2.5, 49.0], [4.5, 100.0]]") { Minimum = 2, Maximum = 1000 },
            new("note", KeyKind.Text, "Who calibrated, when, against what.", "\"against the reference gauge, three points up and down\""),
            new("due", KeyKind.Text, "The day from which it should be calibrated again, year-month-day; the page says when it is over.", "\"2027-03-01\"") { Minimum = 10, Maximum = 10 },
        ]);

    public static readonly TableDefinition Faults = new(
        "faults = { … }",
        "Raw readings that are no values. All levels are in the raw unit.",
        [
            new("low", KeyKind.Number, "At or below this level the reading is a fault.", "0.2"),
            new("low-means", KeyKind.Choice, "Which fault it is.", "\"under-range\"") { Choices = FaultCodes.All, Default = "\"under-range\"" },
            new("high", KeyKind.Number, "At or above this level the reading is a fault.", "4.8"),
            new("high-means", KeyKind.Choice, "Which fault it is.", "\"over-range\"") { Choices = FaultCodes.All, Default = "\"over-range\"" },
            new("maximum-step", KeyKind.Number, "The greatest believable step between two readings one period apart; more than 0.", "1.5"),
            new("stuck-after", KeyKind.Duration, "The very same raw value for this long is stuck.", "\"5 min\"") { Minimum = 0.1, Maximum = 86400 },
        ]);
}
