using System.Globalization;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Reports.Plots;
using DriftWatch.Watch.Alarms.Health;
using ScottPlot;
using ScottPlot.Plottables;
using ScottPlot.TickGenerators;
using SkiaSharp;

namespace DriftWatch.Reports.Dossiers.Figures;

/// <summary>
/// One panel over time with one line or a few of one unit: mean and extremes, baseline, the nearest limits, findings, gaps. The
/// scale is that of the run: what the machine does before and after would flatten it.
/// </summary>
/// <param name="frame">Clock and stretch.</param>
/// <param name="title">What it shows.</param>
/// <param name="lines">Of one unit, at least one.</param>
internal sealed class TimePanel(FigureFrame frame, string title, IReadOnlyList<ChannelSummary> lines) : IDisposable
{
    public const int Title = 22;

    /// <summary>A limit further away than this many times the run's own range is named and not drawn.</summary>
    private const double FarLimit = 4;

    private const int Columns = 700;

    private static readonly float[] Dots = [2, 3];

    // Told apart without colour by their dashes and the names at their ends. Source: Okabe and Ito's palette.
    private static readonly (SKColor Ink, LinePattern Pattern)[] Inks =
    [
        (new SKColor(0x1b, 0x5e, 0x92), LinePattern.Solid), (new SKColor(0xc2, 0x51, 0x00), LinePattern.Dashed),
        (new SKColor(0x00, 0x7a, 0x5a), LinePattern.DenselyDashed), (new SKColor(0x8a, 0x3f, 0x78), LinePattern.Dotted),
    ];

    private readonly Plot _plot = new();
    private readonly List<(double Value, string Text, SKColor Ink)> _names = [];
    private readonly List<string> _far = [];

    /// <summary>Draws into a rectangle as wide as the figure; the title stands above the lines.</summary>
    public void Draw(SKCanvas canvas, float top, float height)
    {
        (double low, double high) = ChooseRange();
        Prepare(low, high);
        AddFindings();
        AddLines();
        _plot.Axes.SetLimits(0, frame.Seconds, low, high);
        var data = new SKRect(FigureFrame.Left, top + Title, 1000 - FigureFrame.Right, top + height);
        canvas.Save();
        canvas.ClipRect(new SKRect(0, data.Top - 7, 1000, data.Bottom + 7)); // it wipes the canvas before it draws
        _plot.Render(canvas, new PixelRect(0, 1000, data.Bottom, data.Top));
        canvas.Restore();
        DrawGaps(canvas, data);
        DrawRun(canvas, data);
        PlotInk.Text(canvas, title, FigureFrame.Left, top + 15, 13, PlotInk.Dark, bold: true);
        DrawNames(canvas, data);
        DrawFlags(canvas, data);
    }

    public void Dispose() => _plot.Dispose();

    private void Prepare(double low, double high)
    {
        _plot.Layout.Fixed(new PixelPadding(FigureFrame.Left, FigureFrame.Right, 0, 0));
        _plot.FigureBackground.Color = Colors.White;
        _plot.DataBackground.Color = new ScottPlot.Color(252, 253, 254);
        _plot.Grid.MajorLineColor = new ScottPlot.Color(226, 231, 236);
        _plot.Axes.FrameColor(new ScottPlot.Color(160, 168, 176));
        var time = new NumericManual();
        foreach (TimeTick tick in frame.Times)
        {
            time.AddMajor((tick.At - frame.From) / 1e9, "");
        }

        _plot.Axes.Bottom.TickGenerator = time;
        _plot.Axes.Left.TickLabelStyle.FontSize = 11.5f;
        _plot.Axes.Left.TickLabelStyle.ForeColor = PlotInk.Plot(PlotInk.Dark);
        _plot.Axes.Left.TickGenerator = new NumericAutomatic { MinimumTickSpacing = 26, LabelFormatter = v => NumberText.At(v, (high - low) / 4) };
    }

