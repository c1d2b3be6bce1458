using System.Globalization;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers.Figures;
using DriftWatch.Reports.Plots;
using DriftWatch.Watch.Alarms.Health;
using ScottPlot;
using ScottPlot.Plottables;
using ScottPlot.TickGenerators;
using SkiaSharp;

namespace DriftWatch.Reports.Maintaining;

/// <param name="Name">Stands at its end.</param>
/// <param name="Points">Oldest first; a standard error is drawn as a bar of two to either side.</param>
internal sealed record FigureLine(string Name, IReadOnlyList<UpkeepPoint> Points);

/// <summary>Points over the days of a span, of one unit: lines told apart by their marks and names, not by colour alone.</summary>
/// <param name="title">What it shows.</param>
/// <param name="unit">Of all lines.</param>
/// <param name="span">That is shown.</param>
/// <param name="zone">Of its days.</param>
/// <param name="lines">At least one with a point.</param>
internal sealed class UpkeepFigure(string title, string unit, UtcStretch span, TimeZoneInfo zone, IReadOnlyList<FigureLine> lines) : IDrawing
{
    private const float Left = 66;
    private const float Right = 130;
    private const float Top = 24;
    private const float Panel = 190;
    private const float Foot = 26;
    private const int Ticks = 8;
    private const double SecondsPerDay = 86_400;

    private static readonly int[] Steps = [1, 2, 5, 7, 14, 30, 61];

    private static readonly (SKColor Ink, MarkerShape Shape)[] Marks =
    [
        (new SKColor(0x1b, 0x5e, 0x92), MarkerShape.FilledCircle), (new SKColor(0xc2, 0x51, 0x00), MarkerShape.FilledSquare),
        (new SKColor(0x00, 0x7a, 0x5a), MarkerShape.FilledTriangleUp), (new SKColor(0x8a, 0x3f, 0x78), MarkerShape.FilledDiamond),
    ];

    public string Words => string.Create(CultureInfo.InvariantCulture, $"{title}, {lines.Sum(l => l.Points.Count)} points: {string.Join(", ", lines.Select(l => l.Name))}.");

    public float Height => Top + Panel + Foot;

    public void Draw(SKCanvas canvas)
    {
        using var plot = new Plot();
        plot.Layout.Fixed(new PixelPadding(Left, Right, 0, 0));
        plot.FigureBackground.Color = Colors.White;
        plot.DataBackground.Color = new ScottPlot.Color(252, 253, 254);
        plot.Grid.MajorLineColor = new ScottPlot.Color(226, 231, 236);
        plot.Axes.FrameColor(new ScottPlot.Color(160, 168, 176));
        double least = lines.SelectMany(l => l.Points).Min(p => p.Value - Reach(p));
        double greatest = lines.SelectMany(l => l.Points).Max(p => p.Value + Reach(p));
        double range = Math.Max(greatest - least, Math.Max(1e-9, Math.Abs(greatest) * 0.01));
        (double low, double high) = (((least + greatest) / 2) - (0.6 * range), ((least + greatest) / 2) + (0.6 * range));
        List<(double Days, string Text)> ticks = [.. DaysOf()];
        var bottom = new NumericManual();
        ticks.ForEach(t => bottom.AddMajor(t.Days, ""));
        plot.Axes.Bottom.TickGenerator = bottom;
        plot.Axes.Left.TickLabelStyle.FontSize = 11.5f;
        plot.Axes.Left.TickLabelStyle.ForeColor = PlotInk.Plot(PlotInk.Dark);
        plot.Axes.Left.TickGenerator = new NumericAutomatic { MinimumTickSpacing = 26, LabelFormatter = v => NumberText.At(v, (high - low) / 4) };
        for (int i = 0; i < lines.Count; i++)
        {
            Add(plot, lines[i], i);
        }

        double width = span.Nanoseconds / 1e9 / SecondsPerDay;
        plot.Axes.SetLimits(0, width, low, high);
        var data = new SKRect(Left, Top, 1000 - Right, Top + Panel);
        canvas.Save();
        canvas.ClipRect(new SKRect(0, data.Top - 7, 1000, data.Bottom + 7)); // it wipes the canvas before it draws
        plot.Render(canvas, new PixelRect(0, 1000, data.Bottom, data.Top));
        canvas.Restore();
        PlotInk.Text(canvas, unit.Length == 0 ? title : $"{title}, {unit}", Left, 15, 13, PlotInk.Dark, bold: true);
        foreach ((double days, string text) in ticks)
        {
            PlotInk.Text(canvas, text, data.Left + (float)(days / width * data.Width), data.Bottom + 17, 11, PlotInk.Grey, align: SKTextAlign.Center);
        }

        DrawNames(canvas, plot, data);
    }

    private void Add(Plot plot, FigureLine line, int i)
    {
        (SKColor ink, MarkerShape shape) = Marks[i % Marks.Length];
        double[] xs = [.. line.Points.Select(p => Days(p.Utc))];
        double[] ys = [.. line.Points.Select(p => p.Value)];
        if (line.Points.Any(p => p.StandardError is > 0))
        {
            ErrorBar bar = plot.Add.ErrorBar(xs, ys, [.. line.Points.Select(Reach)]);
            bar.Color = PlotInk.Plot(ink, 0.6);
            bar.CapSize = 3;
        }

        Scatter drawn = plot.Add.Scatter(xs, ys, PlotInk.Plot(ink));
        drawn.LineWidth = 0.8f;
        drawn.MarkerShape = shape;
        drawn.MarkerSize = 6;
    }

    /// <summary>Names beside the lines' ends, pushed apart where two are too near.</summary>
    private void DrawNames(SKCanvas canvas, Plot plot, SKRect data)
    {
        (float Y, string Text, SKColor Ink)[] names =
        [
            .. lines.Select((l, i) => (Y: plot.GetPixel(new Coordinates(0, l.Points[^1].Value)).Y, l.Name, Marks[i % Marks.Length].Ink)).OrderBy(n => n.Y).ThenBy(n => n.Name, StringComparer.Ordinal),
        ];
        float above = float.NegativeInfinity;
        foreach ((float y, string text, SKColor ink) in names)
        {
            above = Math.Max(y, above + 13);
            PlotInk.Text(canvas, PlotInk.Fit(text, Right - 10, 11), data.Right + 8, above + 4, 11, ink);
        }
    }

    private IEnumerable<(double Days, string Text)> DaysOf()
    {
        double days = span.Nanoseconds / 1e9 / SecondsPerDay;
        int step = Steps.FirstOrDefault(s => days / s <= Ticks, 92);
        DateTimeOffset at = TimeZoneInfo.ConvertTime(UtcText.ToDateTimeOffset(span.FromUtc), zone);
        for (DateTime day = at.Date; ; day = day.AddDays(step))
        {
            double place = (new DateTimeOffset(day, zone.GetUtcOffset(day)) - at).TotalDays;
            if (place > days)
            {
                yield break;
            }

            if (place >= 0)
            {
                yield return (place, day.ToString("d MMM", CultureInfo.InvariantCulture));
            }
        }
    }

    private double Days(long utc) => (utc - span.FromUtc) / 1e9 / SecondsPerDay;

    /// <summary>Two standard errors: about 95 %.</summary>
    private static double Reach(UpkeepPoint point) => 2 * (point.StandardError ?? 0);
}
