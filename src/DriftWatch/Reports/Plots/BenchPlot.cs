using System.Globalization;
using System.Text;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using ScottPlot;
using SkiaSharp;

namespace DriftWatch.Reports.Plots;

/// <summary>Size and zone of a plot.</summary>
internal sealed record PlotStyle
{
    /// <summary>Pixels.</summary>
    public int Width { get; init; } = 1600;

    /// <summary>Pixels of one channel's panel, its title included.</summary>
    public int PanelHeight { get; init; } = 230;

    /// <summary>Zone of the time axis; stated in the heading.</summary>
    public TimeZoneInfo Zone { get; init; } = TimeZoneInfo.Utc;
}

/// <summary>
/// Draws channels one under the other over one time axis: the trace with its least and greatest, gaps as gaps, faults
/// as grey spans, limits with their names, findings as numbered spans, each explained beneath.
/// </summary>
internal sealed class BenchPlot
{
    private const int Left = 84;
    private const int Right = 24;
    private const int HeadingHeight = 62;
    private const int TitleHeight = 26;
    private const int AxisHeight = 50;
    private const int LineHeight = 21;
    private const int MostFindingsListed = 14;

    private readonly PlotData _data;
    private readonly PlotStyle _style;
    private readonly IReadOnlyList<TimeTick> _ticks;

    public BenchPlot(PlotData data, PlotStyle style)
    {
        PlotFonts.Install();
        _data = data;
        _style = style;
        _ticks = TimeTicks.For(data.Anchors, data.From, data.To, Math.Max(3, (style.Width - Left - Right) / 110), style.Zone);
        int listed = Math.Min(data.Findings.Count, MostFindingsListed);
        Height = HeadingHeight + (data.Traces.Count * style.PanelHeight) + AxisHeight
            + (listed == 0 ? 0 : LineHeight * (listed + (data.Findings.Count > listed ? 3 : 2)));
    }

    public int Width => _style.Width;

    public int Height { get; }

    public void WritePng(Stream stream)
    {
        using SKSurface surface = SKSurface.Create(new SKImageInfo(Width, Height))
            ?? throw new InvalidOperationException($"No picture of {Width}×{Height} pixels can be made.");
        Draw(surface.Canvas);
        using SKImage image = surface.Snapshot();
        using SKData png = image.Encode(SKEncodedImageFormat.Png, 100);
        png.SaveTo(stream);
    }

    public void WriteSvg(Stream stream)
    {
        using var drawn = new MemoryStream();
        using (SKCanvas canvas = SKSvgCanvas.Create(SKRect.Create(Width, Height), drawn))
        {
            Draw(canvas);
        }

        // Without a viewBox a page that scales the picture crops it instead.
        string text = Encoding.UTF8.GetString(drawn.ToArray());
        int at = text.IndexOf("<svg ", StringComparison.Ordinal) + 5;
        stream.Write(Encoding.UTF8.GetBytes(text.Insert(at, string.Create(CultureInfo.InvariantCulture, $"viewBox=\"0 0 {Width} {Height}\" "))));
    }

    private void Draw(SKCanvas canvas)
    {
        canvas.Clear(SKColors.White);
        DrawHeading(canvas);
        float top = HeadingHeight;
        for (int i = 0; i < _data.Traces.Count; i++)
        {
            bool isLast = i == _data.Traces.Count - 1;
            var place = new SKRect(0, top, Width, top + _style.PanelHeight + (isLast ? AxisHeight : 0));
            using var panel = new PlotPanel(_data, _data.Traces[i], _ticks);
            panel.Draw(canvas, place, TitleHeight, Left, Right, isLast ? AxisHeight : 10);
            top += _style.PanelHeight;
        }

        DrawFindingsList(canvas, top + AxisHeight);
    }

    private void DrawHeading(SKCanvas canvas)
    {
        PlotInk.Text(canvas, _data.Bench.Label, Left, 30, 20, PlotInk.Dark, bold: true);
        string zone = ReferenceEquals(_style.Zone, TimeZoneInfo.Utc) ? "UTC" : _style.Zone.Id;
        string span = $"{Shown(_data.From, "d MMM yyyy HH:mm:ss")} – {Shown(_data.To, "d MMM yyyy HH:mm:ss")} {zone}";
        PlotInk.Text(canvas, span, Left, 52, 14, PlotInk.Grey);
        string other = _data.Other is { } then ? $"   black dashes: from {Shown(then, then.From, "d MMM yyyy HH:mm:ss")} on, thin its least and greatest" : "";
        PlotInk.Text(canvas, "band: least and greatest   grey: faults   dashed: limits" + other, Width - Right, 52, 13, PlotInk.Grey, align: SKTextAlign.Right);
    }

