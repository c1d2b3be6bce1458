using System.CommandLine;
using System.CommandLine.Invocation;
using System.CommandLine.Parsing;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Storage;

namespace DriftWatch.Cli;

/// <summary>
/// Runs a command line to its exit code. Whatever goes wrong ends in one line on standard error and one of the
/// documented codes; a stack trace is no message for a person, and is only written when DRIFTWATCH_TRACE is 1.
/// </summary>
public static class CommandLineHost
{
    public static async Task<int> RunAsync(
        IReadOnlyList<string> arguments, TextWriter? output = null, TextWriter? error = null, CancellationToken cancel = default)
    {
        RootCommand root = DriftWatchCommand.Create();
        HelpText.Install(root);
        var configuration = new InvocationConfiguration
        {
            Output = output ?? Console.Out,
            Error = error ?? Console.Error,
            EnableDefaultExceptionHandler = false,
        };
        ParseResult parsed = root.Parse(arguments);
        try
        {
            if (parsed.Action is ParseErrorAction usage)
            {
                usage.ShowHelp = false;
                configuration.Output = configuration.Error; // suggestions are no result
                await parsed.InvokeAsync(configuration, cancel);
                configuration.Error.WriteLine($"'{HelpFor(parsed.CommandResult)}' tells how it is used.");
                return ExitCode.Usage;
            }

            return await parsed.InvokeAsync(configuration, cancel);
        }
        catch (Exception exception)
        {
            (int code, string line) = Explain(exception);
            configuration.Error.WriteLine(line);
            if (System.Environment.GetEnvironmentVariable("DRIFTWATCH_TRACE") == "1")
            {
                configuration.Error.WriteLine(exception);
            }

            return code;
        }
    }

    /// <summary>The exit code and the one line for a person.</summary>
    internal static (int Code, string Line) Explain(Exception exception) => exception switch
    {
        CommandException command => (command.Code, command.Message),
        RecordingException recording => (ExitCode.BadInput, recording.Message),
        StoreException { Trouble: StoreTrouble.Damaged or StoreTrouble.NewerSchema } store => (ExitCode.BadInput, store.Message),
        StoreException store => (ExitCode.Environment, store.Message),
        FileNotFoundException file => (ExitCode.BadInput, $"{file.FileName ?? "a file"}: there is no such file; check the path"),
        DirectoryNotFoundException folder => (ExitCode.BadInput, $"{folder.Message.TrimEnd('.')}; check the path"),
        InvalidDataException data => (ExitCode.BadInput, data.Message),
        UnauthorizedAccessException denied => (ExitCode.Environment, $"{denied.Message.TrimEnd('.')}; check who owns it and what you may do there"),
        IOException io => (ExitCode.Environment, io.Message),
        OperationCanceledException => (ExitCode.Stopped, "Stopped before it was done."),
        AggregateException { InnerExceptions.Count: 1 } aggregate => Explain(aggregate.InnerExceptions[0]),
        _ => (ExitCode.Internal,
            $"A fault of DriftWatch itself ({exception.GetType().Name}: {OneLine(exception.Message)}); please report it with the command line. DRIFTWATCH_TRACE=1 shows where."),
    };

    private static string OneLine(string text) => text.ReplaceLineEndings(" ");

    private static string HelpFor(CommandResult result)
    {
        string verbs = "";
        for (CommandResult? at = result; at is { Command: not RootCommand }; at = at.Parent as CommandResult)
        {
            verbs = $" {at.Command.Name}{verbs}";
        }

        return $"driftwatch{verbs} --help";
    }
}
