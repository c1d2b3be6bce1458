using System.Globalization;
using DriftWatch.Analysis.RfHeads;

namespace DriftWatch.Measuring;

/// <summary>What levels of the output are held against, and how they were read.</summary>
internal sealed record LevelsSettings(VideoStandard Standard, double MillivoltsPerUnit, ColourBar Bar, double BarsPercent);

/// <summary>Levels of the output against the standard's figures: columns level, value.</summary>
internal static class LevelsAid
{
    private static readonly string[] Levels = ["black", "white", "sync", "chroma", "angle", "audio-zero"];

    public static ChoiceField<VideoStandard> Standard { get; } = new(
        "standard", null, ("525", VideoStandard.Lines525WithSetUp), ("525-no-setup", VideoStandard.Lines525WithoutSetUp), ("625", VideoStandard.Lines625));

    /// <summary>Millivolts in a unit of black, white, sync and chroma.</summary>
    public static ChoiceField<double> Unit { get; } = new("unit", "mV", ("mV", 1), ("IRE", VideoStandard.MillivoltsPerIre));

    /// <summary>The coloured bar whose chroma and angle were read.</summary>
    public static ChoiceField<ColourBar> Bar { get; } = new(
        "bar", "red", [.. new[] { ColourBar.Yellow, ColourBar.Cyan, ColourBar.Green, ColourBar.Magenta, ColourBar.Red, ColourBar.Blue }.Select(b => (Word(b), b))]);

    /// <summary>Amplitude of the coloured bars in percent.</summary>
    public static ChoiceField<double> Bars { get; } = new("bars", "75", ("75", 75), ("100", 100));

    /// <exception cref="Acquisition.Recordings.RecordingException">A mistake in the table.</exception>
    public static MeasureReport Read(NumberTable table, LevelsSettings settings)
    {
        if (!table.Has("level") || !table.Has("value"))
        {
            throw table.Unfit("the heading names no levels", "write the columns level, value");
        }

        var read = new Dictionary<string, double>(StringComparer.Ordinal);
        for (int row = 0; row < table.Count; row++)
        {
            string name = table.Text(row, "level").ToLowerInvariant();
            if (!Levels.Contains(name, StringComparer.Ordinal))
            {
                throw table.Mistake(row, "level", $"'{table.Text(row, "level")}' is no level", $"write one of {string.Join(", ", Levels)}");
            }

            if (!read.TryAdd(name, table.Number(row, "value")))
            {
                throw table.Mistake(row, "level", $"'{name}' stands here a second time", "write each level once");
            }
        }

        if (read.ContainsKey("chroma") != read.ContainsKey("angle"))
        {
            throw table.Mistake(0, "level", "of chroma and angle only one was given", "write both, or neither");
        }

        double? Level(string name, double scale) => read.TryGetValue(name, out double value) ? value * scale : null;
        var readings = new OutputReadings
        {
            BlackMillivolts = Level("black", settings.MillivoltsPerUnit),
            WhiteMillivolts = Level("white", settings.MillivoltsPerUnit),
            SyncMillivolts = Level("sync", settings.MillivoltsPerUnit) is { } sync ? Math.Abs(sync) : null, // some write it as −300
            ChromaMillivolts = Level("chroma", settings.MillivoltsPerUnit) is { } chroma ? Math.Abs(chroma) : null,
            AngleDegrees = Level("angle", 1),
            AudioZeroDbfs = Level("audio-zero", 1),
            Bar = settings.Bar,
            ColoursPercent = settings.BarsPercent,
        };
        IReadOnlyList<LevelComparison> levels = OutputLevels.Compare(readings, settings.Standard).Value; // a row at least was read
        string? mixed = OfOtherStandards(OutputLevels.SpeakFor(readings), settings.Standard);
        string colours = readings.ChromaMillivolts is null ? "" : $", {settings.BarsPercent:0} % bars, {Word(settings.Bar)}";
        int off = levels.Count(l => l.Verdict >= LevelVerdict.Advisory);
        return new MeasureReport(
            [$"held against {settings.Standard.Name}{colours}."],
            [
                ReportPart.Table(["level", "read", "should be", "difference", "", ""], levels.Select(Row)),
                .. mixed is null ? Array.Empty<ReportPart>() : [ReportPart.Text(mixed)],
            ],
            mixed is null && off == 0)
        {
            Headline = mixed ?? (off == 0 ? "The levels are good." : null),
            Quantities = [.. levels.Select(l => new Quantity(NameOf(l.Quantity).Replace(' ', '-'), l.Difference, l.Unit))],
        };
    }

    private static string Word(ColourBar bar) => bar.ToString().ToLowerInvariant();

    private static string NameOf(OutputQuantity quantity) => quantity switch
    {
        OutputQuantity.Black => "black",
        OutputQuantity.White => "white",
        OutputQuantity.Sync => "sync",
        OutputQuantity.ChromaPhase => "chroma phase",
        OutputQuantity.Saturation => "saturation",
        _ => "audio zero",
    };

    private static string[] Row(LevelComparison level) =>
    [
        NameOf(level.Quantity),
        Number(level.Measured, "0.0"),
        Number(level.Nominal, "0.0"),
        Number(level.Difference, "+0.0;-0.0;0.0"),
        level.Unit,
        level.Verdict switch { LevelVerdict.Good => "good", LevelVerdict.Off => "a little off", LevelVerdict.Advisory => "ADVISORY", _ => "ALARM" },
    ];

    /// <summary>Said where levels are not all of the standard they are held against.</summary>
    private static string? OfOtherStandards(IReadOnlyList<(string Level, int Lines)> voices, VideoStandard standard)
    {
        string[] others = [.. voices.Where(v => v.Lines != standard.Lines).Select(v => v.Level)];
        if (others.Length == 0)
        {
            return null;
        }

        string other = standard.Lines == 525 ? "625/50" : "525/60";
        return others.Length == voices.Count
            ? $"These are levels of {other} ({string.Join(", ", others)}), not of {standard.Name}. See which standard the machine and the measuring set are in."
            : $"Standards are mixed: {string.Join(", ", others)} as in {other}, {string.Join(", ", voices.Where(v => v.Lines == standard.Lines).Select(v => v.Level))} as in {standard.Name}.";
    }

    private static string Number(double value, string format) => value.ToString(format, CultureInfo.InvariantCulture);
}
