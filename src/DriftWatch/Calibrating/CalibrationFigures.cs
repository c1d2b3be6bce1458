using System.Globalization;

namespace DriftWatch.Calibrating;

/// <summary>
/// Numbers of a calibration as they are worth showing: as many decimals as give its expanded uncertainty two significant digits
/// (JCGM 100:2008, 7.2.6), raw ones accordingly by the slope.
/// </summary>
internal sealed class CalibrationFigures
{
    private readonly CalibrationDocument _document;
    private readonly int _decimals;
    private readonly int _rawDecimals;

    public CalibrationFigures(CalibrationDocument document)
    {
        _document = document;
        _decimals = Decimals(document.Budget.Expanded);
        double span = document.Points.Max(p => p.Reference) - document.Points.Min(p => p.Reference);
        double rawSpan = document.Fit.RawTo - document.Fit.RawFrom;
        _rawDecimals = Decimals(document.Budget.Expanded * rawSpan / span);
    }

    public string Value(double value) => Fixed(value, _decimals);

    /// <summary>With a digit more, for the parts of a budget.</summary>
    public string Fine(double value) => Fixed(value, _decimals + 1);

    public string Raw(double value) => Fixed(value, _rawDecimals);

    public string Signed(double value) => $"{(Math.Round(value, Math.Min(_decimals, 15)) < 0 ? "−" : "+")}{Fixed(Math.Abs(value), _decimals)}";

    /// <summary>How a reading is turned, in words.</summary>
    public string Turned(ConversionFacts turns) => turns.Form switch
    {
        "line" => $"{Significant(turns.Gain!.Value)} · raw {(turns.Offset < 0 ? "−" : "+")} {Significant(Math.Abs(turns.Offset!.Value))} {_document.Unit}",
        "polynomial" => $"a polynomial of degree {turns.Coefficients!.Count - 1}",
        _ => $"a table of {turns.Raw!.Count} points",
    };

    private static string Significant(double value) => value.ToString("G7", CultureInfo.InvariantCulture).Replace('-', '−');

    private static int Decimals(double uncertainty) =>
        uncertainty > 0 && double.IsFinite(uncertainty) ? Math.Clamp(1 - (int)Math.Floor(Math.Log10(uncertainty)), 0, 9) : 4;

    private static string Fixed(double value, int decimals) => value.ToString("F" + decimals.ToString(CultureInfo.InvariantCulture), CultureInfo.InvariantCulture).Replace('-', '−');
}
