using System.CommandLine;
using DriftWatch.Measuring;

namespace DriftWatch.Cli.Measuring;

/// <summary><c>driftwatch measure matching</c>: three channels matched to that of the first head on two bars.</summary>
internal static class MatchingMeasurement
{
    public static Command Create()
    {
        var file = new Argument<FileInfo>("FILE") { Description = "CSV with a row a reading: head (1 to 4), dark, bright: the luminance of two bars, in mV or IRE." };
        var tolerance = new Option<double>("--tolerance")
        {
            Description = "Good enough, in percent of the step between the bars. Default: 1 (common practice, no source).",
            DefaultValueFactory = _ => MatchingAid.Tolerance.Standard!.Value,
        };
        tolerance.Validators.Add(result =>
        {
            if (!MatchingAid.Tolerance.Allows(result.GetValueOrDefault<double>()))
            {
                result.AddError("--tolerance takes a number of percent above 0, up to 50.");
            }
        });
        var command = new Command(
            "matching",
            "Matches the channels of heads 2 to 4 to that of head 1 on two bars: gain and offset, each with its uncertainty; which to turn, which way and "
            + "by how much; or that it is good. Ten readings of each head's bars, spread over some seconds, are a good number.")
        {
            file, tolerance,
        };
        command.SetAction(parse => MeasureOutput.OfFile(
            parse.GetRequiredValue(file), parse.InvocationConfiguration.Output, table => MatchingAid.Read(table, parse.GetValue(tolerance))));
        return command.WithHelp(
            notSound: "a channel does not match yet, or it can't be told",
            new HelpExample("driftwatch measure matching bars.csv", "what to turn on each channel"),
            new HelpExample("driftwatch measure matching bars.csv --tolerance 0.5", "to half a percent"));
    }
}
