using System.CommandLine;
using DriftWatch.Measuring;

namespace DriftWatch.Cli.Measuring;

/// <summary><c>driftwatch measure levels</c>: levels of the output against the standard's figures.</summary>
internal static class LevelsMeasurement
{
    public static Command Create()
    {
        var file = new Argument<FileInfo>("FILE")
        {
            Description = "CSV with a row a level: level, value. Levels: black, white, sync (its depth), chroma (peak to peak), angle (degrees), audio-zero (dBFS).",
        };
        Option<string> standard = MeasureInput.Choice(LevelsAid.Standard, "525 (with set-up), 525-no-setup or 625.");
        Option<string> unit = MeasureInput.Choice(LevelsAid.Unit, "Unit of black, white, sync and chroma: mV or IRE.");
        Option<string> bar = MeasureInput.Choice(LevelsAid.Bar, "The coloured bar whose chroma and angle were read.");
        Option<string> bars = MeasureInput.Choice(LevelsAid.Bars, "Amplitude of the coloured bars in percent.");
        var command = new Command(
            "levels",
            "Holds levels of the output against the figures of 525/60 or 625/50: black, white, sync, chroma phase and saturation of a bar, the zero-level tone. "
            + "Says where levels of both standards are mixed.")
        {
            file, standard, unit, bar, bars,
        };
        command.SetAction(parse => MeasureOutput.OfFile(
            parse.GetRequiredValue(file),
            parse.InvocationConfiguration.Output,
            table => LevelsAid.Read(table, new LevelsSettings(
                LevelsAid.Standard.Of(parse.GetRequiredValue(standard)),
                LevelsAid.Unit.Of(parse.GetValue(unit)),
                LevelsAid.Bar.Of(parse.GetValue(bar)),
                LevelsAid.Bars.Of(parse.GetValue(bars))))));
        return command.WithHelp(
            notSound: "a level is off by an advisory or an alarm, or levels of two standards are mixed",
            new HelpExample("driftwatch measure levels read.csv --standard 625", "levels in mV"),
            new HelpExample("driftwatch measure levels read.csv --standard 525 --unit IRE --bar blue", "levels in IRE, the vector of the blue bar"));
    }
}
