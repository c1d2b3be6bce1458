using System.CommandLine;
using System.Globalization;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.TimingGeometry;

namespace DriftWatch.Cli.Measuring;

/// <summary><c>driftwatch measure timing</c>: a record of timing errors taken apart, and what to turn.</summary>
internal static class TimingMeasurement
{
    internal const string Caution =
        "Caution: the wheel turns at 14,400 to 15,000 rev/min. Covers on, no tools or fingers near it; adjust only what the machine's own manual says may be adjusted while it runs, and as it says. Never record on a tape that is to be preserved.";

    private static readonly (string Name, TapePlayed Played, string Words)[] Tapes =
    [
        ("reference", TapePlayed.Reference, "a reference tape: what is shown is this machine's"),
        ("elsewhere", TapePlayed.FromElsewhere, "a tape recorded elsewhere: what is shown is the difference to the machine that recorded it"),
        ("own", TapePlayed.OwnUnmoved, "a tape of this machine, unmoved since: guide and heads cancel"),
    ];

    private static readonly (string Name, TimingModel Model)[] Models =
    [
        ("slopes", TimingModel.PerHeadSlopes), ("revolution", TimingModel.OncePerRevolution), ("all", TimingModel.Everything),
    ];

    public static Command Create()
    {
        var file = new Argument<FileInfo>("FILE") { Description = "CSV: head, angle, error a point (the frame file of a recording is one); or line, error, head, edge." };
        Option<string> standard = StandardArgument.Create();
        Option<string> tape = Choice("--tape", "What is played: reference, elsewhere (any tape not of this machine as it stands), own.", "elsewhere", Tapes.Select(t => t.Name));
        Option<string> terms = Choice("--terms", "What is fitted: slopes of each head, a speed error once a revolution in their place, or all.", "slopes", Models.Select(m => m.Name));
        Option<string> unit = Choice("--unit", "Unit of the errors: ns or us.", "ns", ["ns", "us"]);
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
            parse.GetRequiredValue(file).ToString(),
            StandardArgument.Of(parse.GetRequiredValue(standard)),
            Array.Find(Tapes, t => t.Name == parse.GetValue(tape)),
            Array.Find(Models, m => m.Name == parse.GetValue(terms)).Model,
            parse.GetValue(unit) == "us" ? 1000 : 1,
            parse.GetValue(range),
            parse.GetValue(json),
            parse.InvocationConfiguration.Output));
        return command.WithHelp(
            notSound: "the record can't tell; the message says what is missing",
            new HelpExample("driftwatch measure timing record.csv --standard 525", "a tape from elsewhere"),
            new HelpExample("driftwatch measure timing record.csv --standard 525 --json", "for programs"),
            new HelpExample("driftwatch measure timing lines.csv --standard 625 --tape reference --unit us", "an alignment tape, one row a line"));
    }

    internal static Option<string> Choice(string name, string description, string standard, IEnumerable<string> among)
    {
        var option = new Option<string>(name) { Description = description, DefaultValueFactory = _ => standard };
        option.AcceptOnlyFromAmong([.. among]);
        return option;
    }

    private static int Run(
        string path, TimingStandard standard, (string Name, TapePlayed Played, string Words) tape, TimingModel model, double nsPerUnit, double? range, bool asJson, TextWriter output)
    {
        TimingFile file = TimingFile.Read(path, standard, nsPerUnit);
        (double, double)? ends = range is { } end ? (-end * nsPerUnit, end * nsPerUnit) : null;
        Answer<TimingDecomposition> answer = TimingFit.Decompose(file.Samples, model, ends);
        if (!answer.IsKnown)
        {
            throw new CommandException(ExitCode.NotSound, $"{path}: {answer.Missing}. Nothing can be told from this record.");
        }

        TimingDecomposition found = answer.Value;
        if (asJson)
        {
            output.WriteLine(TimingJson.Of(Path.GetFileName(path), tape.Name, file, found, tape.Played));
            return ExitCode.Done;
        }

        output.WriteLine($"{Path.GetFileName(path)}: {standard.Name}, {file.What}.");
        output.WriteLine($"Played is {tape.Words}.");
        output.WriteLine();
        Terms(output, found);
        Bearing(output, file, found);
        foreach (string note in file.Notes.Concat(found.Notes.Select(n => n.Text)))
        {
            output.WriteLine($"Note: {note}");
        }

        Advice(output, found, tape.Played);
        output.WriteLine();
        output.WriteLine(Caution);
        return ExitCode.Done;
    }

    private static void Terms(TextWriter output, TimingDecomposition found)
    {
        TimingTerms terms = found.Terms;
        TimingStandard standard = found.Standard;
        var rows = new List<string[]>
        {
            new[] { "mean", Ns(terms.Mean), "the wheel servo's, and 0.9 of any height" },
            new[] { "skew, end to end", Ns(terms.SkewPeakToPeakNs), $"p = {Guide(found.PenetrationMil)}, {(found.PenetrationMil.Value < 0 ? "guide IN" : "guide OUT")}" },
            new[] { "scallop, sagitta", Ns(terms.SagittaNs), $"h = {Guide(found.HeightMil)}, {(found.HeightMil.Value < 0 ? "against" : "along")} the heads' motion" },
        };
        for (int head = 1; head <= 4; head++)
        {
            rows.Add(terms.Step(head) is { IsKnown: true } step
                ? [$"step of head {head}", Ns(step.Value), $"{Signed(step.Value.Value / standard.NsPerArcMinute, "0.000")} ± {step.Value.StandardUncertainty / standard.NsPerArcMinute:0.000} arc-minutes"]
                : [$"step of head {head}", "not told", terms.Step(head).Missing!.ToString()]);
        }

        for (int head = 1; head <= 4; head++)
        {
            if (terms.Slope(head) is { IsKnown: true } slope)
            {
                rows.Add([$"slope of head {head}", Ns(slope.Value), "a sign of tip projection, not a measure"]);
            }
        }

        if (terms.Model != TimingModel.PerHeadSlopes)
        {
            rows.Add(["once a revolution, sine", Ns(terms.RevolutionSine), "wheel servo"]);
            rows.Add(["once a revolution, cosine", Ns(terms.RevolutionCosine), "wheel servo"]);
        }

        TextTable.Write(output, ["term", "ns", "comes to"], rows);
        output.WriteLine();
        output.WriteLine($"Left over: {terms.ResidualRmsNs:0.00} ns rms of {terms.Points} points; noise {terms.NoiseNs:0.00} ns, correlation {terms.Correlation:0.00}; condition {found.Condition:0.0}.");
    }

    private static void Bearing(TextWriter output, TimingFile file, TimingDecomposition found)
    {
        if (BearingOf(file, found) is { } bearing)
        {
            output.WriteLine($"Repeats with the wheel and no term explains it: {bearing.SynchronousRmsNs:0.00} ns rms. Does not repeat (bearing, noise): {bearing.AsynchronousRmsNs:0.00} ns rms.");
            output.WriteLine(bearing.HalfSpeed.IsKnown ? $"Near half speed: {bearing.HalfSpeed.Value}." : $"Near half speed: not told ({bearing.HalfSpeed.Missing}).");
        }
    }

    /// <summary>Null where there are too few revolutions to hold against each other.</summary>
    internal static BearingReading? BearingOf(TimingFile file, TimingDecomposition found)
    {
        if (file.Revolutions.Count < 3 || TimingDecomposer.For(file.Samples, found.Terms.Model) is not { IsKnown: true } decomposer)
        {
            return null;
        }

        Answer<BearingReading> reading = BearingResidual.Split(
            file.Standard, decomposer.Value, file.Samples.Heads, file.Samples.AnglesDegrees, file.Revolutions, file.IsEveryRevolution);
        return reading.IsKnown ? reading.Value : null;
    }

    private static void Advice(TextWriter output, TimingDecomposition found, TapePlayed played)
    {
        Answer<IReadOnlyList<GuideAdviceItem>> advice = GuideAdvice.For(found, played);
        output.WriteLine();
        if (!advice.IsKnown)
        {
            output.WriteLine("Nothing to turn can be told: a recording of this machine played on it unmoved shows neither guide nor heads. Play a reference tape.");
            return;
        }

        output.WriteLine("What to do:");
        foreach (GuideAdviceItem item in advice.Value)
        {
            output.WriteLine($"- {item.Text}");
        }
    }

    private static string Ns(Uncertain value) => $"{Signed(value.Value, "0.0")} ± {value.StandardUncertainty:0.0}";

    private static string Guide(Uncertain mil) =>
        $"{Signed(mil.Value, "0.0000")} ± {mil.StandardUncertainty:0.0000} mil ({Signed(mil.Value * TimingStandard.MicrometresPerMil, "0.0")} µm)";

    /// <summary>With its sign, and 0 without one.</summary>
    private static string Signed(double value, string format)
    {
        string text = Math.Abs(value).ToString(format, CultureInfo.InvariantCulture);
        return text.Any(c => c is >= '1' and <= '9') ? (value < 0 ? "-" : "+") + text : text;
    }
}
