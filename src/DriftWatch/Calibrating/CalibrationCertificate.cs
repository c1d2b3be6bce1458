using System.Globalization;
using DriftWatch.Measurement.Time;
using DriftWatch.Measuring;
using DriftWatch.Reports.Plots;
using SkiaSharp;

namespace DriftWatch.Calibrating;

/// <summary>
/// A calibration on one A4 page: vector, its letters selectable, fonts embedded. All of it comes from the document, the date in the file's
/// head too, so that the same document gives the same bytes.
/// </summary>
internal sealed class CalibrationCertificate
{
    private const float Width = 595;
    private const float Height = 842;
    private const float Left = 48;
    private const float Right = 547;
    private const float Foot = 820;
    private const float FigureHeight = 150;
    private const int MostRows = 16; // with the longest note all still stands on the page

    private readonly CalibrationDocument _document;
    private readonly CalibrationFigures _figures;
    private readonly SKCanvas _canvas;
    private float _y = 52;

    private CalibrationCertificate(CalibrationDocument document, SKCanvas canvas)
    {
        _document = document;
        _figures = new CalibrationFigures(document);
        _canvas = canvas;
    }

    /// <summary>Writes the page; the stream stays open.</summary>
    public static void Write(Stream stream, CalibrationDocument document)
    {
        PlotFonts.Install();
        DateTime? made = UtcText.TryParse(document.Entered, out long utc) ? UtcText.ToDateTimeOffset(utc).UtcDateTime : null;
        using var managed = new SKManagedWStream(stream);
        using SKDocument pdf = SKDocument.CreatePdf(managed, new SKDocumentPdfMetadata
        {
            Title = $"Calibration of {document.Label}, version {document.Version}",
            Subject = "In-house comparison; no certificate of an accredited laboratory",
            Creator = "DriftWatch",
            Producer = "DriftWatch",
            Creation = made,
            Modified = made,
            RasterDpi = 72,
            EncodingQuality = 101,
        });
        new CalibrationCertificate(document, pdf.BeginPage(Width, Height)).Draw();
        pdf.EndPage();
        pdf.Close();
    }

    private void Draw()
    {
        Heading();
        Facts();
        Verdicts();
        Figure();
        Points();
        Budget();
        Remarks();
        Text($"Calibration {_document.Id}", Left, Foot, 7, PlotInk.Grey);
        PlotInk.Text(_canvas, $"{_document.Bench} · {_document.Channel} · version {_document.Version} · data: {CalibrationDocument.FormatName}", Right, Foot, 7, PlotInk.Grey, align: SKTextAlign.Right);
    }

    private void Heading()
    {
        Text(PlotInk.Fit($"Calibration of {_document.Label}", 370, 18), Left, _y, 18, PlotInk.Dark, bold: true);
        PlotInk.Text(_canvas, "DriftWatch", Right, _y, 9, PlotInk.Grey, align: SKTextAlign.Right);
        _y += 16;
        Text("In-house comparison. This is no certificate of an accredited laboratory.", Left, _y, 9.5f, PlotInk.Dark);
        _y += 8;
        Rule();
        _y += 15;
    }

    private void Facts()
    {
        ReferenceFacts reference = _document.Reference;
        string unit = _document.Unit;
        (string, string)[] left =
        [
            ("Channel", $"{_document.Channel}{(_document.Instrument is { } instrument ? $", on {instrument}" : "")}"),
            ("Calibrated", $"{_figures.Value(_document.Points.Min(p => p.Reference))} to {_figures.Value(_document.Points.Max(p => p.Reference))} {unit}, {_document.Points.Count} points"),
            ("Now turned by", _figures.Turned(_document.Turns)),
            ("Was turned by", $"{_figures.Turned(_document.Found)} (version {_document.Found.Version})"),
            ("Conditions", _document.Conditions ?? "not written down"),
            ("Bench", $"{_document.Bench}, channel version {_document.Version}"),
        ];
        (string, string)[] right =
        [
            ("Reference", $"{reference.Name}{(reference.Serial is { } serial ? $", no. {serial}" : "")}"),
            ("Its certificate", $"{reference.Certificate ?? "none named"}{(reference.Due is { } due ? $", due {due}" : "")}"),
            ("Its uncertainty", reference.Uncertainty is { } u ? $"{Number(u)} {reference.Unit} (k = {Number(reference.Coverage)})" : "none given: taken as none"),
            ("Made by", $"{_document.By}, {Day(_document.Entered)}"),
            ("Holds from", Day(_document.ValidFrom)),
            ("Due again", _document.Due),
        ];
        for (int i = 0; i < left.Length; i++)
        {
            Fact(left[i], Left, 250);
            Fact(right[i], 312, Right - 312);
            _y += 12.5f;
        }

        _y += 4;
    }

