using System.CommandLine;
using System.Diagnostics;
using DriftWatch.Acquisition.PracticeRig;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using Spectre.Console;
using Command = System.CommandLine.Command;

namespace DriftWatch.Cli;

/// <summary><c>driftwatch rehearse</c>: the practice rig, faster than real time, into a recording.</summary>
internal static class RehearseCommand
{
    private const string DefaultStart = "2026-01-15T08:00:00.000Z";

    /// <summary>Source: our own choice; a longer rehearsal is a mistyped number.</summary>
    private const double LongestHours = 24 * 366;

    public static Command Create()
    {
        var output = new Option<FileInfo>("--out")
        {
            Description = "The recording to write: .dwlog.gz is the exact log of inputs, .csv or .csv.gz a table in engineering units.",
        };
        var script = new Option<string>("--script")
        {
            Description = $"What happens: {string.Join(", ", RigScripts.Names)}, or the path of a script file. Default: what the bench file names.",
        };
        var seed = new Option<ulong?>("--seed")
        {
            Description = "The rig's hidden parameters, noise and nuisances; the same seed gives the same bytes. Default: what the bench file names.",
        };
        var hours = new Option<double?>("--hours") { Description = "Length of the recording. Default: the script's own length." };
        var rate = new Option<double?>("--rate")
        {
            Description = "Readings a second of every series; a slower channel stays as it is. Default: the periods of the bench file.",
        };
        var start = new Option<string>("--start")
        {
            Description = "UTC of the first instant, such as 2026-01-15T08:00:00Z.",
            DefaultValueFactory = _ => DefaultStart,
        };
        var bench = new Option<FileInfo>("--bench") { Description = "The bench file. Default: the practice bench that comes with the program." };
        Option<string[]> profiles = SourceArguments.Profiles();
        var print = new Option<string>("--print-script")
        {
            Description = "Print one of the scripts that come with the program, to start one's own from, and do nothing else.",
        };
        var command = new Command(
            "rehearse",
            "Makes a recording with the practice rig, faster than real time: a night that never was, to learn on or to try limits on.")
        {
            output, script, seed, hours, rate, start, bench, print, profiles,
        };
        command.SetAction((parse, cancel) => Task.Run(
            () => parse.GetValue(print) is { } name
                ? Print(name)
                : Run(
                    new Request(
                        parse.GetValue(output), parse.GetValue(script), parse.GetValue(seed), parse.GetValue(hours),
                        parse.GetValue(rate), parse.GetValue(start)!, parse.GetValue(bench), parse.GetValue(profiles)),
                    cancel),
            cancel));
        return command.WithHelp(
            notSound: null,
            new HelpExample("driftwatch rehearse --script head-clog --seed 7 --out clog.csv.gz", "a transfer in which heads clog, as a table with a column a channel"),
            new HelpExample("driftwatch rehearse --script sound-transfer --hours 1.5 --out sound.dwlog.gz", "a sound transfer, as the exact log that judge replays"),
            new HelpExample("driftwatch rehearse --print-script tour > mine.txt", "a script to begin one's own from"));
    }

    private static int Print(string name)
    {
        if (RigScripts.TextOf(name) is { } text)
        {
            Console.Out.WriteLine(text);
            return ExitCode.Done;
        }

        Console.Error.WriteLine($"There is no script '{name}'; write one of {string.Join(", ", RigScripts.Names)}.");
        return ExitCode.Usage;
    }

    private static int Run(Request request, CancellationToken cancel)
    {
        if (request.Mistake() is { } mistake)
        {
            Console.Error.WriteLine(mistake);
            return ExitCode.Usage;
        }

        string benchPath = request.Bench?.ToString() ?? Path.Combine(AppContext.BaseDirectory, "device-profiles", "practice-rig", "bench.toml");
        BenchFileResult result = BenchFile.Load(benchPath, SourceArguments.FoldersOf(request.Profiles));
        if (result.Bench is null)
        {
            foreach (FileMistake wrong in result.Mistakes)
            {
                Console.Error.WriteLine(wrong);
            }

            return ExitCode.BadInput;
        }

        try
        {
            BenchDefinition definition = AtRate(result.Bench.Definition, request.Rate);
            RigScript? script = request.Script is null ? null : RigScripts.Load(request.Script);
            var recorder = new RigRecorder(definition, script, request.Seed, request.StartUtcNanoseconds);
            TimeSpan length = request.Hours is { } h ? TimeSpan.FromHours(h) : TimeSpan.FromSeconds(recorder.Script.LengthSeconds);
            Write(request.Output!, definition, recorder, length, cancel);
            return ExitCode.Done;
        }
        catch (Exception exception) when (exception is RigScriptException or ArgumentException)
        {
            Console.Error.WriteLine(exception.Message);
            return ExitCode.BadInput;
        }
        catch (Exception exception) when (exception is IOException or UnauthorizedAccessException)
        {
            Console.Error.WriteLine($"{request.Output}: the recording can't be written: {exception.Message}");
            return ExitCode.Environment;
        }
    }

