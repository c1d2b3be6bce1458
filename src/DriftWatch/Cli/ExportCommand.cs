using System.CommandLine;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Reports;
using DriftWatch.Running;
using Command = System.CommandLine.Command;

namespace DriftWatch.Cli;

/// <summary><c>driftwatch export</c>: a store, a log or a recording into a file that other tools read.</summary>
internal static class ExportCommand
{
    public static Command Create()
    {
        Argument<string> source = SourceArguments.Source();
        var format = new Option<string>("--format")
        {
            Description = "csv: plain recording in engineering units, one row an instant. parquet: the same as a Parquet table. "
                + "log: the exact recording, every input as it was judged; replays byte for byte. "
                + "fleet: Parquet in the same columns for every bench, a row a reading and a file a month, below the folder --out; so that one question goes over the years of many benches. "
                + "findings: the finding lines of a store as they were told, JSON Lines. Default: by the ending of --out.",
            HelpName = "FORMAT",
        };
        format.AcceptOnlyFromAmong("csv", "parquet", "fleet", "log", "findings");
        var output = new Option<string>("--out")
        {
            Description = "The file to write: NAME.csv, NAME.csv.gz, NAME.parquet, NAME.dwlog.gz or NAME.jsonl; for fleet the folder of all benches. A file appears only once it is whole.",
            HelpName = "FILE",
            Required = true,
        };
        Option<string[]> channels = SourceArguments.Channels();
        Option<long?> from = SourceArguments.From();
        Option<long?> to = SourceArguments.To();
        Option<int?> decimals = SourceArguments.Whole(
            "--decimals", "CSV: decimal places to round to, 0 to 15. Default: as many as read back to the same number.", 0, 15, "PLACES");
        var extremes = new Option<bool>("--extremes")
        {
            Description = "CSV and Parquet: add id.min and id.max, the least and the greatest inside each period.",
        };
        var site = new Option<string?>("--site") { Description = "fleet: what stands in the column site. Default: nothing.", HelpName = "NAME" };
        Option<string?> bench = SourceArguments.Bench();
        Option<bool> ignore = SourceArguments.IgnoreUnknown();
        Option<string[]> profiles = SourceArguments.Profiles();
        var command = new Command(
            "export",
            "Writes what a bench recorded into a file for other tools (CSV or Parquet, in engineering units) or for an exact "
            + "replay (the log). Frames go to a file of their own beside it, NAME.CHANNEL.frames.csv or .parquet.")
        {
            source, output, format, channels, from, to, decimals, extremes, site, bench, ignore, profiles,
        };
        command.SetAction((parsed, cancel) =>
        {
            var job = new Job(
                parsed.GetRequiredValue(source),
                parsed.GetRequiredValue(output),
                FormatOf(parsed.GetValue(format), parsed.GetRequiredValue(output)),
                SourceArguments.Ids(parsed.GetValue(channels)),
                parsed.GetValue(from),
                parsed.GetValue(to),
                parsed.GetValue(decimals),
                parsed.GetValue(extremes),
                parsed.GetValue(site),
                parsed.InvocationConfiguration.Error);
            return RunAsync(job, parsed.GetValue(bench), parsed.GetValue(ignore), parsed.GetValue(profiles), cancel);
        });
        return command.WithHelp(
            notSound: null,
            new HelpExample("driftwatch export bench-data/annex --out night.csv.gz --from 2026-03-01T20:00:00Z --to 2026-03-02T06:00:00Z", "one night of every channel, for any tool"),
            new HelpExample("driftwatch export bench-data/annex --out air.parquet --channels regulated-air,supply-air", "two channels as a Parquet table"),
            new HelpExample("driftwatch export bench-data/annex --format fleet --out fleet --from 2026-01-01T00:00:00Z --to 2027-01-01T00:00:00Z", "a year of a bench beside those of the others: fleet/annex/readings-2026-01.parquet and so on"),
            new HelpExample("driftwatch export bench-data/annex --out all.dwlog.gz", "the exact log, to be judged again"));
    }

    internal sealed record Job(
        string Source, string Output, string Format, IReadOnlyList<string> Channels, long? From, long? To, int? Decimals, bool Extremes, string? Site, TextWriter Error);

