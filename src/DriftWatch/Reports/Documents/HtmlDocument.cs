using System.Globalization;
using System.Net;
using System.Security.Cryptography;
using System.Text;
using System.Text.RegularExpressions;
using DriftWatch.Reports.Plots;
using SkiaSharp;

namespace DriftWatch.Reports.Documents;

/// <summary>
/// Writes a document as one HTML file that needs nothing else: style and fonts within, drawings as SVG, no script. It is read
/// on a screen of any width, prints on A4, and forbids by its own policy that anything is fetched.
/// </summary>
internal static partial class HtmlDocument
{
    private static readonly Lazy<string> Style = new(() => Fonts() + Rules());

    /// <summary>The policy under which the file works, for who serves it: its one style by its hash, fonts within it, nothing else.</summary>
    public static string Policy { get; } =
        $"default-src 'none'; style-src 'sha256-{Convert.ToBase64String(SHA256.HashData(Encoding.UTF8.GetBytes(Style.Value)))}'; font-src data:; img-src data:; base-uri 'none'; form-action 'none'";

    /// <summary>Writes the document as UTF-8; the stream stays open.</summary>
    public static void Write(Stream stream, Document document)
    {
        PlotFonts.Install();
        var html = new StringBuilder(256 * 1024);
        html.Append("<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n")
            .Append("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n")
            .Append(CultureInfo.InvariantCulture, $"<meta http-equiv=\"Content-Security-Policy\" content=\"{Policy}\">\n")
            .Append(CultureInfo.InvariantCulture, $"<meta name=\"generator\" content=\"DriftWatch\">\n<title>{Text(document.Title)}: {Text(document.Subtitle)}</title>\n")
            .Append("<style>").Append(Style.Value).Append("</style>\n</head>\n<body>\n<main>\n")
            .Append(CultureInfo.InvariantCulture, $"<header><p class=\"by\">DriftWatch</p><h1>{Text(document.Title)}</h1><p class=\"of\">{Text(document.Subtitle)}</p></header>\n");
        int figures = 0;
        bool isOpen = false;
        foreach (Block block in document.Blocks)
        {
            if (block is Heading heading)
            {
                html.Append(isOpen ? "</section>\n" : "").Append(CultureInfo.InvariantCulture, $"<section{(heading.OnNewPage ? " class=\"page\"" : "")}>\n");
                isOpen = true;
            }

            Add(html, block, ref figures);
        }

