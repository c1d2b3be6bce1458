using System.Globalization;
using DriftWatch.Reports.Plots;
using SkiaSharp;

namespace DriftWatch.Reports.Documents;

/// <summary>
/// Writes a document as PDF, A4, vector drawings and letters, fonts embedded. The same document gives the same bytes: nothing
/// in it comes from the clock but <see cref="Document.Made"/>.
/// </summary>
internal sealed partial class PdfDocument
{
    private const float Width = 595;
    private const float Height = 842;
    private const float Left = 48;
    private const float Right = 48;
    private const float Top = 52;
    private const float Bottom = 58;
    private const float Content = Width - Left - Right;
    private const float CellPad = 4;
    private const float HeadingHeight = 40;
    private const float DrawingWidth = 1000;

    private readonly List<List<Action<SKCanvas>>> _pages = [[]];
    private readonly Document _document;
    private float _y = Top;

    private PdfDocument(Document document) => _document = document;

    /// <summary>Writes the document; the stream stays open.</summary>
    public static void Write(Stream stream, Document document)
    {
        PlotFonts.Install();
        var pdf = new PdfDocument(document);
        pdf.Title();
        for (int i = 0; i < document.Blocks.Count; i++)
        {
            if (document.Blocks[i] is Heading or Subheading && i + 1 < document.Blocks.Count)
            {
                pdf.Keep(document.Blocks[i + 1] switch // a heading stays with its figure, and with the begin of its table
                {
                    Figure figure => HeadingHeight + HeightOf(figure),
                    Table table => HeadingHeight + LeastOf(table),
                    _ => 0,
                });
            }

            pdf.Place(document.Blocks[i]);
        }

        pdf.Render(stream);
    }

    private void Render(Stream stream)
    {
        using var managed = new SKManagedWStream(stream);
        using SKDocument pdf = SKDocument.CreatePdf(managed, new SKDocumentPdfMetadata
        {
            Title = $"{_document.Title}: {_document.Subtitle}",
            Creator = "DriftWatch",
            Producer = "DriftWatch",
            Creation = _document.Made.UtcDateTime,
            Modified = _document.Made.UtcDateTime,
            RasterDpi = 72,
            EncodingQuality = 101,
        });
        for (int i = 0; i < _pages.Count; i++)
        {
            SKCanvas canvas = pdf.BeginPage(Width, Height);
            _pages[i].ForEach(draw => draw(canvas));
            Foot(canvas, i + 1);
            pdf.EndPage();
        }

        pdf.Close();
    }

    private void Foot(SKCanvas canvas, int page)
    {
        using var rule = new SKPaint { Color = PlotInk.Grey, StrokeWidth = 0.4f };
        float y = Height - 40;
        canvas.DrawLine(Left, y, Width - Right, y, rule);
        PlotInk.Text(canvas, PlotInk.Fit(_document.Foot, Content - 70, 7), Left, y + 12, 7, PlotInk.Grey);
        PlotInk.Text(canvas, string.Create(CultureInfo.InvariantCulture, $"{page} of {_pages.Count}"), Width - Right, y + 12, 7, PlotInk.Grey, align: SKTextAlign.Right);
        PlotInk.Text(canvas, $"Made {_document.Made.UtcDateTime:d MMM yyyy HH:mm} UTC. DriftWatch drives nothing on the machine and is no safety interlock.", Left, y + 22, 7, PlotInk.Grey);
    }

    private void Title()
    {
        Draw(c => PlotInk.Text(c, "DriftWatch", Width - Right, Top + 4, 9, PlotInk.Grey, align: SKTextAlign.Right));
        Text(_document.Title, 19, PlotInk.Dark, bold: true, lead: 24, width: Content - 80);
        Text(_document.Subtitle, 10.5f, PlotInk.Grey, lead: 15);
        _y += 8;
    }

    private void Place(Block block)
    {
        switch (block)
        {
            case Heading heading:
                PlaceHeading(heading);
                break;
            case Subheading sub:
                Keep(60);
                _y += 8;
                Text(sub.Text, 10, PlotInk.Dark, bold: true, lead: 14);
                _y += 2;
                break;
            case Paragraph { Tone: Tone.Lead } lead:
                Text(lead.Text, 10.5f, PlotInk.Dark, lead: 15.5f);
                _y += 6;
                break;
            case Paragraph { Tone: Tone.Small } small:
                Text(small.Text, 7.5f, PlotInk.Grey, lead: 10.5f);
                _y += 5;
                break;
            case Paragraph plain:
                Text(plain.Text, 9, PlotInk.Dark, lead: 13);
                _y += 5;
                break;
            case Badge badge:
                PlaceBadge(badge);
                break;
            case Facts facts:
                PlaceFacts(facts);
                break;
            case Bullets bullets:
                foreach (string item in bullets.Items)
                {
                    Keep(14);
                    float at = _y;
                    Draw(c => PlotInk.Text(c, "•", Left + 2, at + 9, 9, PlotInk.Dark));
                    Text(item, 9, PlotInk.Dark, lead: 13, x: Left + 14, width: Content - 14);
                    _y += 2;
                }

                _y += 4;
                break;
            case Table table:
                PlaceTable(table);
                break;
            case Figure figure:
                PlaceFigure(figure);
                break;
        }
    }

