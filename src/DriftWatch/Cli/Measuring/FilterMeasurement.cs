using System.CommandLine;
using DriftWatch.Measuring;

namespace DriftWatch.Cli.Measuring;

/// <summary><c>driftwatch measure filter</c>: the drop between air at rest and air under flow, and whether it has grown.</summary>
internal static class FilterMeasurement
{
    public static Command Create()
    {
        Option<double> rest = MeasureInput.Number(FilterAid.AtRest, "Regulated pressure with the air up and nothing drawn, psi.");
        Option<double> flow = MeasureInput.Number(FilterAid.UnderFlow, "Regulated pressure with wheel and venturi drawing, psi.");
        rest.Required = flow.Required = true;
        Option<double?> before = MeasureInput.Optional(FilterAid.DropBefore, "The drop when the element was new or last looked at, at the same flow, psi.");
        Option<double> error = MeasureInput.Number(FilterAid.GaugeError, "Standard uncertainty of one reading, psi.");
        var command = new Command(
            "filter",
            "The drop over filter and regulator: read the regulated pressure behind the filter at a stop, with the air up and nothing drawn, and again while wheel and venturi draw. "
            + "A clogging element shows as growth of the drop at the same flow.")
        {
            rest, flow, before, error,
        };
        command.SetAction(parse => MeasureOutput.Write(
            null,
            FilterAid.Of(parse.GetValue(rest), parse.GetValue(flow), parse.GetValue(before), parse.GetValue(error)),
            parse.InvocationConfiguration.Output));
        return command.WithHelp(
            notSound: null,
            new HelpExample("driftwatch measure filter --at-rest 51.2 --under-flow 50.6", "the drop of today"),
            new HelpExample("driftwatch measure filter --at-rest 51.2 --under-flow 49.9 --drop-before 0.6", "has it grown?"));
    }
}
