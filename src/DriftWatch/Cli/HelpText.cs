using System.CommandLine;
using System.CommandLine.Help;
using System.CommandLine.Invocation;
using System.Runtime.CompilerServices;

namespace DriftWatch.Cli;

/// <summary>An example of a command with what it does.</summary>
public readonly record struct HelpExample(string CommandLine, string What);

/// <summary>
/// Adds to the library's help of a verb what a stranger needs beside the options: examples that can be typed as they
/// stand, and what each exit code means for this verb.
/// </summary>
public static class HelpText
{
    private const int Width = 100;

    private static readonly ConditionalWeakTable<Command, Footer> Footers = [];

    /// <summary>Gives a verb its examples and, where the verb uses it, the meaning of exit code 1. Returns the verb.</summary>
    public static Command WithHelp(this Command command, string? notSound, params HelpExample[] examples)
    {
        Footers.AddOrUpdate(command, new Footer(notSound, examples));
        return command;
    }

    /// <summary>Writes the exit codes as they hold for a verb.</summary>
    public static void WriteExitCodes(TextWriter output, string? notSound)
    {
        output.WriteLine("Exit codes:");
        output.WriteLine($"  {ExitCode.Done,3}  done");
        if (notSound is not null)
        {
            output.WriteLine($"  {ExitCode.NotSound,3}  {notSound}");
        }

        output.WriteLine($"  {ExitCode.Usage,3}  the command line is wrong");
        output.WriteLine($"  {ExitCode.BadInput,3}  a file is missing, unreadable or malformed");
        output.WriteLine($"  {ExitCode.Environment,3}  the surroundings refuse: no permission, port or folder in use, disk full");
        output.WriteLine($"  {ExitCode.Internal,3}  a fault of DriftWatch itself");
        output.WriteLine($"  {ExitCode.Stopped,3}  stopped by Ctrl-C or a signal before it was done");
    }

    /// <summary>Makes <c>--help</c> write the footers.</summary>
    internal static void Install(RootCommand root)
    {
        foreach (HelpOption option in root.Options.OfType<HelpOption>())
        {
            if (option.Action is HelpAction action)
            {
                action.MaxWidth = Width;
                option.Action = new FullHelp(action);
            }
        }
    }

    private sealed record Footer(string? NotSound, HelpExample[] Examples);

    private sealed class FullHelp(HelpAction inner) : SynchronousCommandLineAction
    {
        public override bool ClearsParseErrors => true;

        public override int Invoke(ParseResult parseResult)
        {
            inner.Invoke(parseResult);
            TextWriter output = parseResult.InvocationConfiguration.Output;
            Command command = parseResult.CommandResult.Command;
            if (command is RootCommand)
            {
                output.WriteLine("'driftwatch VERB --help' explains a verb, with examples.");
                output.WriteLine();
                WriteExitCodes(output, "the thing asked about is not sound; the verb's help says what that means");
                return ExitCode.Done;
            }

            Footers.TryGetValue(command, out Footer? footer);
            if (footer is { Examples.Length: > 0 })
            {
                output.WriteLine("Examples:");
                foreach (HelpExample example in footer.Examples)
                {
                    output.WriteLine($"  {example.CommandLine}");
                    output.WriteLine($"      {example.What}");
                }

                output.WriteLine();
            }

            WriteExitCodes(output, footer?.NotSound);
            return ExitCode.Done;
        }
    }
}
