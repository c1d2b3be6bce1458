using DriftWatch.Reports.Documents;

namespace DriftWatch.Cli;

/// <summary>Writes a document as plain text for a terminal: its words and tables, its drawings by what they show.</summary>
internal static class TextDocument
{
    public static void Write(TextWriter output, Document document)
    {
        output.WriteLine($"{document.Title}: {document.Subtitle}");
        foreach (Block block in document.Blocks)
        {
            switch (block)
            {
                case Heading heading:
                    output.WriteLine();
                    output.WriteLine(heading.Text.ToUpperInvariant());
                    break;
                case Subheading sub:
                    output.WriteLine();
                    output.WriteLine(sub.Text.ToUpperInvariant());
                    break;
                case Paragraph paragraph:
                    output.WriteLine(paragraph.Text);
                    break;
                case Badge badge:
                    output.WriteLine($"{badge.Word}. {badge.Sentence}");
                    break;
                case Facts facts:
                    int width = facts.Items.Count == 0 ? 0 : facts.Items.Max(f => f.Name.Length);
                    foreach (Fact fact in facts.Items)
                    {
                        output.WriteLine($"{fact.Name.PadRight(width)}  {fact.Value}");
                    }

                    break;
                case Bullets bullets:
                    foreach (string item in bullets.Items)
                    {
                        output.WriteLine($"- {item}");
                    }

                    break;
                case Table table:
                    if (table.Caption.Length > 0)
                    {
                        output.WriteLine(table.Caption);
                    }

                    TextTable.Write(output, [.. table.Columns.Select(c => c.Title)], table.Rows.Select(r => (string[])[.. r.Select(c => c.Text)]));
                    break;
                case Figure figure:
                    output.WriteLine($"{figure.Drawing.Words} {figure.Caption}");
                    break;
            }
        }
    }
}
