using System.CommandLine;
using System.Diagnostics;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Running;
using Spectre.Console;

namespace DriftWatch.Cli;

/// <summary><c>driftwatch judge</c>: the judgement of a live run, over a recording, as fast as it can.</summary>
internal static class JudgeCommand
{
    public static Command Create()
    {
        var recording = new Argument<FileInfo>("RECORDING")
        {
            Description = "An exported log (.dwlog.gz), which carries its bench, or a plain recording (CSV, gzipped or not).",
        };
        var bench = new Option<FileInfo>("--bench")
        {
            Description = "The bench file. Default for a plain recording: bench.toml beside it. For a log it replaces the bench in the log: what would have been found with other limits.",
        };
        var output = new Option<FileInfo>("--out")
        {
            Description = "Where the finding lines go, as JSON Lines. Default: standard output.",
        };
        var ignore = new Option<bool>("--ignore-unknown-columns")
        {
            Description = "Skip columns of a plain recording that the bench does not know, instead of refusing them.",
        };
        var failOn = new Option<string>("--fail-on")
        {
            Description = "Return 1 when a finding of at least this severity was raised: advisory or alarm. Default: findings do not change the exit code.",
        };
        failOn.AcceptOnlyFromAmong("advisory", "alarm");
        var command = new Command(
            "judge",
            "Runs a recording through the judgement of a live run, as fast as it can, and writes what it finds as JSON Lines. "
            + "The same log gives the same lines, byte for byte, live or judged.")
        {
            recording, bench, output, ignore, failOn,
        };
        command.SetAction((parse, cancel) => Task.Run(
            () => Run(
                parse.GetRequiredValue(recording), parse.GetValue(bench), parse.GetValue(output), parse.GetValue(ignore), parse.GetValue(failOn), cancel),
            cancel));
        return command;
    }

    private static int Run(
        FileInfo recording, FileInfo? benchFile, FileInfo? output, bool ignoreUnknown, string? failOn, CancellationToken cancel)
    {
        if (!recording.Exists)
        {
            Console.Error.WriteLine($"{recording}: there is no such file; give the path of a recording.");
            return ExitCode.BadInput;
        }

        bool isLog = EngineLogReader.Recognises(recording.FullName);
        benchFile ??= isLog ? null : BenchBeside(recording);
        BenchDefinition? bench = null;
        if (benchFile is not null)
        {
            BenchFileResult result = BenchFile.Load(benchFile.ToString(), ProfileFolders.Default);
            if (result.Bench is null)
            {
                foreach (FileMistake mistake in result.Mistakes)
                {
                    Console.Error.WriteLine(mistake);
                }

                return ExitCode.BadInput;
            }

            bench = result.Bench.Definition;
        }

        if (!isLog && bench is null)
        {
            Console.Error.WriteLine($"{recording}: a plain recording is judged against a bench file, and there is no bench.toml beside it; name one with --bench.");
            return ExitCode.BadInput;
        }

        try
        {
            using IInputSource source = isLog
                ? new LogSource(recording.ToString(), bench)
                : new CsvSource(recording.ToString(), bench!, ignoreUnknown);
            JudgeSummary summary = JudgeTo(output, source, cancel);
            return failOn is not null && Slugs.TryParse(failOn, out Severity severity) && summary.Worst >= severity
                ? ExitCode.NotSound
                : ExitCode.Done;
        }
        catch (RecordingException bad)
        {
            Console.Error.WriteLine(bad.Message);
            return ExitCode.BadInput;
        }
    }

    private static JudgeSummary JudgeTo(FileInfo? output, IInputSource source, CancellationToken cancel)
    {
        long started = Stopwatch.GetTimestamp();
        JudgeSummary summary;
        using (var stream = new BufferedStream(output is null ? Console.OpenStandardOutput() : output.Create(), 64 * 1024))
        {
            summary = WithProgress(output is not null, progress => JudgePass.Run(source, stream, progress, cancel));
        }

        foreach (string notice in source.Notices)
        {
            Console.Error.WriteLine(notice);
        }

        TimeSpan took = Stopwatch.GetElapsedTime(started);
        string kinds = summary.RaisedByKind.Count == 0 ? "nothing" : string.Join(", ", summary.RaisedByKind.Select(k => $"{k.Value} {k.Key}"));
        Console.Error.WriteLine(
            $"Judged {summary.Readings:N0} readings and {summary.Faults:N0} faults in {took.TotalSeconds:0.0} s ({summary.Readings / took.TotalSeconds:N0} a second). Raised: {kinds}.");
        return summary;
    }

    /// <summary>A bar on a terminal; nothing where the output is a pipe or a file.</summary>
    private static JudgeSummary WithProgress(bool linesGoToFile, Func<IProgress<double>?, JudgeSummary> run)
    {
        if (Console.IsErrorRedirected || (!linesGoToFile && !Console.IsOutputRedirected))
        {
            return run(null); // a bar would be torn by the lines themselves
        }

        IAnsiConsole console = AnsiConsole.Create(new AnsiConsoleSettings { Out = new AnsiConsoleOutput(Console.Error) });
        return console.Progress().AutoClear(true).Start(context =>
        {
            ProgressTask task = context.AddTask("judging", maxValue: 1);
            return run(new Bar(task));
        });
    }

    private static FileInfo? BenchBeside(FileInfo recording)
    {
        var beside = new FileInfo(Path.Combine(Path.GetDirectoryName(recording.ToString()) ?? ".", "bench.toml"));
        return beside.Exists ? beside : null;
    }

    private sealed class Bar(ProgressTask task) : IProgress<double>
    {
        public void Report(double value) => task.Value = value;
    }
}
