using System.Globalization;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using ScottPlot;
using ScottPlot.Plottables;
using ScottPlot.TickGenerators;
using SkiaSharp;

namespace DriftWatch.Reports.Plots;

/// <summary>One channel's panel. Its x axis is seconds from the plot's first instant; labels come from the time ticks.</summary>
internal sealed class PlotPanel(PlotData data, Trace trace, IReadOnlyList<TimeTick> ticks) : IDisposable
{
    /// <summary>A limit further away than this many times the data's own range is named at the edge, so that it does not flatten the trace.</summary>
    private const double FarLimit = 6;

    private readonly Plot _plot = new();
    private readonly List<(double Value, string Text, SKColor Color)> _lines = [];
    private readonly List<(LimitSide Side, string Text, SKColor Color)> _far = [];

    private readonly Trace? _other = data.Other?.Traces.FirstOrDefault(t => t.Channel.Id == trace.Channel.Id && t.Count > 0);

    private double XEnd => (data.To - data.From) / 1e9;

    public void Draw(SKCanvas canvas, SKRect rect, int titleHeight, int left, int right, int bottom)
    {
        (double low, double high) = ChooseRange();
        Prepare(low, high, left, right, bottom);
        AddSpans();
        AddTrace();
        AddOther();
        AddLines();
        _plot.Axes.SetLimits(0, XEnd, low, high);
        canvas.Save();
        canvas.ClipRect(new SKRect(rect.Left, rect.Top + titleHeight, rect.Right, rect.Bottom)); // it wipes the canvas before it draws
        _plot.Render(canvas, new PixelRect(rect.Left, rect.Right, rect.Bottom, rect.Top + titleHeight));
        canvas.Restore();
        DrawTitle(canvas, rect, left, right);
        DrawLabels(canvas, rect.Right - right, rect.Top + titleHeight, rect.Bottom - bottom);
        DrawFindings(canvas, left, rect.Right - right, rect.Top + titleHeight);
    }

    public void Dispose() => _plot.Dispose();

    private void Prepare(double low, double high, int left, int right, int bottom)
    {
        _plot.Layout.Fixed(new PixelPadding(left, right, bottom, 2));
        _plot.FigureBackground.Color = Colors.White;
        _plot.DataBackground.Color = new ScottPlot.Color(252, 253, 254);
        _plot.Grid.MajorLineColor = new ScottPlot.Color(226, 231, 236);
        _plot.Axes.FrameColor(new ScottPlot.Color(160, 168, 176));
        var time = new NumericManual();
        foreach (TimeTick tick in ticks)
        {
            time.AddMajor((tick.At - data.From) / 1e9, bottom > 20 ? tick.Label : "");
        }

        _plot.Axes.Bottom.TickGenerator = time;
        _plot.Axes.Bottom.TickLabelStyle.FontSize = 13;
        _plot.Axes.Bottom.TickLabelStyle.ForeColor = PlotInk.Plot(PlotInk.Dark);
        _plot.Axes.Left.TickLabelStyle.FontSize = 13;
        _plot.Axes.Left.TickLabelStyle.ForeColor = PlotInk.Plot(PlotInk.Dark);
        _plot.Axes.Left.TickGenerator = new NumericAutomatic { MinimumTickSpacing = 28, LabelFormatter = v => Number(v, (high - low) / 4) };
    }

    private (double Low, double High) ChooseRange()
    {
        Trace[] drawn = [.. ((Trace?[])[trace, _other]).OfType<Trace>().Where(t => t.Count > 0)];
        double least = drawn.Length > 0 ? drawn.Min(t => t.Minimum) : trace.Channel.Setpoint ?? 0;
        double greatest = drawn.Length > 0 ? drawn.Max(t => t.Maximum) : trace.Channel.Setpoint ?? 1;
        double range = Math.Max(greatest - least, Math.Max(1e-9, Math.Abs(greatest) * 0.02));
        (double low, double high) = (least, greatest);
        double? baseline = data.Baselines.TryGetValue(trace.Channel.Id, out double taken) ? taken : null;
        foreach (LimitDefinition limit in trace.Channel.Limits)
        {
            if (limit.At(baseline) is not { } at)
            {
                continue;
            }

            SKColor color = PlotInk.Of(limit.Severity);
            string text = $"{(limit.Side == LimitSide.Low ? "low" : "high")} {Slugs.Of(limit.Severity)} {Number(at)} {trace.Channel.Unit}";
            if (at < least - (FarLimit * range) || at > greatest + (FarLimit * range))
            {
                _far.Add((at < least ? LimitSide.Low : LimitSide.High, text, color));
                continue;
            }

            _lines.Add((at, text, color));
            low = Math.Min(low, at);
            high = Math.Max(high, at);
        }

        if (baseline is { } known)
        {
            _lines.Add((known, $"baseline {Number(known)} {trace.Channel.Unit}", PlotInk.Dark));
            low = Math.Min(low, known);
            high = Math.Max(high, known);
        }

        if (trace.Channel.Setpoint is { } setpoint && setpoint >= least - (FarLimit * range) && setpoint <= greatest + (FarLimit * range))
        {
            _lines.Add((setpoint, $"setpoint {Number(setpoint)} {trace.Channel.Unit}", PlotInk.Setpoint));
            low = Math.Min(low, setpoint);
            high = Math.Max(high, setpoint);
        }

        double margin = Math.Max(high - low, range) * 0.12;
        return (low - margin, high + margin);
    }

