using DriftWatch.Reports.Plots;
using SkiaSharp;

namespace DriftWatch.Reports.Documents;

/// <summary>Tables on paper: the head stands on every page, over a row of its own, and no row runs off the page.</summary>
internal sealed partial class PdfDocument
{
    private const float CaptionSize = 8;
    private const float CaptionLead = 11;
    private const float RowLead = 10.5f;
    private const float RowPad = 5;

    /// <summary>A row up to so high is never parted: half a page, so that heading, caption and head stand above it.</summary>
    private const float LongestWhole = (Height - Top - Bottom) / 2;

    /// <summary>Lines of a longer row that stand at a page's foot at least. Source: common practice, no source.</summary>
    private const int FewLines = 3;

    private void PlaceTable(Table table)
    {
        float[] widths = Widths(table);
        Keep(LeastOf(table)); // a head stands over a row of its own
        if (table.Caption.Length > 0)
        {
            Text(table.Caption, CaptionSize, PlotInk.Grey, lead: CaptionLead);
            _y += 3;
        }

        HeadRow(table, widths);
        foreach (IReadOnlyList<Cell> row in table.Rows)
        {
            PlaceRow(row, CellsOf(row, widths), table, widths);
        }

        _y += 9;
    }

    /// <summary>A row stays whole up to half a page. A longer one, such as a long note in a narrow column, runs on under the head of the next page.</summary>
    private void PlaceRow(IReadOnlyList<Cell> row, List<string>[] cells, Table table, float[] widths)
    {
        int lines = cells.Max(c => c.Count);
        if (Room < RowHeight(LeastLines(lines)))
        {
            NewPage();
            HeadRow(table, widths);
        }

        for (int done = 0; done < lines;)
        {
            int fit = Math.Clamp((int)((Room - RowPad) / RowLead), 1, lines - done);
            Row(row, [.. cells.Select(c => c.Skip(done).Take(fit).ToList())], table, widths, RowHeight(fit), isLast: done + fit == lines);
            done += fit;
            if (done < lines)
            {
                NewPage();
                HeadRow(table, widths);
            }
        }
    }

    private float Room => Height - Bottom - _y + 0.1f; // what was kept for a row is not lost by rounding

    private static float[] Widths(Table table)
    {
        double weights = table.Columns.Sum(c => c.Weight);
        return [.. table.Columns.Select(c => (float)(Content * c.Weight / weights))];
    }

    private static List<string>[] CellsOf(IReadOnlyList<Cell> row, float[] widths) =>
        [.. row.Select((cell, i) => Wrap(Shown(cell), 7.8f, cell.Standing is Standing.Bad, widths[i] - (2 * CellPad)))];

    private static List<string>[] HeadCells(Table table, float[] widths) =>
        [.. table.Columns.Select((c, i) => Wrap(c.Title, 7.5f, bold: true, widths[i] - (2 * CellPad)))];

    private static float HeadHeight(Table table, float[] widths) => (HeadCells(table, widths).Max(c => c.Count) * 10) + 7;

    private static float RowHeight(int lines) => (lines * RowLead) + RowPad;

    /// <summary>Of a row's lines those that must stand together.</summary>
    private static int LeastLines(int lines) => RowHeight(lines) <= LongestWhole ? lines : FewLines;

    /// <summary>What of a table must stand together on a page: its caption, its head and the first row or the begin of it.</summary>
    private static float LeastOf(Table table)
    {
        float[] widths = Widths(table);
        float caption = table.Caption.Length > 0 ? (Wrap(table.Caption, CaptionSize, bold: false, Content).Count * CaptionLead) + 3 : 0;
        return caption + HeadHeight(table, widths) + (table.Rows.Count > 0 ? RowHeight(LeastLines(CellsOf(table.Rows[0], widths).Max(c => c.Count))) : 0);
    }

    private void HeadRow(Table table, float[] widths)
    {
        List<string>[] cells = HeadCells(table, widths);
        float height = HeadHeight(table, widths);
        float top = _y;
        Draw(c =>
        {
            float x = Left;
            for (int i = 0; i < cells.Length; i++)
            {
                Lines(c, cells[i], x, top + 9, widths[i], table.Columns[i].IsNumber, 7.5f, 10, PlotInk.Dark, bold: true);
                x += widths[i];
            }

            using var rule = new SKPaint { Color = PlotInk.Dark, StrokeWidth = 0.8f };
            c.DrawLine(Left, top + height - 2, Width - Right, top + height - 2, rule);
        });
        _y += height;
    }

    private void Row(IReadOnlyList<Cell> row, List<string>[] cells, Table table, float[] widths, float height, bool isLast)
    {
        float top = _y;
        Draw(c =>
        {
            float x = Left;
            for (int i = 0; i < cells.Length; i++)
            {
                SKColor ink = row[i].Standing is { } standing ? StandingInk.Of(standing) : PlotInk.Dark;
                Lines(c, cells[i], x, top + 8.5f, widths[i], table.Columns[i].IsNumber, 7.8f, RowLead, ink, row[i].Standing is Standing.Bad);
                x += widths[i];
            }

            if (!isLast)
            {
                return; // the rule says that a row is at its end
            }

            using var rule = new SKPaint { Color = new SKColor(0xd8, 0xdd, 0xe2), StrokeWidth = 0.5f };
            c.DrawLine(Left, top + height - 1, Width - Right, top + height - 1, rule);
        });
        _y += height;
    }

    private static void Lines(
        SKCanvas canvas, List<string> lines, float x, float y, float width, bool isNumber, float size, float lead, SKColor ink, bool bold)
    {
        for (int i = 0; i < lines.Count; i++)
        {
            float at = isNumber ? x + width - CellPad : x + (x > Left ? CellPad : 0);
            PlotInk.Text(canvas, lines[i], at, y + (i * lead), size, ink, bold, isNumber ? SKTextAlign.Right : SKTextAlign.Left);
        }
    }
}
