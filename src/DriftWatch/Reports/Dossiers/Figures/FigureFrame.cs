using System.Globalization;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Plots;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Transfers;
using SkiaSharp;

namespace DriftWatch.Reports.Dossiers.Figures;

/// <summary>What every figure over time of a dossier shares: the stretch shown, its clock and its places on the tape.</summary>
internal sealed class FigureFrame
{
    /// <summary>Room for the scale's numbers.</summary>
    public const int Left = 66;

    /// <summary>Room for the names of lines.</summary>
    public const int Right = 168;

    private const int Ticks = 9;

    private static readonly double[] Steps = [10, 30, 60, 120, 300, 600, 900, 1800, 3600];

    public FigureFrame(Dossier dossier, TimeZoneInfo zone)
    {
        (Dossier, Zone) = (dossier, zone);
        UtcStretch run = dossier.Run.Stretch;

        // A little before and after, so that it is seen how the run began and ended.
        long margin = Math.Max(30 * EngineTime.NanosecondsPerSecond, run.Nanoseconds / 50);
        Shown = new UtcStretch(Math.Max(dossier.Span.FromUtc, run.FromUtc - margin), Math.Min(dossier.Span.ToUtc, run.ToUtc + margin));
        From = EngineOf(Shown.FromUtc);
        To = Math.Max(EngineOf(Shown.ToUtc), From + EngineTime.NanosecondsPerSecond);
        Times = TimeTicks.For(dossier.Anchors, From, To, Ticks, zone);
    }

    public Dossier Dossier { get; }

    public TimeZoneInfo Zone { get; }

    public UtcStretch Shown { get; }

    /// <summary>Engine nanoseconds.</summary>
    public long From { get; }

    public long To { get; }

    public IReadOnlyList<TimeTick> Times { get; }

    public double Seconds => (To - From) / 1e9;

    public double At(long utc) => Math.Clamp((EngineOf(utc) - From) / 1e9, 0, Seconds);

    public long EngineOf(long utc) => Dossier.Anchors.FromUtcNanoseconds(utc).Nanoseconds;

    /// <summary>Where an instant lies in a drawing a thousand wide.</summary>
    public float X(long utc) => Left + (float)(At(utc) / Seconds * (1000 - Left - Right));

    /// <summary>
    /// Round places on the tape and when the tape stood there, no more than fit beside each other: where it was wound back, or its
    /// counter set anew, a place comes twice.
    /// </summary>
    public static IEnumerable<(long Utc, string Label)> RoundPlaces(DossierRun run)
    {
        double step = Steps.FirstOrDefault(s => run.Stretch.Nanoseconds / 1e9 / s <= Ticks, 7200);
        long least = run.Stretch.Nanoseconds / (2 * Ticks);
        long last = long.MinValue / 2;
        foreach (PlacePiece piece in run.Pieces(run.Stretch))
        {
            double before = piece.FromSeconds - 1e-9; // one that stands at a round place stands there
            for (long at = piece.FromUtc, from = at; from < piece.ToUtc; from = at)
            {
                at = Math.Min(from + EngineTime.NanosecondsPerSecond, piece.ToUtc);
                double place = run.PlaceOf(at)!.Value;
                double round = step * (place > before ? Math.Floor(place / step) : Math.Ceiling(place / step));
                bool passed = place > before ? round > before : place < before && round < before;
                long utc = passed ? from + (long)((at - from) * ((round - before) / (place - before))) : 0;
                before = place;
                if (passed && utc - last >= least)
                {
                    last = utc;
                    yield return (utc, PlaceText(round));
                }
            }
        }
    }

    /// <summary>Where on the tape a stretch of the run lies, in words; a counter that was set anew makes two of it.</summary>
    public static string PlaceText(DossierRun run, UtcStretch stretch) =>
        string.Join(" and ", run.Pieces(stretch).Select(p => $"{PlaceText(p.FromSeconds)} to {PlaceText(p.ToSeconds)}"));

    /// <summary>A place on the tape as h:mm:ss.</summary>
    public static string PlaceText(double seconds)
    {
        long whole = (long)Math.Round(seconds);
        return string.Create(CultureInfo.InvariantCulture, $"{whole / 3600}:{whole / 60 % 60:00}:{whole % 60:00}");
    }