    private void AddSpans()
    {
        double pixel = XEnd / 1500;
        foreach ((long from, long to) in trace.Faults)
        {
            AddSpan(Seconds(from), Math.Max(Seconds(to), Seconds(from) + pixel), new ScottPlot.Color(120, 128, 136, 90));
        }

        foreach (FindingLine finding in Mine())
        {
            double begin = Math.Max(0, Seconds(finding.Start.Nanoseconds));
            double end = finding.End is { } over ? Math.Min(XEnd, Seconds(over.Nanoseconds)) : XEnd;
            AddSpan(begin, Math.Max(end, begin + (2 * pixel)), PlotInk.Plot(PlotInk.Of(finding.Severity), 0.16));
        }

        foreach ((long at, long _) in data.Steps)
        {
            VerticalLine line = _plot.Add.VerticalLine(Seconds(at), 1.5f, PlotInk.Plot(PlotInk.Grey), LinePattern.Dotted);
            line.EnableAutoscale = false;
        }
    }

    private void AddSpan(double from, double to, ScottPlot.Color color)
    {
        HorizontalSpan span = _plot.Add.HorizontalSpan(from, to, color);
        span.LineStyle.Width = 0;
    }

    private void AddTrace()
    {
        ScottPlot.Color line = PlotInk.Plot(PlotInk.Trace);
        foreach (TraceBucket[] piece in trace.Pieces())
        {
            double[] xs = [.. piece.Select(b => Math.Clamp(Seconds((b.Index * trace.Width) + (b.Count > 1 ? trace.Width / 2 : 0)), 0, XEnd))];
            if (piece.Length > 1 && piece.Any(b => b.Maximum > b.Minimum))
            {
                FillY band = _plot.Add.FillY(xs, [.. piece.Select(b => b.Minimum)], [.. piece.Select(b => b.Maximum)]);
                band.FillStyle.Color = PlotInk.Plot(PlotInk.Trace, 0.28);
                band.LineStyle.Width = 0;
                band.MarkerStyle.IsVisible = false;
            }

            Scatter mean = _plot.Add.ScatterLine(xs, [.. piece.Select(b => b.Mean)], line);
            mean.LineWidth = 1.5f;
            if (piece.Length == 1)
            {
                mean.MarkerSize = 4;
                mean.MarkerShape = MarkerShape.FilledCircle;
            }
        }
    }

    /// <summary>The other span's mean dashed over this one's, and outlines of its least and greatest: its dips are what one compares for.</summary>
    private void AddOther()
    {
        if (_other is null)
        {
            return;
        }

        foreach (TraceBucket[] piece in _other.Pieces())
        {
            double[] xs = [.. piece.Select(b => Math.Clamp((((b.Index * _other.Width) + (b.Count > 1 ? _other.Width / 2 : 0)) - data.Other!.From) / 1e9, 0, XEnd))];
            foreach ((Func<TraceBucket, double> value, double alpha, LinePattern pattern) in
                ((Func<TraceBucket, double>, double, LinePattern)[])[(b => b.Minimum, 0.35, LinePattern.Solid), (b => b.Maximum, 0.35, LinePattern.Solid), (b => b.Mean, 1, LinePattern.Dashed)])
            {
                Scatter line = _plot.Add.ScatterLine(xs, [.. piece.Select(value)], PlotInk.Plot(PlotInk.Dark, alpha));
                line.LineWidth = alpha < 1 ? 1 : 1.3f;
                line.LinePattern = pattern;
            }
        }
    }

    private void AddLines()
    {
        foreach ((double value, string _, SKColor color) in _lines)
        {
            _plot.Add.HorizontalLine(value, 1.2f, PlotInk.Plot(color, 0.9), LinePattern.Dashed);
        }
    }

