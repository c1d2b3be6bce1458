using System.Globalization;
using DriftWatch.Measurement.Channels;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Plots;
using ScottPlot;
using ScottPlot.Plottables;
using ScottPlot.TickGenerators;
using SkiaSharp;

namespace DriftWatch.Reports.Dossiers.Figures;

/// <summary>Timing error over one turn of the wheel, head by head: the shape that the guide and the heads give the picture, at the run's begin and end.</summary>
/// <param name="pictures">Of one channel, at least one.</param>
internal sealed class TurnFigure(IReadOnlyList<TurnPicture> pictures) : IDrawing
{
    private const float Plot = 200;
    private static readonly float[] Dashes = [7, 4];
    private static readonly (SKColor Ink, LinePattern Pattern)[] Inks =
        [(new SKColor(0x1b, 0x5e, 0x92), LinePattern.Solid), (new SKColor(0xc2, 0x51, 0x00), LinePattern.Dashed)];

    public string Words => $"{pictures[0].Channel.Label} over one turn of the wheel, {string.Join(" and ", pictures.Select(p => p.When))}";

    public float Height => 24 + Plot + 30;

    public void Draw(SKCanvas canvas)
    {
        using var plot = new Plot();
        FrameAxis axis = pictures[0].Channel.Axis!;
        double least = pictures.Min(p => p.Values.Min());
        double greatest = pictures.Max(p => p.Values.Max());
        double margin = Math.Max(1, greatest - least) * 0.12;
        plot.Layout.Fixed(new PixelPadding(FigureFrame.Left, FigureFrame.Right, 26, 0));
        plot.FigureBackground.Color = Colors.White;
        plot.DataBackground.Color = new ScottPlot.Color(252, 253, 254);
        plot.Grid.MajorLineColor = new ScottPlot.Color(226, 231, 236);
        plot.Axes.FrameColor(new ScottPlot.Color(160, 168, 176));
        plot.Axes.Left.TickGenerator = new NumericAutomatic { MinimumTickSpacing = 26, LabelFormatter = v => NumberText.At(v, (greatest - least) / 4) };
        plot.Axes.Left.TickLabelStyle.FontSize = 11.5f;
        int[] heads = [.. axis.Heads.Distinct().Order()];
        var ticks = new NumericManual();
        foreach (int head in heads)
        {
            ticks.AddMajor(head + 0.5, string.Create(CultureInfo.InvariantCulture, $"head {head}"));
            if (head > heads[0])
            {
                plot.Add.VerticalLine(head, 1, PlotInk.Plot(PlotInk.Grey, 0.6), LinePattern.Dotted);
            }
        }

        plot.Axes.Bottom.TickGenerator = ticks;
        plot.Axes.Bottom.TickLabelStyle.FontSize = 11.5f;
        plot.Axes.Bottom.MajorTickStyle.Length = 0;
        double widest = axis.AnglesDegrees.Max(Math.Abs) + 1e-9;
        for (int k = 0; k < pictures.Count; k++)
        {
            foreach (int head in heads)
            {
                int[] points = [.. Enumerable.Range(0, axis.Count).Where(i => axis.Heads[i] == head).OrderBy(i => axis.AnglesDegrees[i])];
                double[] angles = [.. points.Select(i => head + 0.5 + (0.47 * axis.AnglesDegrees[i] / widest))];
                double[] values = [.. points.Select(i => pictures[k].Values[i])];
                Scatter line = plot.Add.ScatterLine(angles, values, PlotInk.Plot(Inks[k % 2].Ink));
                line.LineWidth = 1.6f;
                line.LinePattern = Inks[k % 2].Pattern;
            }
        }

        plot.Axes.SetLimits(heads[0], heads[^1] + 1, least - margin, greatest + margin);
        canvas.Save();
        canvas.ClipRect(new SKRect(0, 22, 1000, 24 + Plot + 28));
        plot.Render(canvas, new PixelRect(0, 1000, 24 + Plot + 26, 24));
        canvas.Restore();
        PlotInk.Text(canvas, $"{pictures[0].Channel.Label} over one turn, {pictures[0].Channel.Unit}", FigureFrame.Left, 15, 13, PlotInk.Dark, bold: true);
        for (int k = 0; k < pictures.Count; k++)
        {
            float y = 40 + (k * 34);
            using var ink = new SKPaint { Color = Inks[k % 2].Ink, StrokeWidth = 2, PathEffect = k == 0 ? null : SKPathEffect.CreateDash(Dashes, 0) };
            canvas.DrawLine(1000 - FigureFrame.Right + 8, y, 1000 - FigureFrame.Right + 38, y, ink);
            PlotInk.Text(canvas, pictures[k].When, 1000 - FigureFrame.Right + 8, y + 15, 11, Inks[k % 2].Ink);
        }
    }
}
