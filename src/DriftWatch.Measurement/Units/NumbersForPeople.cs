using System.Globalization;

namespace DriftWatch.Measurement.Units;

/// <summary>
/// How a number is written in a sentence: with a point, and with a true minus sign (U+2212), which is as wide as a plus and is read
/// aloud as one. Files, fields and terminals of other tools are given plain numbers, by the invariant culture.
/// </summary>
public static class NumbersForPeople
{
    public static NumberFormatInfo Format { get; } = NumberFormatInfo.ReadOnly(new NumberFormatInfo { NegativeSign = "\u2212" });
}
