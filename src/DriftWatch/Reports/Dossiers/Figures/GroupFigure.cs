using DriftWatch.Reports.Documents;
using SkiaSharp;

namespace DriftWatch.Reports.Dossiers.Figures;

/// <summary>Panels of one group under each other, on one time axis with the machine's states and the places on the tape above.</summary>
/// <param name="frame">Clock and stretch.</param>
/// <param name="group">Which lines in which panels.</param>
internal sealed class GroupFigure(FigureFrame frame, FigureGroup group) : IDrawing
{
    private const float States = 34;
    private const float Panel = 178; // three panels and two, with their captions, fill a page
    private const float Between = 10;
    private const float Times = 34;

    public string Words => $"{group.Name} over time: {string.Join("; ", group.Panels.Select(p => p.Title))}";

    public float Height => States + (group.Panels.Count * (Panel + Between)) + Times;

    public void Draw(SKCanvas canvas)
    {
        frame.DrawStates(canvas, 0);
        float top = States;
        foreach (FigurePanel panel in group.Panels)
        {
            using var drawn = new TimePanel(frame, panel.Title, panel.Lines);
            drawn.Draw(canvas, top, Panel);
            top += Panel + Between;
        }

        frame.DrawTimes(canvas, top - Between + 2);
    }
}
