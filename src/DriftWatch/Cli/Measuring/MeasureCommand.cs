using System.CommandLine;

namespace DriftWatch.Cli.Measuring;

/// <summary><c>driftwatch measure WHAT</c>: measurements that a person makes at the machine, from a file or line by line.</summary>
internal static class MeasureCommand
{
    /// <summary>One file a measurement; add a row.</summary>
    private static readonly Func<Command>[] Measurements =
    [
        TimingMeasurement.Create,
        HalfErrorMeasurement.Create,
        LeakDownMeasurement.Create,
        AirMeasurement.Create,
        FilterMeasurement.Create,
        TrackingMeasurement.Create,
        EqualiserMeasurement.Create,
        MatchingMeasurement.Create,
        LevelsMeasurement.Create,
    ];

    public static Command Create()
    {
        var command = new Command(
            "measure",
            "Measurements made at the machine: what the numbers come to, how sure that is, and what to do. Nothing is kept, and nothing is driven.");
        foreach (Func<Command> create in Measurements)
        {
            command.Subcommands.Add(create());
        }

        return command.WithHelp(
            notSound: "the numbers don't tell it, or the measurement says stop",
            new HelpExample("driftwatch measure timing record.csv --standard 525", "what a record of timing errors is made of, and what to turn"),
            new HelpExample("driftwatch measure half-error --help", "the half-error rule as a guided loop"),
            new HelpExample("driftwatch measure leak-down fall.csv --receiver-litres 24", "the leak of a receiver in litres a minute"),
            new HelpExample("driftwatch measure tracking sweep.csv", "where to set the tracking control"));
    }
}