    private void PlaceHeading(Heading heading)
    {
        if (heading.OnNewPage && _y > Top)
        {
            NewPage();
        }

        Keep(90);
        _y += _y > Top ? 12 : 0;
        Text(heading.Text, 14, PlotInk.Dark, bold: true, lead: 18);
        float y = _y + 1;
        Draw(c =>
        {
            using var rule = new SKPaint { Color = PlotInk.Trace, StrokeWidth = 1 };
            c.DrawLine(Left, y, Left + 40, y, rule);
        });
        _y += 9;
    }

    private void PlaceBadge(Badge badge)
    {
        List<string> lines = Wrap(badge.Sentence, 10, bold: false, Content - 32);
        float height = 40 + (lines.Count * 14);
        Keep(height + 10);
        float top = _y;
        SKColor ink = StandingInk.Of(badge.Standing);
        Draw(c =>
        {
            using var fill = new SKPaint { Color = ink.WithAlpha(18), IsAntialias = true };
            using var bar = new SKPaint { Color = ink };
            c.DrawRect(Left, top, Content, height, fill);
            c.DrawRect(Left, top, 5, height, bar);
            PlotInk.Text(c, $"{StandingInk.Sign(badge.Standing)}  {badge.Word}", Left + 18, top + 25, 17, ink, bold: true);
            for (int i = 0; i < lines.Count; i++)
            {
                PlotInk.Text(c, lines[i], Left + 18, top + 43 + (i * 14), 10, PlotInk.Dark);
            }
        });
        _y += height + 10;
    }

    private void PlaceFacts(Facts facts)
    {
        float names = Math.Min(150, facts.Items.Max(f => PlotInk.Measure(f.Name, 8.5f)) + 12);
        foreach (Fact fact in facts.Items)
        {
            float size = facts.IsCode ? 7.5f : 8.5f;
            List<string> lines = Wrap(fact.Value, size, bold: false, Content - names);
            Keep(lines.Count * 12);
            float top = _y;
            Draw(c =>
            {
                PlotInk.Text(c, fact.Name, Left, top + 9, 8.5f, PlotInk.Grey);
                for (int i = 0; i < lines.Count; i++)
                {
                    PlotInk.Text(c, lines[i], Left + names, top + 9 + (i * 12), size, PlotInk.Dark);
                }
            });
            _y += (lines.Count * 12) + 1;
        }

        _y += 6;
    }

    private void PlaceFigure(Figure figure)
    {
        Keep(HeightOf(figure));
        float scale = Content / DrawingWidth;
        float height = figure.Drawing.Height * scale;
        List<string> caption = Wrap(figure.Caption, 8.5f, bold: false, Content);
        float top = _y;
        Draw(c =>
        {
            c.Save();
            c.Translate(Left, top);
            c.Scale(scale);
            figure.Drawing.Draw(c);
            c.Restore();
        });
        _y += height + 2;
        foreach (string line in caption)
        {
            float y = _y;
            Draw(c => PlotInk.Text(c, line, Left, y + 9, 8.5f, PlotInk.Dark));
            _y += 12;
        }

        _y += 8;
    }

    private static float HeightOf(Figure figure) =>
        (figure.Drawing.Height * Content / DrawingWidth) + (Wrap(figure.Caption, 8.5f, bold: false, Content).Count * 12) + 8;

    private void Text(string text, float size, SKColor ink, float lead, bool bold = false, float x = Left, float width = Content)
    {
        foreach (string line in Wrap(text, size, bold, width))
        {
            Keep(lead);
            float y = _y + (size * 0.95f);
            Draw(c => PlotInk.Text(c, line, x, y, size, ink, bold));
            _y += lead;
        }
    }

    private void Draw(Action<SKCanvas> draw) => _pages[^1].Add(draw);

    /// <summary>Begins a new page where so much does not fit on this one.</summary>
    private void Keep(float height)
    {
        if (_y + height > Height - Bottom && _y > Top)
        {
            NewPage();
        }
    }

    private void NewPage()
    {
        _pages.Add([]);
        _y = Top;
    }

    private static string Shown(Cell cell) =>
        cell.Standing is { } standing && cell.Text.Length > 0 ? $"{StandingInk.Sign(standing)} {cell.Text}" : cell.Text;

    /// <summary>Lines no wider than asked for; a word that is too long by itself, such as a hash, is cut.</summary>
    private static List<string> Wrap(string text, float size, bool bold, float width)
    {
        using SKFont font = PlotInk.Font(size, bold);
        var lines = new List<string>();
        string line = "";
        foreach (string word in text.Split(' ').SelectMany(w => Pieces(w, font, width)))
        {
            string longer = line.Length == 0 ? word : line + " " + word;
            if (line.Length > 0 && font.MeasureText(longer) > width)
            {
                lines.Add(line);
                longer = word;
            }

            line = longer;
        }

        lines.Add(line);
        return lines;
    }

    private static IEnumerable<string> Pieces(string word, SKFont font, float width)
    {
        while (word.Length > 1 && font.MeasureText(word) > width)
        {
            int fits = Math.Max(1, (int)font.BreakText(word, width));
            yield return word[..fits];
            word = word[fits..];
        }

        yield return word;
    }
}