    private static void Write(FileInfo output, BenchDefinition bench, RigRecorder recorder, TimeSpan length, CancellationToken cancel)
    {
        long started = Stopwatch.GetTimestamp();
        long readings = WithProgress(report =>
        {
            using IInputTarget target = IsLog(output.Name) ? new LogTarget(output.ToString()) : new CsvTarget(output.ToString(), bench);
            long count = 0;
            foreach (EngineInput input in recorder.Record(length))
            {
                target.Write(input);
                if (input.Kind == InputKind.Tick && input.Number % 64 == 0)
                {
                    cancel.ThrowIfCancellationRequested();
                    report(input.Time.Seconds / length.TotalSeconds);
                }

                count += input.Kind is InputKind.Sample or InputKind.Fault or InputKind.Frame ? 1 : 0;
            }

            target.Complete();
            return count;
        });

        TimeSpan took = Stopwatch.GetElapsedTime(started);
        Console.Error.WriteLine(
            $"Rehearsed '{recorder.Script.Name}' for {length.TotalHours:0.##} h: {readings:N0} readings in {took.TotalSeconds:0.0} s, written to {output}.");
    }

    private static BenchDefinition AtRate(BenchDefinition bench, double? rate)
    {
        if (rate is not { } perSecond)
        {
            return bench;
        }

        var period = TimeSpan.FromMilliseconds(Math.Round(1000 / perSecond));
        return bench with
        {
            Channels =
            [
                .. bench.Channels.Select(c => c.Kind == ChannelKind.Series && c.Period < period ? c with { Period = period } : c),
            ],
        };
    }

    private static bool IsLog(string name) =>
        name.EndsWith(".dwlog.gz", StringComparison.OrdinalIgnoreCase) || name.EndsWith(".dwlog", StringComparison.OrdinalIgnoreCase);

    private static bool IsCsv(string name) =>
        name.EndsWith(".csv.gz", StringComparison.OrdinalIgnoreCase) || name.EndsWith(".csv", StringComparison.OrdinalIgnoreCase);

    private static long WithProgress(Func<Action<double>, long> run)
    {
        if (Console.IsErrorRedirected)
        {
            return run(_ => { });
        }

        IAnsiConsole console = AnsiConsole.Create(new AnsiConsoleSettings { Out = new AnsiConsoleOutput(Console.Error) });
        return console.Progress().AutoClear(true).Start(context =>
        {
            ProgressTask task = context.AddTask("rehearsing", maxValue: 1);
            return run(done => task.Value = done);
        });
    }

    private sealed record Request(FileInfo? Output, string? Script, ulong? Seed, double? Hours, double? Rate, string Start, FileInfo? Bench, string[]? Profiles)
    {
        /// <summary>Only once <see cref="Mistake"/> has found nothing.</summary>
        public long StartUtcNanoseconds => UtcText.TryParse(Start, out long utc) ? utc : 0;

        public string? Mistake() =>
            Output is null ? "No file to write; name one with --out, such as --out night.csv.gz."
            : !IsLog(Output.Name) && !IsCsv(Output.Name) ? $"{Output}: a recording ends in .dwlog.gz, .csv.gz or .csv."
            : Hours is { } h && !(h is > 0 and <= LongestHours) ? $"--hours {h}: write a number above 0, at most {LongestHours}."
            : Rate is { } r && !(r is > 0 and <= 100) ? $"--rate {r}: write readings a second, above 0 and at most 100."
            : !UtcText.TryParse(Start, out _) ? $"--start {Start}: write UTC such as {DefaultStart}."
            : null;
    }

    private interface IInputTarget : IDisposable
    {
        void Write(in EngineInput input);

        void Complete();
    }

    private sealed class CsvTarget(string path, BenchDefinition bench) : IInputTarget
    {
        private readonly RigCsv _csv = new(path, bench);

        public void Write(in EngineInput input) => _csv.Write(input);

        public void Complete() => _csv.Complete();

        public void Dispose() => _csv.Dispose();
    }

    /// <summary>The log appears whole or not at all.</summary>
    private sealed class LogTarget : IInputTarget
    {
        private readonly string _path;
        private readonly string _temporary;
        private readonly EngineLogWriter _writer;
        private bool _isOpen = true;

        public LogTarget(string path)
        {
            _path = path;
            _temporary = path + ".part";
            var file = new FileStream(_temporary, FileMode.Create, FileAccess.Write, FileShare.None, 1 << 16);
            _writer = new EngineLogWriter(file, gzip: path.EndsWith(".gz", StringComparison.OrdinalIgnoreCase));
        }

        public void Write(in EngineInput input) => _writer.Write(input);

        public void Complete()
        {
            _writer.Complete();
            _isOpen = false;
            _writer.Dispose();
            File.Move(_temporary, _path, overwrite: true);
        }

        public void Dispose()
        {
            if (_isOpen)
            {
                _isOpen = false;
                _writer.Dispose();
                File.Delete(_temporary);
            }
        }
    }
}
