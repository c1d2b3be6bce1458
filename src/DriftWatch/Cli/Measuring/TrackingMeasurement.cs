using System.CommandLine;
using DriftWatch.Measuring;

namespace DriftWatch.Cli.Measuring;

/// <summary><c>driftwatch measure tracking</c>: where to set the tracking control, from a sweep of it.</summary>
internal static class TrackingMeasurement
{
    public static Command Create()
    {
        var file = new Argument<FileInfo>("FILE") { Description = "CSV with a row a position: position, head1, head2, head3, head4 in dB; a head that is not there has no column, or empty cells." };
        Option<string> unit = MeasureInput.Choice(TrackingAid.Unit, "Unit of the position: mil, um, or division, where what a division of the dial comes to is told by the flanks.");
        var command = new Command(
            "tracking",
            "Finds each head's peak in a sweep of the tracking control by two straight lines in volts, and where to set it: at the peak where the heads "
            + "agree, where the worst head loses least if they do not. Five positions over plus and minus 4 mil at least; the signal in sync tip or blanking.")
        {
            file, unit,
        };
        command.SetAction(parse => MeasureOutput.OfFile(
            parse.GetRequiredValue(file), parse.InvocationConfiguration.Output, table => TrackingAid.Read(table, TrackingAid.Unit.Of(parse.GetValue(unit)))));
        return command.WithHelp(
            notSound: "no head shows a peak; the message says what is missing",
            new HelpExample("driftwatch measure tracking sweep.csv", "a sweep in mil"),
            new HelpExample("driftwatch measure tracking sweep.csv --unit division", "a sweep in divisions of the dial"));
    }
}
