using System.CommandLine;
using System.Globalization;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Analysis.TimingGeometry;
using DriftWatch.Measuring;

namespace DriftWatch.Cli.Measuring;

/// <summary><c>driftwatch measure half-error</c>: the half-error rule as a guided loop, one visible error a line.</summary>
internal static class HalfErrorMeasurement
{
    public static Command Create()
    {
        var values = new Argument<string>("VALUES")
        {
            Description = "File of visible errors, one a line in ns, then, if it was not the advised one, a comma and the move made in mil; - is standard input.",
            DefaultValueFactory = _ => "-",
        };
        Option<string> standard = MeasureInput.Choice(TimingAid.Standard, TimingMeasurement.StandardWords);
        var procedure = new Option<string?>("--procedure") { Description = "How the error is made visible: new-recording, replay, archive. Asked for if not given." };
        procedure.AcceptOnlyFromAmong(HalfErrorAid.Procedure.Words);
        Option<string> adjust = MeasureInput.Choice(HalfErrorAid.Adjust, "in-out: errors are skew from end to end; height: sagitta of the scallop.");
        var error = new Option<double>("--standard-error") { Description = "Standard error of one visible error in ns, as 'measure timing' prints it.", Required = true };
        var gain = new Option<double>("--gain") { Description = "Share of the visible error that is moved: 0.5 is the rule, 0.25 is slower and quieter.", DefaultValueFactory = _ => HalfErrorAid.Gain.Standard!.Value };
        error.Validators.Add(result =>
        {
            if (!(result.GetValueOrDefault<double>() is > 0 and < 1e6))
            {
                result.AddError("--standard-error takes a number of ns above 0.");
            }
        });
        gain.Validators.Add(result =>
        {
            if (!HalfErrorAid.Gain.Allows(result.GetValueOrDefault<double>()))
            {
                result.AddError("--gain takes a number from 0.1 to 0.5; beyond half the loop overshoots.");
            }
        });
        var command = new Command(
            "half-error",
            "Guides through the half-error rule: tell the error that is seen in each new test recording, get the next move, what the knob is found to do, "
            + "how many more recordings it should take, and when to stop. For test recordings only: an archive's tape is never recorded on.")
        {
            values, standard, procedure, adjust, error, gain,
        };
        command.SetAction(parse =>
        {
            string path = parse.GetRequiredValue(values);
            Knob knob = Knob.Of(HalfErrorAid.Adjust.Of(parse.GetValue(adjust)), TimingAid.Standard.Of(parse.GetRequiredValue(standard)));
            using TextReader? file = path == "-" ? null : File.OpenText(path);
            return Run(
                file ?? Console.In, path == "-" ? "standard input" : path, path == "-" && !Console.IsInputRedirected, parse.GetValue(procedure),
                knob, parse.GetValue(error), parse.GetValue(gain), parse.InvocationConfiguration.Output);
        });
        return command.WithHelp(
            notSound: "the loop said stop before the error was gone, or the values ended first",
            new HelpExample("driftwatch measure half-error --standard 525 --standard-error 2", "asks for the procedure, then for one error after another"),
            new HelpExample("driftwatch measure half-error seen.txt --standard 525 --standard-error 2 --procedure new-recording --adjust in-out", "from a file"));
    }