    private void DrawTitle(SKCanvas canvas, SKRect rect, int left, int right)
    {
        float y = rect.Top + 18;
        string title = $"{trace.Channel.Label}, {trace.Channel.Unit}";
        PlotInk.Text(canvas, title, left, y, 14.5f, PlotInk.Dark, bold: true);
        string kind = trace.Channel.Kind == ChannelKind.Frame ? $"{trace.Channel.Id}, least, mean and greatest of each frame" : trace.Channel.Id;
        PlotInk.Text(canvas, kind, left + PlotInk.Measure(title, 14.5f, bold: true) + 12, y, 12.5f, PlotInk.Grey);
        string numbers = trace.Count == 0
            ? "no values in this span"
            : $"least {Number(trace.Minimum)}   mean {Number(trace.Sum / trace.Count)}   greatest {Number(trace.Maximum)}";
        string faults = trace.FaultCount == 0 ? "" : $"   {trace.FaultCount.ToString("N0", CultureInfo.InvariantCulture)} faults";
        PlotInk.Text(canvas, numbers + faults, rect.Right - right, y, 12.5f, PlotInk.Grey, align: SKTextAlign.Right);
    }

    private void DrawLabels(SKCanvas canvas, float right, float top, float bottom)
    {
        // From the top down, pushed apart where two lines are too near for their names.
        float free = top + 10;
        foreach ((double value, string text, SKColor color) in _lines.OrderByDescending(l => l.Value))
        {
            float y = Math.Clamp(_plot.GetPixel(new Coordinates(0, value)).Y - 4, free + 3, bottom - 4);
            PlotInk.Text(canvas, text, right - 8, y, 12, color, align: SKTextAlign.Right, halo: true);
            free = y + 11;
        }

        foreach ((LimitSide side, string text, SKColor color) in _far)
        {
            float y = side == LimitSide.Low ? bottom - 6 : top + 14;
            float x = right - 8 - (side == LimitSide.Low ? 0 : 240);
            PlotInk.Text(canvas, $"{(side == LimitSide.Low ? "↓" : "↑")} {text}, outside this view", x, y, 12, color, align: SKTextAlign.Right, halo: true);
        }

        foreach ((long at, long step) in data.Steps)
        {
            float x = _plot.GetPixel(new Coordinates(Seconds(at), 0)).X;
            string text = $"clock set {(step < 0 ? "back" : "forward")} {Number(Math.Abs(step) / 1e9)} s";
            PlotInk.Text(canvas, text, x + 4, bottom - 6, 12, PlotInk.Grey, halo: true);
        }
    }

    private void DrawFindings(SKCanvas canvas, float left, float right, float top)
    {
        float taken = left;
        foreach ((FindingLine finding, int number) in data.Findings.Select((f, i) => (f, i + 1)).Where(f => f.f.Channel == trace.Channel.Id))
        {
            double begin = Math.Max(0, Seconds(finding.Start.Nanoseconds));
            float x = Math.Clamp(_plot.GetPixel(new Coordinates(begin, 0)).X + 11, left + 11, right - 12);
            if (x < taken + 10)
            {
                continue; // the list beneath has it
            }

            SKColor color = PlotInk.Of(finding.Severity);
            PlotInk.Flag(canvas, number, x, top + 14, color);
            float next = data.Findings
                .Where(f => f.Channel == trace.Channel.Id && f.Start.Nanoseconds > finding.Start.Nanoseconds)
                .Select(f => _plot.GetPixel(new Coordinates(Seconds(f.Start.Nanoseconds), 0)).X)
                .FirstOrDefault(right - 170);
            float width = PlotInk.Measure(finding.Kind, 12);
            bool fits = x + 14 + width < Math.Min(next - 4, right - 170);
            if (fits)
            {
                PlotInk.Text(canvas, finding.Kind, x + 13, top + 18, 12, color, halo: true);
            }

            taken = fits ? x + 14 + width : x + 10;
        }
    }

    private IEnumerable<FindingLine> Mine() => data.Findings.Where(f => f.Channel == trace.Channel.Id);

    private double Seconds(long engine) => (engine - data.From) / 1e9;

    private static string Number(double value) => value.ToString("G5", CultureInfo.InvariantCulture);

    /// <summary>As many places as the distance between two ticks needs.</summary>
    private static string Number(double value, double step)
    {
        int places = Math.Clamp((int)Math.Ceiling(1 - Math.Log10(Math.Max(step, 1e-12))), 0, 9);
        string text = value.ToString("F" + places.ToString(CultureInfo.InvariantCulture), CultureInfo.InvariantCulture);
        return text.Contains('.', StringComparison.Ordinal) ? text.TrimEnd('0').TrimEnd('.') : text;
    }
}
