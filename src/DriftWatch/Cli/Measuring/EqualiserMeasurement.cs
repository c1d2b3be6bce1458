using System.CommandLine;
using DriftWatch.Measuring;

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
        command.SetAction(parse => MeasureOutput.OfFile(parse.GetRequiredValue(file), parse.InvocationConfiguration.Output, EqualiserAid.Read));
        return command.WithHelp(
            notSound: "the sweep has no dip that stands out of the noise",
            new HelpExample("driftwatch measure equaliser sweep.csv", "settings and levels of one sweep"));
    }
}