    private (double Low, double High) ChooseRange()
    {
        double least = lines.Min(l => l.Least ?? double.PositiveInfinity);
        double greatest = lines.Max(l => l.Greatest ?? double.NegativeInfinity);
        if (least > greatest)
        {
            (least, greatest) = (lines.Min(l => l.Trace.Minimum), lines.Max(l => l.Trace.Maximum));
        }

        double range = Math.Max(greatest - least, Math.Max(1e-9, Math.Abs(greatest) * 0.01));
        (double low, double high) = (least, greatest);
        string unit = NumberText.Unit(lines[0].Channel.Unit);
        foreach ((LimitSide side, Severity severity, double at) in NearestLimits())
        {
            string text = $"{(side == LimitSide.Low ? "low" : "high")} {Slugs.Of(severity)} {NumberText.Short(at)}";
            if (at < least - (FarLimit * range) || at > greatest + (FarLimit * range))
            {
                _far.Add($"{(side == LimitSide.Low ? "↓" : "↑")} {text}");
                continue;
            }

            _names.Add((at, text, PlotInk.Of(severity)));
            (low, high) = (Math.Min(low, at), Math.Max(high, at));
        }

        if (lines is [{ Baseline: { } baseline }] && baseline.Value > least - range && baseline.Value < greatest + range)
        {
            _names.Add((baseline.Value, $"baseline {NumberText.Short(baseline.Value)} {unit}", PlotInk.Setpoint));
            (low, high) = (Math.Min(low, baseline.Value), Math.Max(high, baseline.Value));
        }

        double margin = Math.Max(high - low, range) * 0.1;
        return (low - margin, high + margin);
    }

    /// <summary>Of several lines' limits those that are met first.</summary>
    private IEnumerable<(LimitSide Side, Severity Severity, double At)> NearestLimits() =>
        lines.SelectMany(l => l.Channel.Limits.Select(limit => (limit.Side, limit.Severity, At: limit.At(l.Baseline?.Value))))
            .Where(l => l.At is not null)
            .GroupBy(l => (l.Side, l.Severity))
            .OrderBy(g => g.Key)
            .Select(g => (g.Key.Side, g.Key.Severity, g.Key.Side == LimitSide.Low ? g.Max(l => l.At!.Value) : g.Min(l => l.At!.Value)));

    private void AddFindings()
    {
        foreach (DossierFinding finding in Mine())
        {
            double from = frame.At(finding.FromUtc);
            double to = finding.ToUtc is { } end ? frame.At(end) : frame.Seconds;
            HorizontalSpan span = _plot.Add.HorizontalSpan(from, Math.Max(to, from + (frame.Seconds / 700)), PlotInk.Plot(PlotInk.Of(finding.Line.Severity), 0.13));
            span.LineStyle.Width = 0;
        }
    }

    private void AddLines()
    {
        for (int i = 0; i < lines.Count; i++)
        {
            (SKColor ink, LinePattern pattern) = Inks[i % Inks.Length];
            double last = double.NaN;
            foreach (TraceBucket[] piece in lines[i].Trace.Within(frame.From, frame.To, Columns))
            {
                double[] xs = [.. piece.Select(b => (((b.Index + 0.5) * lines[i].Trace.WidthOf(frame.From, frame.To, Columns)) - frame.From) / 1e9)];
                if (lines.Count == 1 && piece.Length > 1 && piece.Any(b => b.Maximum > b.Minimum))
                {
                    FillY band = _plot.Add.FillY(xs, [.. piece.Select(b => b.Minimum)], [.. piece.Select(b => b.Maximum)]);
                    band.FillStyle.Color = PlotInk.Plot(ink, 0.25);
                    band.LineStyle.Width = 0;
                    band.MarkerStyle.IsVisible = false;
                }

                Scatter mean = _plot.Add.ScatterLine(xs, [.. piece.Select(b => b.Mean)], PlotInk.Plot(ink));
                mean.LineWidth = 1.4f;
                mean.LinePattern = pattern;
                last = piece[^1].Mean;
            }

            if (lines.Count > 1 && !double.IsNaN(last))
            {
                _names.Add((lines[i].Mean ?? last, ShortLabel(i), ink));
            }
        }

        foreach ((double value, string text, SKColor ink) in _names.Where(n => IsRule(n.Text)))
        {
            _plot.Add.HorizontalLine(value, 1.1f, PlotInk.Plot(ink, 0.9), text.StartsWith("baseline", StringComparison.Ordinal) ? LinePattern.Solid : LinePattern.Dashed);
        }
    }

    /// <summary>Limits and the baseline are lines of their own; the name of a trace is not.</summary>
    private bool IsRule(string text) => lines.Count == 1 || !Enumerable.Range(0, lines.Count).Any(i => ShortLabel(i) == text);

