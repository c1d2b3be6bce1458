using System.Globalization;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Plots;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Transfers;
using SkiaSharp;

namespace DriftWatch.Reports.Dossiers.Figures;

/// <summary>
/// The tape as a strip, as it ran from the run's begin to its end, with what was wrong where: the one drawing of the first page.
/// As wide as time, and told by place: a tape that was wound back shows what ran, in its order. What a person marked stands on its
/// upper edge.
/// </summary>
/// <param name="frame">Clock and stretch.</param>
/// <param name="troubles">What is drawn onto it, numbered as the first page lists them.</param>
internal sealed class TapeStrip(FigureFrame frame, IReadOnlyList<Trouble> troubles) : IDrawing
{
    private const float Edge = 34;
    private const float Strip = 44;
    private const float Lane = 22;

    private static readonly float[] Dashes = [5, 3];

    private readonly List<int> _lanes = LanesOf(troubles, frame.Dossier.Run.Stretch.Nanoseconds);

    private readonly long[] _marks = MarksOf(frame.Dossier);

    public string Words => (troubles.Count == 0
        ? "The tape from its beginning to its end: nothing was wrong on it"
        : "The tape from its beginning to its end, with " + string.Join("; ", troubles.Select(t => $"trouble {t.Number} from {FigureFrame.PlaceText(frame.Dossier.Run, t.Stretch)}")))
        + (_marks.Length == 0 ? "" : $"; marked by a person at {string.Join(", ", _marks.Select(m => FigureFrame.PlaceText(Run.PlaceOf(m) ?? 0)))}");

    public float Height => 34 + Strip + (Lane * (_lanes.DefaultIfEmpty(-1).Max() + 1)) + 12;

    private DossierRun Run => frame.Dossier.Run;

    public void Draw(SKCanvas canvas)
    {
        using var paper = new SKPaint { Color = new SKColor(0xdf, 0xec, 0xe3) };
        using var frameInk = new SKPaint { Color = PlotInk.Grey, Style = SKPaintStyle.Stroke, StrokeWidth = 1 };
        const float top = 26;
        var strip = new SKRect(Edge, top, 1000 - Edge, top + Strip);
        canvas.DrawRect(strip, paper);
        foreach (UtcStretch gap in frame.Dossier.Unwatched.Select(g => g.Within(Run.Stretch)).Where(g => g.Nanoseconds > 0))
        {
            FigureFrame.Hatch(canvas, new SKRect(X(gap.FromUtc), top, X(gap.ToUtc), top + Strip));
        }

        foreach (Trouble trouble in troubles)
        {
            using var fill = new SKPaint { Color = StandingInk.Of(trouble.Standing).WithAlpha(trouble.Standing == Standing.Bad ? (byte)150 : (byte)95) };
            float from = X(trouble.Stretch.FromUtc);
            canvas.DrawRect(from, top, Math.Max(2.5f, X(trouble.Stretch.ToUtc) - from), Strip, fill);
        }

        canvas.DrawRect(strip, frameInk);
        DrawPlaces(canvas, top);
        DrawBreaks(canvas, top);
        DrawMarks(canvas, top);
        for (int i = 0; i < troubles.Count; i++)
        {
            DrawName(canvas, troubles[i], top + Strip + 6 + (_lanes[i] * Lane));
        }
    }

    private void DrawPlaces(SKCanvas canvas, float top)
    {
        using var tick = new SKPaint { Color = PlotInk.Grey, StrokeWidth = 1 };
        foreach ((long utc, string label) in FigureFrame.RoundPlaces(Run))
        {
            canvas.DrawLine(X(utc), top - 4, X(utc), top, tick);
            PlotInk.Text(canvas, label, X(utc), top - 8, 13, PlotInk.Grey, align: SKTextAlign.Center);
        }
    }

    /// <summary>A counter that was set anew: what stands left and right of the line does not run on.</summary>
    private void DrawBreaks(SKCanvas canvas, float top)
    {
        using var line = new SKPaint { Color = PlotInk.Dark, StrokeWidth = 1.6f, PathEffect = SKPathEffect.CreateDash(Dashes, 0) };
        foreach (PlaceBreak its in Run.Breaks)
        {
            canvas.DrawLine(X(its.ToUtc), top - 4, X(its.ToUtc), top + Strip + 4, line);
        }
    }

    /// <summary>A wedge whose tip stands on the strip where somebody pressed the key.</summary>
    private void DrawMarks(SKCanvas canvas, float top)
    {
        using var ink = new SKPaint { Color = PlotInk.Dark, IsAntialias = true };
        foreach (float x in _marks.Select(X))
        {
            using var wedge = new SKPath();
            wedge.MoveTo(x, top + 11);
            wedge.LineTo(x - 5, top);
            wedge.LineTo(x + 5, top);
            wedge.Close();
            canvas.DrawPath(wedge, ink);
        }
    }

    /// <summary>Instants of the run at which a person set a mark, nanoseconds since 1970.</summary>
    internal static long[] MarksOf(Dossier dossier) => [.. (dossier.Transfer?.Pass.Notes ?? []).Where(n => n.Body.IsMark).Select(n => n.Entry.AboutUtc)
        .Where(at => at >= dossier.Run.Stretch.FromUtc && at <= dossier.Run.Stretch.ToUtc)];

    private void DrawName(SKCanvas canvas, Trouble trouble, float y)
    {
        SKColor ink = StandingInk.Of(trouble.Standing);
        float x = Math.Clamp((X(trouble.Stretch.FromUtc) + X(trouble.Stretch.ToUtc)) / 2, Edge + 10, 1000 - Edge - 10);
        PlotInk.Flag(canvas, trouble.Number, x, y + 9, ink);
    }

    private float X(long utc) =>
        Edge + (float)(Math.Clamp((utc - Run.Stretch.FromUtc) / (double)Math.Max(1, Run.Stretch.Nanoseconds), 0, 1) * (1000 - (2 * Edge)));

    /// <summary>Flags that would stand on each other go into lanes under each other.</summary>
    private static List<int> LanesOf(IReadOnlyList<Trouble> troubles, double run)
    {
        var lanes = new List<int>();
        for (int i = 0; i < troubles.Count; i++)
        {
            int lane = 0;
            while (Enumerable.Range(0, i).Any(k => lanes[k] == lane && Math.Abs(Middle(troubles[k]) - Middle(troubles[i])) < run / 45))
            {
                lane++;
            }

            lanes.Add(lane);
        }

        return lanes;

        static double Middle(Trouble t) => t.Stretch.FromUtc + (t.Stretch.Nanoseconds / 2.0);
    }
}