    private void Fact((string Name, string Value) fact, float x, float width)
    {
        const float Indent = 66;
        Text(fact.Name, x, _y, 7.5f, PlotInk.Grey);
        Text(PlotInk.Fit(fact.Value, width - Indent - 4, 8.5f), x + Indent, _y, 8.5f, PlotInk.Dark);
    }

    private void Verdicts()
    {
        Verdict("As found", _document.AsFound, Left);
        Verdict("As left", _document.AsLeft, 304);
        _y += 56;
    }

    private void Verdict(string name, ErrorFacts error, float x)
    {
        SKColor ink = error.Conformity switch { "within" => PlotInk.Setpoint, "outside" => PlotInk.Alarm, "undecided" => PlotInk.Advisory, _ => PlotInk.Grey };
        using var bar = new SKPaint { Color = ink };
        _canvas.DrawRect(x, _y - 8, 3, 50, bar);
        Text(name, x + 10, _y, 8, PlotInk.Grey);
        Text($"largest error {_figures.Signed(error.Largest)} {_document.Unit}", x + 10, _y + 14, 12, PlotInk.Dark, bold: true);
        string tolerance = _document.Tolerance is { } t ? $"the tolerance of ±{Number(t)} {_document.Unit}" : "";
        string word = error.Conformity switch
        {
            "within" => $"within {tolerance}",
            "outside" => $"OUTSIDE {tolerance}",
            "undecided" => $"too near to {tolerance} to say",
            _ => "no tolerance given: not judged",
        };
        Text($"at {_figures.Value(error.At)} {_document.Unit}, U = {_figures.Value(error.Expanded)} {_document.Unit} (k = 2)", x + 10, _y + 27, 8, PlotInk.Dark);
        Text(PlotInk.Fit(word, 232, 8.5f), x + 10, _y + 39, 8.5f, ink, bold: true);
    }

    private void Figure()
    {
        Text($"Error (value less reference, {_document.Unit}) over the reference ({_document.Unit})", Left, _y, 8.5f, PlotInk.Dark, bold: true);
        _y += 11;
        CalibrationFigure.Legend(_canvas, _document, Right, _y);
        _y += 4;
        CalibrationFigure.Draw(_canvas, _document, new SKRect(Left - 6, _y, Right, _y + FigureHeight));
        _y += FigureHeight + 14;
    }

    private void Points()
    {
        (string Title, float X)[] columns =
        [
            ("", 62), ("going", 66), ($"reference {_document.Unit}", 168), ($"raw {_document.RawUnit}", 246), ("scatter", 306), ("readings", 356), ("settled", 402),
            ("as found", 474), ("as left", Right),
        ];
        Row([.. columns.Select(c => c.Title)], columns, PlotInk.Grey, 7.5f);
        int shown = Math.Min(_document.Points.Count, MostRows);
        float size = shown > 14 ? 7 : 8;
        for (int i = 0; i < shown; i++)
        {
            PointFacts p = _document.Points[i];
            Row(
                [
                    Whole(i + 1), p.Direction, _figures.Value(p.Reference), _figures.Raw(p.Raw), p.Deviation is { } s ? _figures.Raw(s) : "–", Whole(p.Readings.Count),
                    p.Settled switch { true => "yes", false => "NO", null => "not seen" }, _figures.Signed(p.AsFound), _figures.Signed(p.AsLeft),
                ],
                columns, PlotInk.Dark, size);
        }

        if (shown < _document.Points.Count)
        {
            Text($"and {_document.Points.Count - shown} more points, in the data", 66, _y, 7.5f, PlotInk.Grey);
            _y += 10;
        }

        _y += 6;
    }

    private void Row(string[] cells, (string Title, float X)[] columns, SKColor ink, float size)
    {
        for (int i = 0; i < cells.Length; i++)
        {
            PlotInk.Text(_canvas, cells[i], columns[i].X, _y, size, ink, align: columns[i].Title == "going" ? SKTextAlign.Left : SKTextAlign.Right);
        }

        _y += size + 2.6f;
    }

