using System.Text;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers;

namespace DriftWatch.Tests.Reports.Dossiers;

[Collection(ImportedStores.Name)]
public sealed class ReportTests(ImportedStores stores)
{
    private static readonly DateTimeOffset Made = new(2026, 3, 1, 12, 0, 0, TimeSpan.Zero);

    [Fact]
    public void The_same_span_gives_the_same_pdf_to_the_byte()
    {
        byte[] once = Pdf(DossierReader.OfSpan(stores.Compressor, null, null), Made);
        Assert.Equal(once, Pdf(DossierReader.OfSpan(stores.Compressor, null, null), Made));
        string text = Encoding.Latin1.GetString(once);
        Assert.StartsWith("%PDF-1.", text, StringComparison.Ordinal);
        Assert.Contains("/FontFile2", text, StringComparison.Ordinal); // its letters are within it
        Assert.DoesNotContain("/Subtype /Image", text, StringComparison.Ordinal); // lines stay lines
        Assert.InRange(once.Length, 30_000, 900_000);
    }

    [Fact]
    public void Made_on_another_day_only_the_day_differs()
    {
        Dossier dossier = DossierReader.OfSpan(stores.Sound, null, null);
        string[] once = Html(dossier, Made).Split('\n');
        string[] later = Html(dossier, Made.AddDays(40)).Split('\n');
        Assert.Equal(once.Length, later.Length);
        string differs = Assert.Single(once.Zip(later).Where(l => l.First != l.Second).Select(l => l.First));
        Assert.Contains("<time datetime=\"2026-03-01T12:00:00Z\">", differs, StringComparison.Ordinal);
    }

    [Fact]
    public void The_page_needs_nothing_from_anywhere()
    {
        string html = Html(DossierReader.OfSpan(stores.Compressor, null, null), Made);
        Assert.DoesNotContain("<script", html, StringComparison.OrdinalIgnoreCase);
        Assert.DoesNotContain(" style=", html, StringComparison.Ordinal); // its policy would forbid it
        Assert.DoesNotContain("https:", html, StringComparison.Ordinal);
        Assert.DoesNotContain("http:", html.Replace("http://www.w3.org/", "", StringComparison.Ordinal), StringComparison.Ordinal);
        Assert.Contains(HtmlDocument.Policy, html, StringComparison.Ordinal);
        Assert.InRange(html.Length, 100_000, 6_000_000);
    }

    [Fact]
    public void Ids_of_drawings_do_not_meet()
    {
        string html = Html(DossierReader.OfSpan(stores.Sound, null, null), Made);
        List<string> ids = [.. html.Split(" id=\"").Skip(1).Select(p => p[..p.IndexOf('"', StringComparison.Ordinal)])];
        Assert.NotEmpty(ids);
        Assert.Equal(ids.Count, ids.Distinct().Count());
        Assert.All(html.Split("url(#").Skip(1).Select(p => p[..p.IndexOf(')', StringComparison.Ordinal)]), id => Assert.Contains(id, ids));
    }

    [Fact]
    public void The_first_page_says_that_a_span_is_no_transfer_and_what_was_wrong_where()
    {
        Dossier dossier = DossierReader.OfSpan(stores.Compressor, null, null);
        Document report = TransferReport.Of(dossier, TimeZoneInfo.Utc, Made);
        List<Block> first = [.. report.Blocks.TakeWhile(b => b is not Heading)];
        Assert.Equal("Report on a span of the record", report.Title);
        Badge badge = Assert.IsType<Badge>(first[0]);
        Assert.Equal(Standing.Open, badge.Standing);
        Assert.Contains("1 grave trouble", badge.Sentence, StringComparison.Ordinal);
        Table troubles = Assert.Single(first.OfType<Table>());
        Assert.Equal(Trouble.Of(dossier).Count, troubles.Rows.Count);
        Assert.Contains(first.OfType<Facts>(), f => f.Items.Any(i => i.Value == dossier.Record.Sha256));
    }

    [Fact]
    public void Every_letter_of_the_report_is_in_its_fonts()
    {
        foreach (string store in new[] { stores.Sound, stores.Compressor })
        {
            Document report = TransferReport.Of(DossierReader.OfSpan(store, null, null), TimeZoneInfo.Utc, Made);
            string all = string.Concat(report.Blocks.SelectMany(Texts)) + string.Concat(Enum.GetValues<Standing>().Select(StandingInk.Sign));
            Assert.Empty(all.Where(c => c > ' ' && DriftWatch.Reports.Plots.PlotFonts.Regular.GetGlyph(c) == 0).Distinct());
        }
    }

    private static IEnumerable<string> Texts(Block block) => block switch
    {
        Heading h => [h.Text],
        Subheading s => [s.Text],
        Paragraph p => [p.Text],
        Badge b => [b.Word, b.Sentence],
        Facts f => f.Items.SelectMany(i => new[] { i.Name, i.Value }),
        Bullets b => b.Items,
        Table t => t.Rows.SelectMany(r => r.Select(c => c.Text)).Append(t.Caption),
        Figure f => [f.Caption, f.Drawing.Words],
        _ => [],
    };

    private static byte[] Pdf(Dossier dossier, DateTimeOffset made)
    {
        using var stream = new MemoryStream();
        PdfDocument.Write(stream, TransferReport.Of(dossier, TimeZoneInfo.Utc, made));
        return stream.ToArray();
    }

    private static string Html(Dossier dossier, DateTimeOffset made)
    {
        using var stream = new MemoryStream();
        HtmlDocument.Write(stream, TransferReport.Of(dossier, TimeZoneInfo.Utc, made));
        return Encoding.UTF8.GetString(stream.ToArray());
    }
}