    private void DrawFindingsList(SKCanvas canvas, float top)
    {
        if (_data.Findings.Count == 0)
        {
            return;
        }

        float y = top + LineHeight;
        PlotInk.Text(canvas, $"Findings ({_data.Findings.Count})", Left, y, 14, PlotInk.Dark, bold: true);
        int number = 0;
        foreach (FindingLine finding in _data.Findings.Take(MostFindingsListed))
        {
            y += LineHeight;
            number++;
            PlotInk.Flag(canvas, number, Left + 10, y - 5, PlotInk.Of(finding.Severity));
            string end = finding.End is { } over ? Shown(over.Nanoseconds, "HH:mm:ss") : "lasts";
            string line = $"{Shown(finding.Start.Nanoseconds, "d MMM HH:mm:ss")} – {end}   {finding.Text}";
            PlotInk.Text(canvas, PlotInk.Fit(line, Width - Left - Right - 30, 13), Left + 28, y, 13, PlotInk.Dark);
        }

        if (_data.Findings.Count > MostFindingsListed)
        {
            PlotInk.Text(canvas, $"and {_data.Findings.Count - MostFindingsListed} more", Left + 28, y + LineHeight, 13, PlotInk.Grey);
        }
    }

    private string Shown(long engine, string format) => Shown(_data, engine, format);

    private string Shown(PlotData data, long engine, string format) =>
        TimeZoneInfo.ConvertTime(UtcText.ToDateTimeOffset(data.Anchors.ToUtcNanoseconds(new EngineTime(engine))), _style.Zone)
            .ToString(format, CultureInfo.InvariantCulture);
}

/// <summary>Colours and text, all in the fonts that come with the program.</summary>
internal static class PlotInk
{
    public static readonly SKColor Dark = new(0x20, 0x28, 0x30);
    public static readonly SKColor Grey = new(0x66, 0x70, 0x7a);
    public static readonly SKColor Trace = new(0x1b, 0x5e, 0x92);
    public static readonly SKColor Alarm = new(0xb7, 0x2d, 0x22);
    public static readonly SKColor Advisory = new(0xb8, 0x6e, 0x00);
    public static readonly SKColor Setpoint = new(0x2f, 0x7d, 0x4f);

    public static SKColor Of(Severity severity) => severity switch
    {
        Severity.Alarm => Alarm,
        Severity.Advisory => Advisory,
        _ => Grey,
    };

    public static ScottPlot.Color Plot(SKColor color, double alpha = 1) => new(color.Red, color.Green, color.Blue, (byte)(255 * alpha));

    public static float Measure(string text, float size, bool bold = false)
    {
        using SKFont font = Font(size, bold);
        return font.MeasureText(text);
    }

    /// <summary>Letters at their true distances: fitted to the grid of a screen they would stand apart on paper.</summary>
    public static SKFont Font(float size, bool bold) => new(bold ? PlotFonts.Bold : PlotFonts.Regular, size)
    {
        Edging = SKFontEdging.Antialias,
        Subpixel = true,
        LinearMetrics = true,
        Hinting = SKFontHinting.None,
    };

    /// <summary>Shortens a text to a width with an ellipsis.</summary>
    public static string Fit(string text, float width, float size)
    {
        if (Measure(text, size) <= width)
        {
            return text;
        }

        int length = text.Length;
        while (length > 1 && Measure(text[..length] + "…", size) > width)
        {
            length--;
        }

        return text[..length] + "…";
    }

    public static void Text(
        SKCanvas canvas, string text, float x, float y, float size, SKColor color, bool bold = false, SKTextAlign align = SKTextAlign.Left, bool halo = false)
    {
        using SKFont font = Font(size, bold);
        if (halo)
        {
            using var white = new SKPaint { Color = new SKColor(255, 255, 255, 225), Style = SKPaintStyle.Stroke, StrokeWidth = 4, StrokeJoin = SKStrokeJoin.Round, IsAntialias = true };
            canvas.DrawText(text, x, y, align, font, white);
        }

        using var paint = new SKPaint { Color = color, IsAntialias = true };
        canvas.DrawText(text, x, y, align, font, paint);
    }

    /// <summary>A finding's number in a disc.</summary>
    public static void Flag(SKCanvas canvas, int number, float x, float y, SKColor color)
    {
        using var paint = new SKPaint { Color = color, IsAntialias = true };
        canvas.DrawCircle(x, y, 9, paint);
        Text(canvas, number.ToString(CultureInfo.InvariantCulture), x, y + 4, number < 10 ? 12 : 10, SKColors.White, bold: true, align: SKTextAlign.Center);
    }
}
