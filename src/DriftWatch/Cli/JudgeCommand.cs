using System.CommandLine;
using System.Diagnostics;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Measurement.Channels;
using DriftWatch.Running;
using Command = System.CommandLine.Command;

namespace DriftWatch.Cli;

/// <summary><c>driftwatch judge</c>: the judgement of a live run, over a recording, as fast as it can.</summary>
internal static class JudgeCommand
{
    public static Command Create()
    {
        var recording = new Argument<string>("RECORDING")
        {
            Description = "An exported log (.dwlog.gz) or a store folder, which carry their bench, or a plain recording (CSV, gzipped or not).",
        };
        var bench = new Option<string?>("--bench")
        {
            Description = "The bench file. Default for a plain recording: bench.toml beside it. For a log or a store it replaces the bench that is in it: what other limits would have found.",
            HelpName = "FILE",
        };
        var output = new Option<string?>("--out")
        {
            Description = "Where the finding lines go, as JSON Lines. Default: standard output.",
            HelpName = "FILE",
        };
        Option<bool> ignore = SourceArguments.IgnoreUnknown();
        Option<string[]> profiles = SourceArguments.Profiles();
        var failOn = new Option<string?>("--fail-on")
        {
            Description = "Return 1 when a finding of at least this severity was raised. Default: findings do not change the exit code.",
            HelpName = "advisory|alarm",
        };
        failOn.AcceptOnlyFromAmong("advisory", "alarm");
        var command = new Command(
            "judge",
            "Runs a recording through the judgement of a live run, as fast as it can, and writes what it finds as JSON Lines. "
            + "The same log gives the same lines, byte for byte, live or judged.")
        {
            recording, bench, output, ignore, failOn, profiles,
        };
        command.SetAction((parsed, cancel) => RunAsync(
            parsed.GetRequiredValue(recording),
            parsed.GetValue(bench),
            parsed.GetValue(output),
            parsed.GetValue(ignore),
            parsed.GetValue(failOn),
            parsed.GetValue(profiles),
            parsed.InvocationConfiguration.Error,
            cancel));
        return command.WithHelp(
            notSound: "--fail-on was met",
            new HelpExample("driftwatch judge replay-data/tape-lift/recording.csv.gz --out findings.jsonl", "judges a recording with the bench.toml beside it"),
            new HelpExample("driftwatch judge night.dwlog.gz --bench tighter.toml", "what other limits would have found that night"),
            new HelpExample("driftwatch judge night.dwlog.gz --fail-on alarm --out findings.jsonl", "for scripts: returns 1 if anything alarmed"));
    }

    private static async Task<int> RunAsync(
        string recording, string? benchFile, string? output, bool ignoreUnknown, string? failOn, string[]? profiles, TextWriter error, CancellationToken cancel)
    {
        if (output is not null && Path.GetFullPath(output) == Path.GetFullPath(recording))
        {
            throw new CommandException(ExitCode.Usage, "--out is the recording itself; name another file");
        }

        IInputSource opened = SourceArguments.Open(recording, benchFile, ignoreUnknown, profiles);
        using IInputSource source = benchFile is not null && opened is not CsvSource
            ? new OtherBench(opened, SourceArguments.LoadBench(recording, benchFile, profiles, keys: null))
            : opened;
        long started = Stopwatch.GetTimestamp();
        JudgeSummary summary;
        await using (var stream = new BufferedStream(output is null ? Console.OpenStandardOutput() : File.Create(output), 64 * 1024))
        {
            // A bar beside lines on the same terminal would be torn by them.
            bool linesOnTerminal = output is null && !Console.IsOutputRedirected;
            summary = linesOnTerminal
                ? JudgePass.Run(source, stream, progress: null, cancel)
                : await WorkProgress.RunAsync(
                    "judging", progress => Task.Run(() => JudgePass.Run(source, stream, progress, cancel), cancel));
        }

        foreach (string notice in source.Notices)
        {
            error.WriteLine(notice);
        }

        TimeSpan took = Stopwatch.GetElapsedTime(started);
        string kinds = summary.RaisedByKind.Count == 0 ? "nothing" : string.Join(", ", summary.RaisedByKind.Select(k => $"{k.Value} {k.Key}"));
        error.WriteLine(
            $"Judged {summary.Readings:N0} readings and {summary.Faults:N0} faults in {took.TotalSeconds:0.0} s ({summary.Readings / took.TotalSeconds:N0} a second). Raised: {kinds}.");
        if (summary.Fastest is { } fastest)
        {
            error.WriteLine(string.Create(
                System.Globalization.CultureInfo.InvariantCulture,
                $"At the end {fastest.Label} used its tolerance fastest: {fastest.SlopePerHour:+0.###;-0.###} {fastest.Unit} an hour ({fastest.SlopePerHourLow:+0.###;-0.###} to {fastest.SlopePerHourHigh:+0.###;-0.###}), {fastest.UsedShare:P0} used, {fastest.MinutesLeft:0} min left."));
        }

        return failOn is not null && Slugs.TryParse(failOn, out Severity severity) && summary.Worst >= severity
            ? ExitCode.NotSound
            : ExitCode.Done;
    }
}