    /// <param name="input">Where the lines come from.</param>
    /// <param name="name">What it is called in messages.</param>
    /// <param name="again">A person types: a mistake is said and asked for again.</param>
    /// <param name="procedure">Name of one of the procedures, or null: it is asked for.</param>
    /// <param name="knob">What is adjusted.</param>
    /// <param name="errorNs">Standard error of a reading.</param>
    /// <param name="gain">Share of the visible error that is moved.</param>
    /// <param name="output">Where the guidance goes.</param>
    internal static int Run(TextReader input, string name, bool again, string? procedure, Knob knob, double errorNs, double gain, TextWriter output)
    {
        var lines = new Lines(input, name, again, output);
        procedure ??= Ask(lines, output);
        HalfErrorLoop loop = HalfErrorAid.Begin(HalfErrorAid.Procedure.Of(procedure), knob, errorNs, gain);
        if (loop.Advice.State == HalfErrorState.Refused)
        {
            output.WriteLine(loop.Advice.Text);
            return ExitCode.NotSound;
        }

        output.WriteLine(Cautions.Wheel);
        output.WriteLine(HalfErrorAid.Threshold(loop, knob));
        while (loop.Advice.State is HalfErrorState.WaitsForFirst or HalfErrorState.Move)
        {
            output.Write($"Error seen in recording {loop.SeenMil.Count + 1}, ns: ");
            if (lines.Reading() is not { } reading)
            {
                output.WriteLine();
                output.WriteLine(loop.SeenMil.Count == 1
                    ? "The values ended after one recording; the error is not gone yet."
                    : $"The values ended after {loop.SeenMil.Count} recordings; the error is not gone yet.");
                return ExitCode.NotSound;
            }

            if (!again)
            {
                output.WriteLine(reading.Ns.ToString("0.###", CultureInfo.InvariantCulture));
            }

            HalfErrorAid.Tell(loop, knob, reading);
            foreach (string line in HalfErrorAid.Say(loop, knob))
            {
                output.WriteLine($"  {line}");
            }
        }

        return loop.Advice.State == HalfErrorState.Settled ? ExitCode.Done : ExitCode.NotSound;
    }

    private static string Ask(Lines lines, TextWriter output)
    {
        output.WriteLine("How is the error made visible?");
        foreach ((string option, string words) in HalfErrorAid.ProcedureWords)
        {
            output.WriteLine($"  {option}: {words}");
        }

        output.Write("Procedure: ");
        string? answer = lines.Word(HalfErrorAid.Procedure.Words);
        output.WriteLine();
        return answer ?? throw new CommandException(ExitCode.BadInput, $"{lines.Name}: no procedure was named; write --procedure {string.Join(", ", HalfErrorAid.Procedure.Words)}");
    }

    /// <summary>Lines of a file or of a person.</summary>
    private sealed class Lines(TextReader input, string name, bool again, TextWriter output)
    {
        private long _line;

        public string Name => name;

        public string? Word(string[] among)
        {
            while (Next() is { } text)
            {
                if (among.Contains(text, StringComparer.Ordinal))
                {
                    return text;
                }

                Mistake(1, $"'{text}' is none of {string.Join(", ", among)}", "write one of them");
            }

            return null;
        }

        public SeenError? Reading()
        {
            while (Next() is { } text)
            {
                string[] cells = text.Split(',', 2);
                if (!TryNumber(cells[0], out double ns))
                {
                    Mistake(1, $"'{cells[0].Trim()}' is no error in ns", "write a number with a point, such as -43.5");
                }
                else if (cells.Length == 1)
                {
                    return new SeenError(ns, null);
                }
                else if (TryNumber(cells[1], out double moved))
                {
                    return new SeenError(ns, moved);
                }
                else
                {
                    Mistake(cells[0].Length + 2, $"'{cells[1].Trim()}' is no move in mil", "write a number with a point, such as 0.25, or nothing behind the error");
                }
            }

            return null;
        }

        private static bool TryNumber(string text, out double value) =>
            double.TryParse(text.Trim(), NumberStyles.Float, CultureInfo.InvariantCulture, out value) && double.IsFinite(value);

        private string? Next()
        {
            while (input.ReadLine() is { } text)
            {
                _line++;
                if (text.Trim().Length > 0 && !text.StartsWith('#'))
                {
                    return text.Trim();
                }
            }

            return null;
        }

        private void Mistake(int column, string what, string remedy)
        {
            if (!again)
            {
                throw new RecordingException(name, _line, column, what, remedy);
            }

            output.Write($"{what}; {remedy}: ");
        }
    }
}