    private string ShortLabel(int i) => lines[i].Channel.Head is { } head
        ? string.Create(CultureInfo.InvariantCulture, $"head {head}  {NumberText.Short(lines[i].Mean ?? 0)}")
        : $"{lines[i].Channel.Label}  {NumberText.Short(lines[i].Mean ?? 0)}";

    private void DrawGaps(SKCanvas canvas, SKRect data)
    {
        foreach (UtcStretch gap in frame.Dossier.Unwatched)
        {
            (float from, float to) = (frame.X(gap.FromUtc), frame.X(gap.ToUtc));
            if (to - from > 0.5f)
            {
                FigureFrame.Hatch(canvas, new SKRect(from, data.Top, to, data.Bottom));
            }
        }

        using var fault = new SKPaint { Color = new SKColor(0x78, 0x80, 0x88, 90) };
        foreach ((long from, long to) in lines.SelectMany(l => l.Trace.Faults).Where(f => f.To > frame.From && f.From < frame.To))
        {
            float x = Place(from);
            canvas.DrawRect(x, data.Top, Math.Max(1, Place(to) - x), data.Height, fault);
        }

        float Place(long engine) =>
            FigureFrame.Left + (float)(Math.Clamp((engine - frame.From) / 1e9, 0, frame.Seconds) / frame.Seconds * (1000 - FigureFrame.Left - FigureFrame.Right));
    }

    private void DrawRun(SKCanvas canvas, SKRect data)
    {
        using var line = new SKPaint { Color = PlotInk.Grey, StrokeWidth = 0.8f, PathEffect = SKPathEffect.CreateDash(Dots, 0) };
        foreach (long utc in new[] { frame.Dossier.Run.Stretch.FromUtc, frame.Dossier.Run.Stretch.ToUtc })
        {
            canvas.DrawLine(frame.X(utc), data.Top, frame.X(utc), data.Bottom, line);
        }
    }

    /// <summary>Names beside the lines' ends, pushed apart where two are too near.</summary>
    private void DrawNames(SKCanvas canvas, SKRect data)
    {
        (double Value, string Text, SKColor Ink)[] names = [.. _names.OrderByDescending(n => n.Value).ThenBy(n => n.Text, StringComparer.Ordinal)];
        float[] ys = [.. names.Select(n => Math.Clamp(_plot.GetPixel(new Coordinates(0, n.Value)).Y, data.Top + 6, data.Bottom - 4))];
        for (int i = 1; i < ys.Length; i++)
        {
            ys[i] = Math.Max(ys[i], ys[i - 1] + 12.5f);
        }

        for (int i = ys.Length - 1; i >= 0 && ys[i] > data.Bottom + 2 - ((ys.Length - 1 - i) * 12.5f); i--)
        {
            ys[i] = data.Bottom + 2 - ((ys.Length - 1 - i) * 12.5f);
        }

        for (int i = 0; i < names.Length; i++)
        {
            PlotInk.Text(canvas, PlotInk.Fit(names[i].Text, FigureFrame.Right - 10, 11), data.Right + 8, ys[i] + 4, 11, names[i].Ink);
        }

        if (_far.Count > 0)
        {
            PlotInk.Text(canvas, "far outside: " + string.Join("   ", _far), data.Right, data.Top - 7, 10.5f, PlotInk.Grey, align: SKTextAlign.Right);
        }
    }

    private void DrawFlags(SKCanvas canvas, SKRect data)
    {
        float taken = float.NegativeInfinity;
        foreach (DossierFinding finding in Mine().OrderBy(f => f.FromUtc).ThenBy(f => f.Number))
        {
            float x = Math.Clamp(frame.X(finding.FromUtc) + 10, data.Left + 10, data.Right - 10);
            if (x - taken < 19)
            {
                x = taken + 19;
            }

            if (x <= data.Right - 9)
            {
                PlotInk.Flag(canvas, finding.Number, x, data.Top + 12, PlotInk.Of(finding.Line.Severity));
                taken = x;
            }
        }
    }

    private IEnumerable<DossierFinding> Mine() =>
        frame.Dossier.Findings.Where(f => lines.Any(l => l.Channel.Id == f.Line.Channel || l.Channel.Aliases.Contains(f.Line.Channel ?? "")));
}