    /// <summary>The machine's states over time with the places on the tape above them.</summary>
    public void DrawStates(SKCanvas canvas, float top)
    {
        foreach ((long utc, string label) in RoundPlaces(Dossier.Run))
        {
            PlotInk.Text(canvas, label, X(utc), top + 10, 11, PlotInk.Grey, align: SKTextAlign.Center);
        }

        PlotInk.Text(canvas, "on the tape", 1000 - Right + 8, top + 10, 11, PlotInk.Grey);
        foreach (StateStretch state in Dossier.States)
        {
            (float from, float to) = (X(state.Stretch.FromUtc), X(state.Stretch.ToUtc));
            if (to - from < 0.5)
            {
                continue;
            }

            using var fill = new SKPaint { Color = InkOf(state.State) };
            canvas.DrawRect(from, top + 15, to - from, 12, fill);
            string word = WordOf(state.State);
            if (PlotInk.Measure(word, 10) + 8 < to - from)
            {
                PlotInk.Text(canvas, word, from + 4, top + 25, 10, IsLight(state.State) ? PlotInk.Dark : SKColors.White);
            }
        }

        foreach (UtcStretch gap in Dossier.Unwatched)
        {
            Hatch(canvas, new SKRect(X(gap.FromUtc), top + 15, Math.Max(X(gap.ToUtc), X(gap.FromUtc) + 1.5f), top + 27));
        }

        PlotInk.Text(canvas, "machine", 1000 - Right + 8, top + 25, 11, PlotInk.Grey);
    }

    /// <summary>Clock times beneath the lowest panel.</summary>
    public void DrawTimes(SKCanvas canvas, float top)
    {
        foreach (TimeTick tick in Times)
        {
            float x = Left + (float)((tick.At - From) / 1e9 / Seconds * (1000 - Left - Right));
            string[] lines = tick.Label.Split('\n');
            for (int i = 0; i < lines.Length; i++)
            {
                PlotInk.Text(canvas, lines[i], x, top + 12 + (i * 13), 11.5f, PlotInk.Dark, align: SKTextAlign.Center);
            }
        }

        PlotInk.Text(canvas, ZoneName(Zone), 1000 - Right + 8, top + 12, 11, PlotInk.Grey);
    }

    public static string ZoneName(TimeZoneInfo zone) => ReferenceEquals(zone, TimeZoneInfo.Utc) || zone.Id == "UTC" ? "UTC" : zone.Id;

    /// <summary>Nobody watched: neither good nor bad, and not to be overlooked.</summary>
    public static void Hatch(SKCanvas canvas, SKRect rect)
    {
        using var ground = new SKPaint { Color = new SKColor(0xec, 0xee, 0xf0) };
        using var line = new SKPaint { Color = new SKColor(0x9a, 0xa3, 0xab), StrokeWidth = 0.8f, IsAntialias = true };
        canvas.Save();
        canvas.ClipRect(rect);
        canvas.DrawRect(rect, ground);
        for (float x = rect.Left - rect.Height; x < rect.Right; x += 7)
        {
            canvas.DrawLine(x, rect.Bottom, x + rect.Height, rect.Top, line);
        }

        canvas.Restore();
    }

    public static string WordOf(MachineState state) => state switch
    {
        MachineState.NoAir => "no air",
        MachineState.AirUp => "air up",
        MachineState.TapeOnGuide => "tape on the guide",
        MachineState.Running => "tape running",
        MachineState.Locked => "locked",
        _ => "not known",
    };

    private static bool IsLight(MachineState state) => state is MachineState.NoAir or MachineState.AirUp or MachineState.Unknown;

    private static SKColor InkOf(MachineState state) => state switch
    {
        MachineState.NoAir => new SKColor(0xe3, 0xe6, 0xe9),
        MachineState.AirUp => new SKColor(0xc4, 0xd6, 0xe4),
        MachineState.TapeOnGuide => new SKColor(0x5f, 0x8f, 0xb5),
        MachineState.Running => new SKColor(0x2f, 0x70, 0xa3),
        MachineState.Locked => new SKColor(0x1b, 0x4f, 0x7a),
        _ => new SKColor(0xf2, 0xea, 0xd8),
    };
}
