using System.CommandLine;
using DriftWatch.Configuration;
using DriftWatch.Configuration.Keys;
using DriftWatch.Mirror;

namespace DriftWatch.Cli;

/// <summary><c>driftwatch check</c>: is this bench file sound, and what does it come to?</summary>
public static class CheckCommand
{
    public static Command Create()
    {
        var bench = new Argument<string?>("BENCH")
        {
            Description = "The bench file (TOML).",
            Arity = ArgumentArity.ZeroOrOne,
        };
        Option<string[]> profiles = SourceArguments.Profiles();
        var schema = new Option<bool>("--schema")
        {
            Description = "Print the JSON Schema of bench files and do nothing else.",
        };
        var quiet = new Option<bool>("--quiet", "-q")
        {
            Description = "Print mistakes only, no summary of a sound bench.",
        };
        var offline = new Option<bool>("--offline")
        {
            Description = "Read the file only; do not try the routes of notices and the mirrors.",
        };
        var strict = new Option<bool>("--strict")
        {
            Description = "End with 1 for a warning too.",
        };
        var command = new Command(
            "check",
            "Reads a bench file with the profiles it names and prints every mistake at once as file(line,col): what; remedy. "
            + "A sound bench is summed up: its channels, their inputs, and every limit with its source. Routes of notices are tried as far as "
            + "that goes without telling anybody; one that does not work is a warning, because watching goes on without it; so is a mirror whose server does not take a point that says that somebody tried.")
        {
            bench, profiles, schema, quiet, offline, strict,
        };
        command.Validators.Add(result =>
        {
            if (!result.GetValue(schema) && string.IsNullOrEmpty(result.GetValue(bench)))
            {
                result.AddError("Name the bench file: driftwatch check BENCH.");
            }
        });
        command.SetAction(async (parsed, cancel) =>
        {
            TextWriter output = parsed.InvocationConfiguration.Output;
            if (parsed.GetValue(schema))
            {
                output.Write(KeySchema.ReadBench());
                return ExitCode.Done;
            }

            (int code, LoadedBench? loaded) = Run(
                parsed.GetValue(bench)!,
                SourceArguments.FoldersOf(parsed.GetValue(profiles)),
                parsed.GetValue(quiet),
                output,
                parsed.InvocationConfiguration.Error);
            return loaded is null
                ? code
                : await WarnAsync(loaded, parsed.GetValue(offline), parsed.GetValue(strict), output, parsed.InvocationConfiguration.Error, cancel);
        });
        return command.WithHelp(
            notSound: "the bench file has mistakes, or with --strict warnings; each was printed",
            new HelpExample("driftwatch check annex.toml", "every mistake, or what the bench is"),
            new HelpExample("driftwatch check --schema > bench.schema.json", "the JSON Schema of bench files, for an editor"));
    }

    /// <summary>Mistakes and summary go to <paramref name="output"/>; what is said about them to <paramref name="error"/>.</summary>
    internal static (int Code, LoadedBench? Bench) Run(string path, IReadOnlyList<string> folders, bool quiet, TextWriter output, TextWriter error)
    {
        if (!File.Exists(path))
        {
            error.WriteLine($"There is no bench file '{path}'. Check the path.");
            return (ExitCode.BadInput, null);
        }

        if (BenchFile.WhyUnreadable(path) is { } why)
        {
            error.WriteLine($"The bench file '{path}' can't be read: {why.TrimEnd('.')}. Check its name, its owner and its rights.");
            return (ExitCode.BadInput, null);
        }

        BenchFileResult result = BenchFile.Load(path, folders);
        foreach (FileMistake mistake in result.Mistakes)
        {
            output.WriteLine(mistake.ToString());
        }

        if (result.Bench is null)
        {
            error.WriteLine(result.Mistakes.Count == 1 ? "1 mistake." : $"{result.Mistakes.Count} mistakes.");
            return (ExitCode.NotSound, null);
        }

        if (!quiet)
        {
            BenchSummary.Write(result.Bench, output);
        }

        return (ExitCode.Done, result.Bench);
    }

    private static async Task<int> WarnAsync(LoadedBench bench, bool offline, bool strict, TextWriter output, TextWriter error, CancellationToken cancel)
    {
        IReadOnlyList<string> warnings =
        [
            .. offline ? Words(bench.Notices.Warnings) : await NoticesCommand.CheckAsync(bench, cancel),
            .. Words(bench.Mirrors.Warnings),
            .. offline ? [] : await MirrorCheck.TryAsync(bench, cancel),
        ];
        foreach (string warning in warnings)
        {
            output.WriteLine(warning);
        }

        if (warnings.Count > 0)
        {
            error.WriteLine(warnings.Count == 1 ? "1 warning." : $"{warnings.Count} warnings.");
        }

        return warnings.Count > 0 && strict ? ExitCode.NotSound : ExitCode.Done;
    }

    private static IEnumerable<string> Words(IEnumerable<FileMistake> warnings) =>
        warnings.Select(w => NoticesCommand.Warning(w.File, w.Line, w.Column, w.What, w.Remedy));
}