    private void Budget()
    {
        BudgetFacts budget = _document.Budget;
        Text($"Uncertainty of one reading at {_figures.Value(budget.Value)} {_document.Unit}, after JCGM 100:2008 (GUM)", Left, _y, 8.5f, PlotInk.Dark, bold: true);
        PlotInk.Text(_canvas, $"u, {_document.Unit}", Right, _y, 7.5f, PlotInk.Grey, align: SKTextAlign.Right);
        _y += 11;
        foreach (BudgetLineFacts line in budget.Lines)
        {
            Text(line.Source, Left, _y, 8, PlotInk.Dark);
            Text(line.Type, 206, _y, 8, PlotInk.Dark);
            Text(PlotInk.Fit(line.Basis, 268, 7.5f), 220, _y, 7.5f, PlotInk.Grey);
            PlotInk.Text(_canvas, line.Uncertainty is { } u ? _figures.Fine(u) : "not measured", Right, _y, 8, PlotInk.Dark, align: SKTextAlign.Right);
            _y += 10.4f;
        }

        Rule();
        _y += 9;
        string freedom = budget.Freedom is { } f ? $"{f.ToString("0", CultureInfo.InvariantCulture)} effective degrees of freedom, with which k = {budget.FactorFor95.ToString("0.00", CultureInfo.InvariantCulture)} would cover 95 %" : "k = 2 covers about 95 %";
        Text($"combined u, {freedom}", Left, _y, 8, PlotInk.Dark);
        PlotInk.Text(_canvas, _figures.Fine(budget.Combined), Right, _y, 8, PlotInk.Dark, align: SKTextAlign.Right);
        _y += 11.5f;
        Text("expanded U = k·u, k = 2", Left, _y, 8.5f, PlotInk.Dark, bold: true);
        PlotInk.Text(_canvas, $"{_figures.Value(budget.Expanded)} {_document.Unit}", Right, _y, 8.5f, PlotInk.Dark, bold: true, align: SKTextAlign.Right);
        _y += 14;
    }

    private void Remarks()
    {
        DriftFacts drift = _document.Drift;
        DriftPoint middle = drift.At[drift.At.Count / 2];
        string perYear = middle.PerYear is { } rate ? $", {_figures.Signed(rate)} {_document.Unit} a year" : "";
        string since = drift.Since is { } at ? $"version {drift.SinceVersion} of {Day(at)}" : $"version {drift.SinceVersion}";
        Paragraph(
            $"Since {since}: moved by {_figures.Signed(middle.Difference)} {_document.Unit} at {_figures.Value(middle.Value)} {_document.Unit}{perYear}, "
            + $"{(middle.IsSignificant ? "more" : "no more")} than its uncertainty of 95 % ({drift.Basis}).", 8, PlotInk.Dark);
        Paragraph(
            _document.Hysteresis is { } loop
                ? $"Hysteresis: {_figures.Signed(loop.Largest)} {_document.Unit} at most, at {_figures.Value(loop.At)} {_document.Unit}, {loop.ShareOfSpan.ToString("0.00 %", CultureInfo.InvariantCulture)} of the span."
                : $"Hysteresis: {_document.HysteresisMissing}.", 8, PlotInk.Dark);
        if (_document.Note is { } note)
        {
            Paragraph($"Note: {note}", 8, PlotInk.Dark);
        }

        _y += 2;
        Paragraph(_document.Statement, 7, PlotInk.Grey);
        Paragraph(Caution(_document.Unit), 7, PlotInk.Grey);
    }

    /// <summary>What can hurt while points are set.</summary>
    public static string Caution(string unit) => Measurement.Units.Unit.TryParse(unit, out Measurement.Units.Unit known) && known.Quantity == "pressure"
        ? Cautions.Air
        : "Caution: mains, compressed air and the wheel do not care what a calibration says: switch off, vent and lock before an instrument or its wiring is touched. This is a measurement and no safety device.";

    private void Paragraph(string text, float size, SKColor ink)
    {
        string line = "";
        foreach (string word in text.Split(' '))
        {
            string longer = line.Length == 0 ? word : $"{line} {word}";
            if (PlotInk.Measure(longer, size) > Right - Left)
            {
                Text(line, Left, _y, size, ink);
                _y += size + 2.4f;
                longer = word;
            }

            line = longer;
        }

        Text(line, Left, _y, size, ink);
        _y += size + 3.4f;
    }

    private void Rule()
    {
        using var paint = new SKPaint { Color = PlotInk.Grey, StrokeWidth = 0.4f };
        _canvas.DrawLine(Left, _y, Right, _y, paint);
    }

    private void Text(string text, float x, float y, float size, SKColor ink, bool bold = false) => PlotInk.Text(_canvas, text, x, y, size, ink, bold);

    private static string Day(string instant) => instant.Length >= 16 ? $"{instant[..10]} {instant[11..16]} UTC" : instant;

    private static string Number(double value) => value.ToString("0.######", CultureInfo.InvariantCulture);

    private static string Whole(int value) => value.ToString(CultureInfo.InvariantCulture);
}
