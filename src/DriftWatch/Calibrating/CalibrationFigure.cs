using DriftWatch.Reports.Plots;
using ScottPlot;
using ScottPlot.Plottables;
using SkiaSharp;

namespace DriftWatch.Calibrating;

/// <summary>The errors of a calibration over the reference: as found hollow, as left filled with its expanded uncertainty, triangles in the direction of their approach.</summary>
internal static class CalibrationFigure
{
    public static void Draw(SKCanvas canvas, CalibrationDocument document, SKRect place)
    {
        using var plot = new Plot();
        plot.Layout.Fixed(new PixelPadding(46, 4, 18, 4));
        plot.FigureBackground.Color = Colors.White;
        plot.DataBackground.Color = new ScottPlot.Color(252, 253, 254);
        plot.Grid.MajorLineColor = new ScottPlot.Color(226, 231, 236);
        plot.Axes.FrameColor(new ScottPlot.Color(160, 168, 176));
        foreach (IAxis axis in (IAxis[])[plot.Axes.Bottom, plot.Axes.Left])
        {
            axis.TickLabelStyle.FontSize = 8;
            axis.TickLabelStyle.ForeColor = PlotInk.Plot(PlotInk.Dark);
        }

        plot.Add.HorizontalLine(0, 0.8f, PlotInk.Plot(PlotInk.Grey));
        AddTolerance(plot, document);
        double[] at = [.. document.Points.Select(p => p.Reference)];
        ErrorBar bars = plot.Add.ErrorBar(at, [.. document.Points.Select(p => p.AsLeft)], [.. document.Points.Select(_ => document.AsLeft.Expanded)]);
        bars.Color = PlotInk.Plot(PlotInk.Trace, 0.55);
        bars.LineWidth = 0.8f;
        bars.CapSize = 2;
        foreach (PointFacts point in document.Points)
        {
            bool up = point.Direction == "up";
            ScottPlot.Plottables.Marker found = plot.Add.Marker(point.Reference, point.AsFound, up ? MarkerShape.OpenTriangleUp : MarkerShape.OpenTriangleDown, 6, PlotInk.Plot(PlotInk.Advisory));
            found.MarkerLineWidth = 1;
            plot.Add.Marker(point.Reference, point.AsLeft, up ? MarkerShape.FilledTriangleUp : MarkerShape.FilledTriangleDown, 6, PlotInk.Plot(PlotInk.Trace));
        }

        Limit(plot, document, at);
        canvas.Save();
        canvas.ClipRect(place); // it wipes what it is given before it draws
        plot.Render(canvas, new PixelRect(place.Left, place.Right, place.Bottom, place.Top));
        canvas.Restore();
    }

    /// <summary>Set to the right, so that it stands over the drawing's end.</summary>
    public static void Legend(SKCanvas canvas, CalibrationDocument document, float right, float y)
    {
        string tolerance = document.Tolerance is null ? "" : "   dashed: tolerance";
        PlotInk.Text(canvas, $"bars: U as left   triangles: direction{tolerance}", right, y, 7.5f, PlotInk.Grey, align: SKTextAlign.Right);
        float x = right - PlotInk.Measure($"bars: U as left   triangles: direction{tolerance}", 7.5f) - 10;
        PlotInk.Text(canvas, "as left", x, y, 7.5f, PlotInk.Trace, align: SKTextAlign.Right);
        x -= PlotInk.Measure("as left", 7.5f) + 5;
        Triangle(canvas, x, y - 2.6f, PlotInk.Trace, SKPaintStyle.Fill);
        x -= 9;
        PlotInk.Text(canvas, "as found", x, y, 7.5f, PlotInk.Advisory, align: SKTextAlign.Right);
        x -= PlotInk.Measure("as found", 7.5f) + 5;
        Triangle(canvas, x, y - 2.6f, PlotInk.Advisory, SKPaintStyle.Stroke);
    }

    private static void Triangle(SKCanvas canvas, float x, float y, SKColor ink, SKPaintStyle style)
    {
        using var paint = new SKPaint { Color = ink, Style = style, StrokeWidth = 0.9f, IsAntialias = true };
        using var path = new SKPath();
        path.MoveTo(x, y - 3);
        path.LineTo(x + 3, y + 2.4f);
        path.LineTo(x - 3, y + 2.4f);
        path.Close();
        canvas.DrawPath(path, paint);
    }

    private static void AddTolerance(Plot plot, CalibrationDocument document)
    {
        foreach (double sign in (double[])[-1, 1])
        {
            if (document.Tolerance is { } tolerance)
            {
                plot.Add.HorizontalLine(sign * tolerance, 1, PlotInk.Plot(PlotInk.Dark), LinePattern.Dashed);
            }
        }
    }

    private static void Limit(Plot plot, CalibrationDocument document, double[] at)
    {
        double most = document.Points.Max(p => Math.Max(Math.Abs(p.AsFound), Math.Abs(p.AsLeft) + document.AsLeft.Expanded));

        // A tolerance far beyond the errors would flatten them; it is told in words above.
        most = document.Tolerance is { } tolerance && tolerance < 8 * most ? Math.Max(most, tolerance) : most;
        double margin = 0.05 * (at.Max() - at.Min());
        plot.Axes.SetLimits(at.Min() - margin, at.Max() + margin, -1.15 * most, 1.15 * most);
    }
}
