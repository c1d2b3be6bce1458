using System.Globalization;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Plots;
using DriftWatch.Watch.Alarms.Health;
using SkiaSharp;

namespace DriftWatch.Reports.Dossiers.Figures;

/// <summary>The tape as a strip from its beginning to its end, with what was wrong where: the one drawing of the first page.</summary>
/// <param name="frame">Clock and stretch.</param>
/// <param name="troubles">What is drawn onto it, numbered as the first page lists them.</param>
internal sealed class TapeStrip(FigureFrame frame, IReadOnlyList<Trouble> troubles) : IDrawing
{
    private const float Edge = 34;
    private const float Strip = 44;
    private const float Lane = 22;

    private readonly List<int> _lanes = LanesOf(troubles);

    public string Words => troubles.Count == 0
        ? "The tape from its beginning to its end: nothing was wrong on it"
        : "The tape from its beginning to its end, with " + string.Join("; ", troubles.Select(t => $"trouble {t.Number} from {FigureFrame.PlaceText(t.FromSeconds)} to {FigureFrame.PlaceText(t.ToSeconds)}"));

    public float Height => 34 + Strip + (Lane * (_lanes.DefaultIfEmpty(-1).Max() + 1)) + 12;

    private DossierRun Run => frame.Dossier.Run;

    private double Length => Math.Max(1, Run.Stretch.Nanoseconds / 1e9);

    public void Draw(SKCanvas canvas)
    {
        using var paper = new SKPaint { Color = new SKColor(0xdf, 0xec, 0xe3) };
        using var frameInk = new SKPaint { Color = PlotInk.Grey, Style = SKPaintStyle.Stroke, StrokeWidth = 1 };
        const float top = 26;
        var strip = new SKRect(Edge, top, 1000 - Edge, top + Strip);
        canvas.DrawRect(strip, paper);
        foreach (UtcStretch gap in frame.Dossier.Unwatched.Select(g => g.Within(Run.Stretch)).Where(g => g.Nanoseconds > 0))
        {
            FigureFrame.Hatch(canvas, new SKRect(X(Run.PlaceOf(gap.FromUtc)!.Value), top, X(Run.PlaceOf(gap.ToUtc)!.Value), top + Strip));
        }

        foreach (Trouble trouble in troubles)
        {
            using var fill = new SKPaint { Color = StandingInk.Of(trouble.Standing).WithAlpha(trouble.Standing == Standing.Bad ? (byte)150 : (byte)95) };
            float from = X(trouble.FromSeconds);
            canvas.DrawRect(from, top, Math.Max(2.5f, X(trouble.ToSeconds) - from), Strip, fill);
        }

        canvas.DrawRect(strip, frameInk);
        DrawPlaces(canvas, top);
        for (int i = 0; i < troubles.Count; i++)
        {
            DrawName(canvas, troubles[i], top + Strip + 6 + (_lanes[i] * Lane));
        }
    }

    private void DrawPlaces(SKCanvas canvas, float top)
    {
        using var tick = new SKPaint { Color = PlotInk.Grey, StrokeWidth = 1 };
        foreach (double place in FigureFrame.RoundPlaces(Run))
        {
            canvas.DrawLine(X(place), top - 4, X(place), top, tick);
            PlotInk.Text(canvas, FigureFrame.PlaceText(place), X(place), top - 8, 13, PlotInk.Grey, align: SKTextAlign.Center);
        }
    }

    private void DrawName(SKCanvas canvas, Trouble trouble, float y)
    {
        SKColor ink = StandingInk.Of(trouble.Standing);
        float x = Math.Clamp((X(trouble.FromSeconds) + X(trouble.ToSeconds)) / 2, Edge + 10, 1000 - Edge - 10);
        PlotInk.Flag(canvas, trouble.Number, x, y + 9, ink);
    }

    private float X(double place) => Edge + (float)(Math.Clamp((place - Run.StartSeconds) / Length, 0, 1) * (1000 - (2 * Edge)));

    /// <summary>Flags that would stand on each other go into lanes under each other.</summary>
    private static List<int> LanesOf(IReadOnlyList<Trouble> troubles)
    {
        var lanes = new List<int>();
        for (int i = 0; i < troubles.Count; i++)
        {
            int lane = 0;
            while (Enumerable.Range(0, i).Any(k => lanes[k] == lane && Math.Abs(Middle(troubles[k]) - Middle(troubles[i])) < Least(troubles)))
            {
                lane++;
            }

            lanes.Add(lane);
        }

        return lanes;

        static double Middle(Trouble t) => (t.FromSeconds + t.ToSeconds) / 2;
        static double Least(IReadOnlyList<Trouble> all) => Math.Max(1, all.Max(t => t.ToSeconds)) / 45;
    }
}
