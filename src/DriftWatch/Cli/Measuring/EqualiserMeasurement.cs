using System.CommandLine;
using System.Globalization;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Analysis;
using DriftWatch.Analysis.RfHeads;

namespace DriftWatch.Cli.Measuring;

/// <summary><c>driftwatch measure equaliser</c>: the dip in a sweep of the master equaliser.</summary>
internal static class EqualiserMeasurement
{
    public static Command Create()
    {
        var file = new Argument<FileInfo>("FILE") { Description = "CSV with a row a setting: setting, level. Any unit that rises with the level; dB is usual." };
        var command = new Command(
            "equaliser",
            "Finds the dip in a sweep of the master equaliser: the level rises, dips and rises again. Says where the dip is and how sure that is, or "
            + "that the sweep has none, and why. Nine settings at least; twenty tell a narrow dip better.")
        {
            file,
        };
        command.SetAction(parse => Run(parse.GetRequiredValue(file).ToString(), parse.InvocationConfiguration.Output));
        return command.WithHelp(
            notSound: "the sweep has no dip that stands out of the noise",
            new HelpExample("driftwatch measure equaliser sweep.csv", "settings and levels of one sweep"));
    }

    private static int Run(string path, TextWriter output)
    {
        NumberTable table = NumberTable.Read(path);
        if (!table.Has("setting") || !table.Has("level"))
        {
            throw new RecordingException(path, 1, 1, "the heading names no sweep of the equaliser", "write the columns setting, level");
        }

        double[] settings = [.. Enumerable.Range(0, table.Count).Select(row => table.Number(row, "setting"))];
        double[] levels = [.. Enumerable.Range(0, table.Count).Select(row => table.Number(row, "level"))];
        Answer<EqualiserReading> answer = EqualiserSweep.Read(settings, levels);
        if (!answer.IsKnown)
        {
            throw new CommandException(ExitCode.NotSound, $"{path}: {answer.Missing}. Read the level at more settings.");
        }

        EqualiserReading reading = answer.Value;
        output.WriteLine($"{Path.GetFileName(path)}: {settings.Length} readings at settings {Number(settings.Min())} to {Number(settings.Max())}; they scatter by {Number(reading.Scatter)} about a smooth curve.");
        if (reading.Dip is not { } dip)
        {
            output.WriteLine(WhyNot(reading.Shape));
            return ExitCode.NotSound;
        }

        output.WriteLine($"The level rises to a top at {Number(dip.TopSetting)}, dips by {Number(dip.Depth.Value)} ± {Number(dip.Depth.Expanded())} and rises again.");
        output.WriteLine($"Set the equaliser to the dip: {Number(dip.Setting)} (95 %: {Number(dip.Lower)} to {Number(dip.Upper)}).");
        return ExitCode.Done;
    }

    private static string WhyNot(SweepShape shape) => "No dip: " + shape switch
    {
        SweepShape.Level => "nothing stands out of the noise. See whether the control does anything, or read each setting longer.",
        SweepShape.OnlyRises => "the level only rises. Go on with the sweep, in smaller steps about where it flattens.",
        SweepShape.OnlyFalls => "the level only falls. Begin lower.",
        SweepShape.SecondRiseMissing => "the level rises and falls, and does not rise again within the sweep. Go on further up.",
        SweepShape.FirstRiseMissing => "the level falls and rises, and its first rise is missing. Begin lower, to see where it comes from.",
        SweepShape.SeveralDips => "there is more than one. Sweep again over each alone.",
        _ => "there seems to be one, but the readings scatter too much or lie too wide apart to place it. Take smaller steps about it.",
    };

    private static string Number(double value) => (Math.Abs(value) < 0.0005 ? 0 : value).ToString("0.0##", CultureInfo.InvariantCulture);
}
