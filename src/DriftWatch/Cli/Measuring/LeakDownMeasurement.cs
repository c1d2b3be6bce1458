using System.CommandLine;
using System.Globalization;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.Pneumatics;

namespace DriftWatch.Cli.Measuring;

/// <summary><c>driftwatch measure leak-down</c>: the leak of a closed receiver from the fall of its pressure.</summary>
internal static class LeakDownMeasurement
{
    internal const string Caution =
        "Caution: compressed air can injure and a receiver holds enough of it to kill. Stop the wheel before its air is shut off; relieve the pressure before anything is opened; eye protection on. This is a measurement and no safety device.";

    private static readonly (string Counts, string Remedy)[] Remedies =
    [
        (LeakDown.TooShort, "Let it fall for some minutes: five to ten are good."),
        (LeakDown.TooFew, "Read more often: once a second or two."),
        (LeakDown.Rose, "Switch the compressor off and shut its valve, wait until the receiver is at room temperature, and test again, or give only the rows before the rise."),
        (LeakDown.Unsteady, "Wait until receiver and room are at one temperature, and test again."),
        (LeakDown.NotStraight, "Wait until the receiver is at room temperature, keep every valve as it is, and test for longer."),
        (LeakDown.TooLittle, "Test longer, or with a gauge of finer steps: the leak is smaller than this test can tell."),
    ];

    public static Command Create()
    {
        var file = new Argument<FileInfo>("FILE") { Description = "CSV with a heading: time in s, pressure in psi gauge and, where it was measured, temperature in °C." };
        Option<double> litres = MeasureInput.Number("--receiver-litres", "Receiver with all pipes up to the shut valves, litres.", 0.01, 1e6);
        litres.Required = true;
        Option<double?> error = MeasureInput.Optional("--volume-error", "Standard uncertainty of that volume, litres. Without it a twentieth of the volume (common practice, no source).", 0, 1e6);
        Option<double> step = MeasureInput.Number("--gauge-step", "Smallest step of the gauge, psi. Without it it is taken from the readings.", 0, 100);
        Option<double> gauge = MeasureInput.Number("--gauge-error", "Standard uncertainty of the gauge's scale, percent of a difference.", 0, 50, 0.5);
        Option<double> temperature = MeasureInput.Number("--temperature", "Temperature of the air where the file has none, °C.", -40, 80, 20);
        Option<double?> unseen = MeasureInput.Optional("--temperature-error", "By how much, ±, the air may have warmed or cooled unseen, K. Without it 0.5 where temperature is not measured, 0.1 where it is (common practice, no source).", 0, 50);
        Option<double> atmosphere = MeasureInput.Number("--atmosphere", "Pressure of the atmosphere, psi.", 5, 20, 14.696);
        var command = new Command(
            "leak-down",
            "The leak of a receiver in standard litres a minute with its uncertainty. Pump it up, stop the compressor, shut the valve to the machine, wait until it is at room "
            + "temperature, then read pressure (and temperature) for five to ten minutes and touch nothing.")
        {
            file, litres, error, step, gauge, temperature, unseen, atmosphere,
        };
        command.SetAction(parse =>
        {
            double volume = parse.GetRequiredValue(litres);
            double? bound = parse.GetValue(unseen);
            var standard = new LeakDownSettings { VolumeLitres = new Uncertain(volume, parse.GetValue(error) ?? (0.05 * volume)) };
            return Run(
                parse.GetRequiredValue(file).ToString(),
                standard with
                {
                    GaugeResolutionPsi = parse.GetValue(step),
                    GaugeScaleShare = parse.GetValue(gauge) / 100,
                    TemperatureC = parse.GetValue(temperature),
                    UnseenTemperatureK = bound ?? standard.UnseenTemperatureK,
                    ThermometerDriftK = bound ?? standard.ThermometerDriftK,
                    AtmospherePsi = parse.GetValue(atmosphere),
                },
                parse.InvocationConfiguration.Output);
        });
        return command.WithHelp(
            notSound: "the test can't tell a leak; the message says what is missing",
            new HelpExample("driftwatch measure leak-down fall.csv --receiver-litres 24 --volume-error 0.5", "24 litres known to half a litre"),
            new HelpExample("driftwatch measure leak-down fall.csv --receiver-litres 24 --gauge-step 1", "read off a gauge with a mark a psi"));
    }

