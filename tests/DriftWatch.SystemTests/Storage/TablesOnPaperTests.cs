using System.Diagnostics;
using DriftWatch.Reports.Documents;

namespace DriftWatch.SystemTests.Storage;

/// <summary>Tables of a report as another program reads them off its pages: Poppler leaves out what is drawn beyond a page's edge.</summary>
public sealed class TablesOnPaperTests : IDisposable
{
    private static readonly DateTimeOffset Made = new(2026, 3, 1, 12, 0, 0, TimeSpan.Zero);
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-paper-test-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    /// <summary>As long as a note may be, in the narrow column in which the line-up's notes stand: more lines than a page holds.</summary>
    [Fact]
    public async Task The_longest_note_is_printed_to_its_last_word_under_a_head_on_each_page()
    {
        string[] words = [.. Enumerable.Range(0, 250).Select(i => $"word{i:000}")]; // with a blank after each: 2,000 characters
        string[] pages = await PagesAsync(new Table(
            "Line-up: each step before and after.", [new Column("stephead", 2.6), new Column("recordedhead", 1)],
            [["short step", "short note"], ["long step", string.Join(' ', words)], ["last step", "its note"]]));
        Assert.True(pages.Length > 1, "the note is longer than a page");
        Assert.All(pages, p => Assert.Contains("recordedhead", p, StringComparison.Ordinal));
        string printed = string.Concat(pages);
        Assert.Equal(words, words.OrderBy(w => printed.IndexOf(w, StringComparison.Ordinal)).Where(w => printed.Contains(w, StringComparison.Ordinal)));
        Assert.Contains("its note", pages[^1], StringComparison.Ordinal);
    }

    /// <summary>Wherever on a page a table begins, and however long its first row is: the heading, the caption and the head have a row below them.</summary>
    [Theory]
    [InlineData(1)]
    [InlineData(12)]
    [InlineData(40)]
    [InlineData(90)]
    public async Task A_head_is_never_the_last_thing_on_a_page(int lines)
    {
        for (int above = 16; above < 42; above++) // 40 fill a page
        {
            string row = string.Join(' ', Enumerable.Repeat("rowword-rowword-rowword", lines)); // two do not fit beside each other
            string[] pages = await PagesAsync(
                [.. Enumerable.Repeat(new Paragraph("Above."), above), new Heading("Partheading"), new Table("Captionword.", [new Column("headword", 1), new Column("", 3)], [[row, ""]])]);
            Assert.Contains(pages, p => p.Contains("headword", StringComparison.Ordinal));
            foreach (string word in new[] { "Partheading", "Captionword", "headword" })
            {
                Assert.All(pages.Where(p => p.Contains(word, StringComparison.Ordinal)), p => Assert.True(
                    p.IndexOf("rowword", StringComparison.Ordinal) > p.IndexOf(word, StringComparison.Ordinal), $"'{word}' has no row below it after {above} lines"));
            }
        }
    }

    private async Task<string[]> PagesAsync(params Block[] blocks)
    {
        string path = Path.Combine(_folder, "paper.pdf");
        await using (FileStream file = File.Create(path))
        {
            PdfDocument.Write(file, new Document("A report", "of one table", blocks, Made, "foot"));
        }

        using Process process = Process.Start(new ProcessStartInfo("pdftotext", [path, "-"]) { RedirectStandardOutput = true, UseShellExecute = false })!;
        string text = await process.StandardOutput.ReadToEndAsync();
        await process.WaitForExitAsync();
        Assert.Equal(0, process.ExitCode);
        return [.. text.Split('\f', StringSplitOptions.RemoveEmptyEntries)];
    }
}
