using System.CommandLine;
using System.Globalization;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.Pneumatics;

namespace DriftWatch.Cli.Measuring;

/// <summary><c>driftwatch measure filter</c>: the drop between air at rest and air under flow, and whether it has grown.</summary>
internal static class FilterMeasurement
{
    public static Command Create()
    {
        Option<double> rest = MeasureInput.Number("--at-rest", "Regulated pressure with the air up and nothing drawn, psi.", 0, 1000);
        Option<double> flow = MeasureInput.Number("--under-flow", "Regulated pressure with wheel and venturi drawing, psi.", 0, 1000);
        rest.Required = flow.Required = true;
        Option<double?> before = MeasureInput.Optional("--drop-before", "The drop when the element was new or last looked at, at the same flow, psi.", 0.001, 1000);
        Option<double> error = MeasureInput.Number("--gauge-error", "Standard uncertainty of one reading, psi.", 0, 50, 0.1);
        var command = new Command(
            "filter",
            "The drop over filter and regulator: read the regulated pressure behind the filter at a stop, with the air up and nothing drawn, and again while wheel and venturi draw. "
            + "A clogging element shows as growth of the drop at the same flow.")
        {
            rest, flow, before, error,
        };
        command.SetAction(parse =>
        {
            double u = parse.GetValue(error);
            Uncertain? then = parse.GetValue(before) is { } drop ? new Uncertain(drop, Math.Sqrt(2) * u) : null;
            FilterDropAnswer answer = FilterDrop.Of(new Uncertain(parse.GetValue(rest), u), new Uncertain(parse.GetValue(flow), u), then);
            TextWriter output = parse.InvocationConfiguration.Output;
            output.WriteLine(Text($"Drop under flow: {answer.DropPsi.Value:0.00} ± {answer.DropPsi.Expanded():0.00} psi, the regulator's own droop in it."));
            if (answer.GrowthShare is { } growth)
            {
                output.WriteLine(Text($"Against {then!.Value.Value:0.00} psi before: {growth.Value:0.00} ± {growth.Expanded():0.00} times. ")
                    + (answer.IsClogging ? "It has grown: change the filter's element." : Text($"No growth that can be claimed (it takes more than {FilterDrop.LeastGrowthShare:0.00} times, beyond doubt).")));
            }
            else
            {
                output.WriteLine("Keep this number: only growth at the same flow is a sign of clogging.");
            }

            output.WriteLine();
            output.WriteLine(LeakDownMeasurement.Caution);
            return ExitCode.Done;
        });
        return command.WithHelp(
            notSound: null,
            new HelpExample("driftwatch measure filter --at-rest 51.2 --under-flow 50.6", "the drop of today"),
            new HelpExample("driftwatch measure filter --at-rest 51.2 --under-flow 49.9 --drop-before 0.6", "has it grown?"));
    }

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