    private static int Run(string path, LeakDownSettings settings, TextWriter output)
    {
        NumberTable table = NumberTable.Read(path);
        double[] seconds = MeasureInput.Seconds(table, path);
        string pressure = MeasureInput.Column(table, path, "pressure in psi", "pressure", "psi", "pressure-psi");
        string? temperature = table.OneOf("temperature", "celsius", "temperature-c");
        double[] psi = new double[table.Count];
        double[] celsius = new double[temperature is null ? 0 : table.Count];
        for (int row = 0; row < table.Count; row++)
        {
            psi[row] = table.Number(row, pressure, -settings.AtmospherePsi + 0.001, 10000);
            if (temperature is not null)
            {
                celsius[row] = table.Number(row, temperature, -40, 80);
            }
        }

        Answer<LeakDownResult> answer = LeakDown.Measure(seconds, psi, celsius, settings);
        if (!answer.IsKnown)
        {
            string remedy = Array.Find(Remedies, r => r.Counts == answer.Missing!.What).Remedy;
            throw new CommandException(ExitCode.NotSound, $"{path}: {answer.Missing}. {remedy}");
        }

        Write(output, Path.GetFileName(path), psi, temperature is not null, settings, answer.Value);
        return ExitCode.Done;
    }

    private static void Write(TextWriter output, string name, double[] psi, bool measured, LeakDownSettings settings, LeakDownResult result)
    {
        string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
        output.WriteLine(Text($"{name}: {psi.Length} readings in {result.Minutes:0.0} min, {psi[0]:0.00} to {psi[^1]:0.00} psi; temperature {(measured ? "measured" : "not measured")}."));
        output.WriteLine();
        output.WriteLine(result.IsClaimed
            ? Text($"Leak: {result.FlowSlpm.Value:0.00} ± {result.ExpandedSlpm:0.00} standard litres a minute ({settings.Confidence:0 %}, k = {result.CoverageFactor:0.00}) at a mean of {result.MeanPressurePsig:0.0} psi.")
            : Text($"Leak: none told; at most {result.AtMostSlpm:0.00} standard litres a minute ({settings.Confidence:0 %}) at a mean of {result.MeanPressurePsig:0.0} psi."));
        double anr = StandardAir.LitresAnrPerStandardLitre;
        output.WriteLine(result.IsClaimed
            ? Text($"      {anr * result.FlowSlpm.Value:0.00} ± {anr * result.ExpandedSlpm:0.00} litres a minute ANR.")
            : Text($"      at most {anr * result.AtMostSlpm:0.00} litres a minute ANR."));
        output.WriteLine("Standard litres are at 20 °C and 101.325 kPa, litres ANR at 20 °C and 100 kPa.");
        output.WriteLine(Text($"At one temperature the pressure fell by {Math.Round(result.FallPsiPerMinute, 3) + 0.0:0.000} psi a minute.")
            + (Math.Abs(result.TemperatureFallPsiPerMinute) >= 0.0005 ? Text($" Temperature alone made it {(result.TemperatureFallPsiPerMinute < 0 ? "rise" : "fall")} by {Math.Abs(result.TemperatureFallPsiPerMinute):0.000}, which is taken out.") : ""));
        if (result.LeftOut > 0)
        {
            output.WriteLine(Text($"{result.LeftOut} wild readings were left out."));
        }

        output.WriteLine();
        output.WriteLine("Standard uncertainties, litres a minute:");
        foreach (LeakBudgetLine line in result.Budget)
        {
            output.WriteLine(Text($"  {line.Name,-24} {line.StandardUncertaintySlpm:0.000}"));
        }

        output.WriteLine(Text($"  {"all together",-24} {result.FlowSlpm.StandardUncertainty:0.000}"));
        foreach (string warning in result.Warnings)
        {
            output.WriteLine($"Note: {warning}");
        }

        output.WriteLine();
        output.WriteLine(Caution);
    }
}
