using System.CommandLine;
using DriftWatch.Measuring;

namespace DriftWatch.Cli.Measuring;

/// <summary><c>driftwatch measure timing</c>: a record of timing errors taken apart, and what to turn.</summary>
internal static class TimingMeasurement
{
    internal const string StandardWords = "The machine's standard: 525 turns 240 times a second, 525-colour 239.76, 625 250.";

    public static Command Create()
    {
        var file = new Argument<FileInfo>("FILE") { Description = "CSV: head, angle, error a point (the frame file of a recording is one); or line, error, head, edge." };
        Option<string> standard = MeasureInput.Choice(TimingAid.Standard, StandardWords);
        Option<string> tape = MeasureInput.Choice(TimingAid.Tape, "What is played: reference, elsewhere (any tape not of this machine as it stands), own.");
        Option<string> terms = MeasureInput.Choice(TimingAid.Terms, "What is fitted: slopes of each head, a speed error once a revolution in their place, or all.");
        Option<string> unit = MeasureInput.Choice(TimingAid.Unit, "Unit of the errors: ns or us.");
        var range = new Option<double?>("--range") { Description = "Where the measurement ends, ±, in the unit of the errors: samples there are left out. Without it they are looked for." };
        range.Validators.Add(result =>
        {
            if (result.GetValueOrDefault<double?>() is { } value && !(value > 0 && double.IsFinite(value)))
            {
                result.AddError("--range takes a number above 0.");
            }
        });
        var json = new Option<bool>("--json") { Description = "One JSON object instead of the page: every value with its unit and standard error." };
        var command = new Command(
            "timing",
            "Takes a record of timing errors apart: skew (guide in or out), scallop (guide height), a step of each head, what is left, each with "
            + "its standard error; says what to turn, which way, by how much and how sure, or to leave it.")
        {
            file, standard, tape, terms, unit, range, json,
        };
        command.SetAction(parse => Run(
            parse.GetRequiredValue(file),
            new TimingSettings(
                TimingAid.Standard.Of(parse.GetRequiredValue(standard)),
                TimingAid.Tape.Of(parse.GetValue(tape)),
                TimingAid.Terms.Of(parse.GetValue(terms)),
                TimingAid.Unit.Of(parse.GetValue(unit)),
                parse.GetValue(range)),
            parse.GetValue(json),
            parse.InvocationConfiguration.Output));
        return command.WithHelp(
            notSound: "the record can't tell; the message says what is missing",
            new HelpExample("driftwatch measure timing record.csv --standard 525", "a tape from elsewhere"),
            new HelpExample("driftwatch measure timing record.csv --standard 525 --json", "for programs"),
            new HelpExample("driftwatch measure timing lines.csv --standard 625 --tape reference --unit us", "an alignment tape, one row a line"));
    }

    private static int Run(FileInfo file, TimingSettings settings, bool asJson, TextWriter output)
    {
        if (!asJson)
        {
            return MeasureOutput.OfFile(file, output, table => TimingAid.Read(table, settings).Report);
        }

        string path = file.ToString();
        output.WriteLine(TimingJson.Of(Path.GetFileName(path), MeasureOutput.Told(path, () => TimingAid.Read(NumberTable.Read(path), settings))));
        return ExitCode.Done;
    }
}