        html.Append(isOpen ? "</section>\n" : "")
            .Append(CultureInfo.InvariantCulture, $"</main>\n<footer><p>{Text(document.Foot)}</p><p>Made <time datetime=\"{document.Made.UtcDateTime:yyyy-MM-dd'T'HH:mm:ss'Z'}\">{document.Made.UtcDateTime:d MMM yyyy HH:mm} UTC</time></p></footer>\n</body>\n</html>\n");
        stream.Write(Encoding.UTF8.GetBytes(html.ToString()));
    }

    private static void Add(StringBuilder html, Block block, ref int figures)
    {
        switch (block)
        {
            case Heading heading:
                html.Append(CultureInfo.InvariantCulture, $"<h2>{Text(heading.Text)}</h2>\n");
                break;
            case Subheading sub:
                html.Append(CultureInfo.InvariantCulture, $"<h3>{Text(sub.Text)}</h3>\n");
                break;
            case Paragraph paragraph:
                string tone = paragraph.Tone switch { Tone.Lead => " class=\"lead\"", Tone.Small => " class=\"small\"", _ => "" };
                html.Append(CultureInfo.InvariantCulture, $"<p{tone}>{Text(paragraph.Text)}</p>\n");
                break;
            case Badge badge:
                html.Append(CultureInfo.InvariantCulture, $"<div class=\"badge {Class(badge.Standing)}\"><p class=\"word\">{StandingInk.Sign(badge.Standing)} {Text(badge.Word)}</p><p>{Text(badge.Sentence)}</p></div>\n");
                break;
            case Facts facts:
                html.Append(facts.IsCode ? "<dl class=\"code\">\n" : "<dl>\n");
                foreach (Fact fact in facts.Items)
                {
                    html.Append(CultureInfo.InvariantCulture, $"<div><dt>{Text(fact.Name)}</dt><dd>{Text(fact.Value)}</dd></div>\n");
                }

                html.Append("</dl>\n");
                break;
            case Bullets bullets:
                html.Append("<ul>\n");
                foreach (string item in bullets.Items)
                {
                    html.Append(CultureInfo.InvariantCulture, $"<li>{Text(item)}</li>\n");
                }

                html.Append("</ul>\n");
                break;
            case Table table:
                AddTable(html, table);
                break;
            case Figure figure:
                html.Append("<figure tabindex=\"0\">").Append(Svg(figure.Drawing, ++figures))
                    .Append(CultureInfo.InvariantCulture, $"<figcaption>{Text(figure.Caption)}</figcaption></figure>\n");
                break;
        }
    }

    private static void AddTable(StringBuilder html, Table table)
    {
        // It may be wider than a phone: then it scrolls in a frame that the keyboard reaches.
        html.Append(CultureInfo.InvariantCulture, $"<div class=\"wide\" role=\"region\" aria-label=\"{Text(table.Caption)}\" tabindex=\"0\"><table>\n<caption>{Text(table.Caption)}</caption>\n<thead><tr>");
        foreach (Column column in table.Columns)
        {
            html.Append(column.Title.Length == 0 ? "<td></td>" : $"<th scope=\"col\"{Number(column)}>{Text(column.Title)}</th>");
        }

        html.Append("</tr></thead>\n<tbody>\n");
        foreach (IReadOnlyList<Cell> row in table.Rows)
        {
            html.Append("<tr>");
            for (int i = 0; i < row.Count; i++)
            {
                string text = Text(row[i].Text);
                html.Append(row[i].Standing is { } standing && text.Length > 0
                    ? $"<td{Number(table.Columns[i])}><span class=\"{Class(standing)}\">{StandingInk.Sign(standing)} {text}</span></td>"
                    : $"<td{Number(table.Columns[i])}>{text}</td>");
            }

            html.Append("</tr>\n");
        }

        html.Append("</tbody>\n</table></div>\n");
    }

    private static string Number(Column column) => column.IsNumber ? " class=\"number\"" : "";

    private static string Class(Standing standing) => standing switch
    {
        Standing.Good => "good",
        Standing.Doubtful => "doubtful",
        Standing.Bad => "bad",
        _ => "open",
    };

    private static string Svg(IDrawing drawing, int number)
    {
        using var drawn = new MemoryStream();
        using (SKCanvas canvas = SKSvgCanvas.Create(SKRect.Create(1000, drawing.Height), drawn))
        {
            drawing.Draw(canvas);
        }

        string svg = Encoding.UTF8.GetString(drawn.ToArray());
        svg = svg[svg.IndexOf("<svg ", StringComparison.Ordinal)..].TrimEnd();

        // Skia counts its ids on through the life of the process: in a page they are counted by drawing and place, the same each time.
        var ids = new Dictionary<string, string>(StringComparer.Ordinal);
        svg = Ids().Replace(svg, m =>
        {
            string id = m.Groups["id"].Value;
            if (!ids.TryGetValue(id, out string? ours))
            {
                ids.Add(id, ours = string.Create(CultureInfo.InvariantCulture, $"f{number}-{ids.Count + 1}"));
            }

            return m.Groups["lead"].Value + ours;
        });
        string size = string.Create(CultureInfo.InvariantCulture, $"viewBox=\"0 0 1000 {drawing.Height}\" role=\"img\" aria-label=\"{Text(drawing.Words)}\" ");
        return Size().Replace(svg, "").Insert(5, size);
    }

    private static string Text(string text) => WebUtility.HtmlEncode(text);

    private static string Fonts()
    {
        return Face("normal", "DejaVuSans.subset.ttf") + Face("bold", "DejaVuSans-Bold.subset.ttf");

        static string Face(string weight, string file) =>
            $"@font-face{{font-family:\"DejaVu Sans\";font-weight:{weight};src:url(data:font/ttf;base64,{Convert.ToBase64String(PlotFonts.Bytes(file))}) format(\"truetype\")}}\n";
    }

    private static string Rules()
    {
        using Stream stream = typeof(HtmlDocument).Assembly.GetManifestResourceStream("DriftWatch.Reports.Documents.report.css")
            ?? throw new InvalidOperationException("The program was built without report.css.");
        using var reader = new StreamReader(stream, Encoding.UTF8);
        return reader.ReadToEnd();
    }

    [GeneratedRegex("(?<lead> id=\"|url\\(#|href=\"#)(?<id>[^\")]+)", RegexOptions.ExplicitCapture, matchTimeoutMilliseconds: 5000)]
    private static partial Regex Ids();

    [GeneratedRegex("(?<=<svg [^>]*)(width|height)=\"[^\"]*\" ?", RegexOptions.ExplicitCapture, matchTimeoutMilliseconds: 5000)]
    private static partial Regex Size();
}
