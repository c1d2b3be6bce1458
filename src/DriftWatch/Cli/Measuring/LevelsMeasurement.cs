using System.CommandLine;
using System.Globalization;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Analysis.RfHeads;

namespace DriftWatch.Cli.Measuring;

/// <summary><c>driftwatch measure levels</c>: levels of the output against the standard's figures.</summary>
internal static class LevelsMeasurement
{
    private static readonly (string Name, VideoStandard Standard)[] Standards =
    [
        ("525", VideoStandard.Lines525WithSetUp), ("525-no-setup", VideoStandard.Lines525WithoutSetUp), ("625", VideoStandard.Lines625),
    ];

    private static readonly string[] Levels = ["black", "white", "sync", "chroma", "angle", "audio-zero"];

    public static Command Create()
    {
        var file = new Argument<FileInfo>("FILE")
        {
            Description = "CSV with a row a level: level, value. Levels: black, white, sync (its depth), chroma (peak to peak), angle (degrees), audio-zero (dBFS).",
        };
        var standard = new Option<string>("--standard") { Description = "525 (with set-up), 525-no-setup or 625.", Required = true };
        standard.AcceptOnlyFromAmong([.. Standards.Select(s => s.Name)]);
        Option<string> unit = Choice("--unit", "Unit of black, white, sync and chroma: mV or IRE.", "mV", ["mV", "IRE"]);
        Option<string> bar = Choice(
            "--bar", "The coloured bar whose chroma and angle were read.", "red", ["yellow", "cyan", "green", "magenta", "red", "blue"]);
        Option<string> bars = Choice("--bars", "Amplitude of the coloured bars in percent.", "75", ["75", "100"]);
        var command = new Command(
            "levels",
            "Holds levels of the output against the figures of 525/60 or 625/50: black, white, sync, chroma phase and saturation of a bar, the zero-level tone. "
            + "Says where levels of both standards are mixed.")
        {
            file, standard, unit, bar, bars,
        };
        command.SetAction(parse => Run(
            parse.GetRequiredValue(file).ToString(),
            Array.Find(Standards, s => s.Name == parse.GetRequiredValue(standard)).Standard,
            parse.GetValue(unit) == "IRE" ? VideoStandard.MillivoltsPerIre : 1,
            Enum.Parse<ColourBar>(parse.GetValue(bar)!, ignoreCase: true),
            double.Parse(parse.GetValue(bars)!, CultureInfo.InvariantCulture),
            parse.InvocationConfiguration.Output));
        return command.WithHelp(
            notSound: "a level is off by an advisory or an alarm, or levels of two standards are mixed",
            new HelpExample("driftwatch measure levels read.csv --standard 625", "levels in mV"),
            new HelpExample("driftwatch measure levels read.csv --standard 525 --unit IRE --bar blue", "levels in IRE, the vector of the blue bar"));
    }

    private static Option<string> Choice(string name, string description, string standard, string[] among)
    {
        var option = new Option<string>(name) { Description = description, DefaultValueFactory = _ => standard };
        option.AcceptOnlyFromAmong(among);
        return option;
    }

    private static int Run(string path, VideoStandard standard, double millivoltsPerUnit, ColourBar bar, double bars, TextWriter output)
    {
        NumberTable table = NumberTable.Read(path);
        if (!table.Has("level") || !table.Has("value"))
        {
            throw new RecordingException(path, 1, 1, "the heading names no levels", "write the columns level, value");
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
            BlackMillivolts = Level("black", millivoltsPerUnit),
            WhiteMillivolts = Level("white", millivoltsPerUnit),
            SyncMillivolts = Level("sync", millivoltsPerUnit) is { } sync ? Math.Abs(sync) : null, // some write it as −300
            ChromaMillivolts = Level("chroma", millivoltsPerUnit) is { } chroma ? Math.Abs(chroma) : null,
            AngleDegrees = Level("angle", 1),
            AudioZeroDbfs = Level("audio-zero", 1),
            Bar = bar,
            ColoursPercent = bars,
        };
        IReadOnlyList<LevelComparison> levels = OutputLevels.Compare(readings, standard).Value; // a row at least was read
        output.WriteLine($"{Path.GetFileName(path)}: held against {standard.Name}{(readings.ChromaMillivolts is null ? "" : $", {bars:0} % bars, {bar.ToString().ToLowerInvariant()}")}.");
        output.WriteLine();
        TextTable.Write(output, ["level", "read", "should be", "difference", "", ""], levels.Select(l => Row(l)));
        bool mixed = SayStandards(output, OutputLevels.SpeakFor(readings), standard);
        return mixed || levels.Any(l => l.Verdict >= LevelVerdict.Advisory) ? ExitCode.NotSound : ExitCode.Done;
    }

    private static string[] Row(LevelComparison level) =>
    [
        level.Quantity switch
        {
            OutputQuantity.Black => "black",
            OutputQuantity.White => "white",
            OutputQuantity.Sync => "sync",
            OutputQuantity.ChromaPhase => "chroma phase",
            OutputQuantity.Saturation => "saturation",
            _ => "audio zero",
        },
        Number(level.Measured, "0.0"),
        Number(level.Nominal, "0.0"),
        Number(level.Difference, "+0.0;-0.0;0.0"),
        level.Unit,
        level.Verdict switch { LevelVerdict.Good => "good", LevelVerdict.Off => "a little off", LevelVerdict.Advisory => "ADVISORY", _ => "ALARM" },
    ];

    /// <summary>Whether levels are not all of the standard they are held against.</summary>
    private static bool SayStandards(TextWriter output, IReadOnlyList<(string Level, int Lines)> voices, VideoStandard standard)
    {
        string[] others = [.. voices.Where(v => v.Lines != standard.Lines).Select(v => v.Level)];
        if (others.Length == 0)
        {
            return false;
        }

        string other = standard.Lines == 525 ? "625/50" : "525/60";
        output.WriteLine();
        output.WriteLine(others.Length == voices.Count
            ? $"These are levels of {other} ({string.Join(", ", others)}), not of {standard.Name}. See which standard the machine and the measuring set are in."
            : $"Standards are mixed: {string.Join(", ", others)} as in {other}, {string.Join(", ", voices.Where(v => v.Lines == standard.Lines).Select(v => v.Level))} as in {standard.Name}.");
        return true;
    }

    private static string Number(double value, string format) => value.ToString(format, CultureInfo.InvariantCulture);
}