    internal static async Task<int> RunAsync(Job job, string? benchFile, bool ignoreUnknown, string[]? profiles, CancellationToken cancel)
    {
        if (job.Format == "log" && (job.Channels.Count > 0 || job.From is not null || job.To is not null))
        {
            throw new CommandException(
                ExitCode.Usage, "a log is exact only as a whole: --channels, --from and --to go with csv and parquet");
        }

        if (job.Site is not null && job.Format != "fleet")
        {
            throw new CommandException(ExitCode.Usage, "--site is a column of --format fleet; the others have none");
        }

        if (job.Format == "findings")
        {
            long lines = WriteFindings(job, cancel);
            job.Error.WriteLine($"Exported {lines:N0} finding lines to {job.Output}.");
            return ExitCode.Done;
        }

        using IInputSource opened = SourceArguments.Open(job.Source, benchFile, ignoreUnknown, profiles);
        (BenchDefinition ofBench, IReadOnlyList<ChannelDefinition> channels, IInputSource feed) = SourceArguments.Select(opened, job.Source, job.Channels);
        if (job.Format == "log")
        {
            long inputs = await WorkProgress.RunAsync("exporting", progress => Task.FromResult(WriteLog(job, feed, progress, cancel)));
            Tell(job, feed, $"Exported {inputs:N0} inputs to {job.Output}.");
            return ExitCode.Done;
        }

        feed = AppliedBack.Over(opened, feed);
        IExportTarget target = job.Format switch
        {
            "csv" => new CsvExport(job.Output, channels, job.Decimals, job.Extremes),
            "fleet" => new FleetExport(job.Output, ofBench.Id, job.Site, channels),
            _ => await ParquetExport.CreateAsync(job.Output, channels, job.Extremes),
        };
        await using (target)
        {
            ExportSummary summary = await WorkProgress.RunAsync(
                "exporting",
                progress => new WideRows(channels, job.From ?? long.MinValue, job.To ?? long.MaxValue, target).RunAsync(feed, progress, cancel));
            if (summary.Rows + summary.Frames == 0)
            {
                throw new CommandException(ExitCode.BadInput, $"{job.Source}: no reading lies in that span; nothing was written");
            }

            if (target is FleetExport fleet && opened is StoreSource store)
            {
                foreach (AlarmTransition line in store.Alarms().Where(l => l.AtUtc >= (job.From ?? long.MinValue) && l.AtUtc < (job.To ?? long.MaxValue)))
                {
                    await fleet.AlarmAsync(line);
                }
            }

            await target.CompleteAsync();
            if (summary.LateLeftOut > 0)
            {
                job.Error.WriteLine($"{summary.LateLeftOut:N0} late readings came more than 10 s after their time and are only in the log (--format log).");
            }

            Tell(job, feed, $"Exported {summary.Rows:N0} rows, {summary.Values:N0} values, {summary.Faults:N0} faults and {summary.Frames:N0} frames to {job.Output}.");
        }

        return ExitCode.Done;
    }

    private static long WriteLog(Job job, IInputSource feed, IProgress<double>? progress, CancellationToken cancel)
    {
        long count = 0;
        WholeFile.Write(job.Output, file =>
        {
            using var writer = new EngineLogWriter(file, gzip: job.Output.EndsWith(".gz", StringComparison.OrdinalIgnoreCase));
            long before = -1;
            while (feed.TryRead(out EngineInput input))
            {
                if (before >= 0 && input.Number != before + 1)
                {
                    throw new CommandException(
                        ExitCode.BadInput,
                        $"{job.Source}: inputs {before + 1} to {input.Number - 1} are missing (a damaged file was set aside), and an exact log has no holes; export csv or parquet");
                }

                before = input.Number;
                writer.Write(input);
                if ((++count & 0xffff) == 0)
                {
                    cancel.ThrowIfCancellationRequested();
                    progress?.Report(feed.Progress);
                }
            }

            writer.Complete();
        });
        return count;
    }

    private static long WriteFindings(Job job, CancellationToken cancel)
    {
        if (!Directory.Exists(job.Source))
        {
            throw new CommandException(ExitCode.BadInput, $"{job.Source}: findings are exported from a store folder; judge a recording with 'driftwatch judge'");
        }

        long count = 0;
        WholeFile.Write(job.Output, file =>
        {
            using var store = new StoreSource(job.Source);
            using var buffered = new BufferedStream(file, 64 * 1024);
            foreach (FindingLine line in store.Findings())
            {
                cancel.ThrowIfCancellationRequested();
                FindingJson.Write(buffered, line);
                buffered.WriteByte((byte)'\n');
                count++;
            }
        });
        return count;
    }

    private static void Tell(Job job, IInputSource feed, string done)
    {
        foreach (string notice in feed.Notices)
        {
            job.Error.WriteLine(notice);
        }

        job.Error.WriteLine(done);
    }

    private static string FormatOf(string? format, string output) =>
        format
        ?? (output.EndsWith(".parquet", StringComparison.OrdinalIgnoreCase) ? "parquet"
            : output.EndsWith(".csv", StringComparison.OrdinalIgnoreCase) || output.EndsWith(".csv.gz", StringComparison.OrdinalIgnoreCase) ? "csv"
            : output.EndsWith(".dwlog", StringComparison.OrdinalIgnoreCase) || output.EndsWith(".dwlog.gz", StringComparison.OrdinalIgnoreCase) ? "log"
            : output.EndsWith(".jsonl", StringComparison.OrdinalIgnoreCase) ? "findings"
            : throw new CommandException(ExitCode.Usage, $"the ending of '{output}' tells no format; add --format csv, parquet, log or findings"));
}
