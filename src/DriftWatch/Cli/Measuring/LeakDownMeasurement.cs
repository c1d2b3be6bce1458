using System.CommandLine;
using DriftWatch.Analysis.Pneumatics;
using DriftWatch.Measuring;

namespace DriftWatch.Cli.Measuring;

/// <summary><c>driftwatch measure leak-down</c>: the leak of a closed receiver from the fall of its pressure.</summary>
internal static class LeakDownMeasurement
{
    public static Command Create()
    {
        var file = new Argument<FileInfo>("FILE") { Description = "CSV with a heading: time in s, pressure in psi gauge and, where it was measured, temperature in °C." };
        Option<double> litres = MeasureInput.Number(LeakDownAid.ReceiverLitres, "Receiver with all pipes up to the shut valves, litres.");
        litres.Required = true;
        Option<double?> error = MeasureInput.Optional(LeakDownAid.VolumeError, "Standard uncertainty of that volume, litres. Without it a twentieth of the volume (common practice, no source).");
        Option<double> step = MeasureInput.Number(LeakDownAid.GaugeStep, "Smallest step of the gauge, psi. Without it it is taken from the readings.");
        Option<double> gauge = MeasureInput.Number(LeakDownAid.GaugeError, "Standard uncertainty of the gauge's scale, percent of a difference.");
        Option<double> temperature = MeasureInput.Number(LeakDownAid.Temperature, "Temperature of the air where the file has none, °C.");
        Option<double?> unseen = MeasureInput.Optional(LeakDownAid.TemperatureError, "By how much, ±, the air may have warmed or cooled unseen, K. Without it 0.5 where temperature is not measured, 0.1 where it is (common practice, no source).");
        Option<double> atmosphere = MeasureInput.Number(LeakDownAid.Atmosphere, "Pressure of the atmosphere, psi.");
        var command = new Command(
            "leak-down",
            "The leak of a receiver in standard litres a minute with its uncertainty. Pump it up, stop the compressor, shut the valve to the machine, wait until it is at room "
            + "temperature, then read pressure (and temperature) for five to ten minutes and touch nothing.")
        {
            file, litres, error, step, gauge, temperature, unseen, atmosphere,
        };
        command.SetAction(parse =>
        {
            LeakDownSettings settings = LeakDownAid.Settings(
                parse.GetRequiredValue(litres), parse.GetValue(error), parse.GetValue(step), parse.GetValue(gauge), parse.GetValue(temperature), parse.GetValue(unseen), parse.GetValue(atmosphere));
            return MeasureOutput.OfFile(parse.GetRequiredValue(file), parse.InvocationConfiguration.Output, table => LeakDownAid.Read(table, settings));
        });
        return command.WithHelp(
            notSound: "the test can't tell a leak; the message says what is missing",
            new HelpExample("driftwatch measure leak-down fall.csv --receiver-litres 24 --volume-error 0.5", "24 litres known to half a litre"),
            new HelpExample("driftwatch measure leak-down fall.csv --receiver-litres 24 --gauge-step 1", "read off a gauge with a mark a psi"));
    }
}
