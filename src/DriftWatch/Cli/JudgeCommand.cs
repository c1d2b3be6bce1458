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
        var alarms = new Option<string?>("--alarms")
        {
            Description = "Where the lines of the alarm book go, as JSON Lines of format driftwatch.alarm/1. Default: nowhere.",
            HelpName = "FILE",
        };
        var compare = new Option<bool>("--compare")
        {
            Description = "With --bench or --recalibrated: instead of finding lines, the alarms that would have come beside those that came: kept, gone or new.",
        };
        Option<long?> from = SourceArguments.From();
        from.Description = "With --compare: alarms from here on; of a store, reading begins two hours before. UTC, as 2026-03-01T21:00:00Z or 2026-03-01.";
        Option<long?> to = SourceArguments.To();
        to.Description = "With --compare: alarms before this instant.";
        var recalibrated = new Option<bool>("--recalibrated")
        {
            Description = "Of a store: judges past readings with the calibrations that were applied back to them. Each line names them in 'recalibrated'; the findings of the day stay as they are.",
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
            recording, bench, output, alarms, compare, recalibrated, from, to, ignore, failOn, profiles,
        };
        command.SetAction((parsed, cancel) =>
        {
            string source = parsed.GetRequiredValue(recording);
            if (parsed.GetValue(alarms) is { } file && Path.GetFullPath(file) == Path.GetFullPath(source))
            {
                throw new CommandException(ExitCode.Usage, "--alarms is the recording itself; name another file");
            }

            if (parsed.GetValue(recalibrated) && parsed.GetValue(bench) is not null)
            {
                throw new CommandException(ExitCode.Usage, "--recalibrated judges by the store's own bench, because another bench file brings calibrations of its own; leave out --bench");
            }

            if (parsed.GetValue(compare))
            {
                if (parsed.GetValue(output) is not null || parsed.GetValue(failOn) is not null)
                {
                    throw new CommandException(ExitCode.Usage, "--compare writes no finding lines; leave out --out and --fail-on, or judge once more without --compare");
                }

                return JudgeComparison.RunAsync(
                    new JudgeComparison.Asked(
                        source, parsed.GetValue(bench), parsed.GetValue(alarms), parsed.GetValue(from), parsed.GetValue(to), parsed.GetValue(ignore), parsed.GetValue(profiles), parsed.GetValue(recalibrated)),
                    parsed.InvocationConfiguration.Output,
                    parsed.InvocationConfiguration.Error,
                    cancel);
            }

            return parsed.GetValue(from) is not null || parsed.GetValue(to) is not null
                ? throw new CommandException(ExitCode.Usage, "--from and --to belong to --compare")
                : RunAsync(
                    source,
                    parsed.GetValue(bench),
                    parsed.GetValue(output),
                    parsed.GetValue(alarms),
                    parsed.GetValue(recalibrated),
                    parsed.GetValue(ignore),
                    parsed.GetValue(failOn),
                    parsed.GetValue(profiles),
                    parsed.InvocationConfiguration.Error,
                    cancel);
        });
        return command.WithHelp(
            notSound: "--fail-on was met",
            new HelpExample("driftwatch judge replay-data/tape-lift/recording.csv.gz --out findings.jsonl", "judges a recording with the bench.toml beside it"),
            new HelpExample("driftwatch judge night.dwlog.gz --bench tighter.toml", "what other limits would have found that night"),
            new HelpExample("driftwatch judge driftwatch-data/practice --bench tighter.toml --compare --from 2026-03-01T20:00:00Z", "which alarms of last night would have come, gone or stayed"),
            new HelpExample("driftwatch judge night.dwlog.gz --fail-on alarm --out findings.jsonl", "for scripts: returns 1 if anything alarmed"));
    }

    /// <exception cref="CommandException">Nothing was applied back in it.</exception>
    internal static AppliedBack Recalibrated(IInputSource opened, string recording) =>
        AppliedBack.Over(opened, opened) as AppliedBack
        ?? throw new CommandException(ExitCode.BadInput, $"{recording}: no calibration was applied back to readings of this store; 'driftwatch calibrations' lists what there is");

    private static async Task<int> RunAsync(
        string recording, string? benchFile, string? output, string? alarms, bool recalibrated, bool ignoreUnknown, string? failOn, string[]? profiles, TextWriter error, CancellationToken cancel)
    {
        if (output is not null && Path.GetFullPath(output) == Path.GetFullPath(recording))
        {
            throw new CommandException(ExitCode.Usage, "--out is the recording itself; name another file");
        }

        IInputSource opened = SourceArguments.Open(recording, benchFile, ignoreUnknown, profiles);
        using IInputSource source = recalibrated ? Recalibrated(opened, recording)
            : benchFile is not null && opened is not CsvSource
            ? new OtherBench(opened, SourceArguments.LoadBench(recording, benchFile, profiles, keys: null))
            : opened;
        long started = Stopwatch.GetTimestamp();
        JudgeSummary summary;
        await using (var stream = new BufferedStream(output is null ? Console.OpenStandardOutput() : File.Create(output), 64 * 1024))
        await using (Stream? book = alarms is null ? null : new BufferedStream(File.Create(alarms), 64 * 1024))
        {
            // A bar beside lines on the same terminal would be torn by them.
            bool linesOnTerminal = output is null && !Console.IsOutputRedirected;
            summary = linesOnTerminal
                ? JudgePass.Run(source, stream, progress: null, book, cancel)
                : await WorkProgress.RunAsync(
                    "judging", progress => Task.Run(() => JudgePass.Run(source, stream, progress, book, cancel), cancel));
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
