using System.CommandLine;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Reports;
using DriftWatch.Reports.Plots;
using DriftWatch.Running;

namespace DriftWatch.Cli;

/// <summary><c>driftwatch plot</c>: channels of a store or a recording as a picture.</summary>
internal static class PlotCommand
{
    public static Command Create()
    {
        Argument<string> source = SourceArguments.Source();
        var output = new Option<string>("--out")
        {
            Description = "The picture to write: NAME.png or NAME.svg.",
            HelpName = "FILE",
            Required = true,
        };
        Option<string[]> channels = SourceArguments.Channels();
        Option<long?> from = SourceArguments.From();
        Option<long?> to = SourceArguments.To();
        var findings = new Option<string?>("--findings")
        {
            Description = "Finding lines (JSON Lines, as judge writes them) to be drawn as spans and listed beneath. Default: the store's own, and none for a log or a recording.",
            HelpName = "FILE",
        };
        Option<string> zone = SourceArguments.Zone("The zone of the time axis");
        Option<int?> width = SourceArguments.Whole("--width", "Width of the picture in pixels, 600 to 8000. Default: 1600.", 600, 8000, "PIXELS");
        Option<int?> panel = SourceArguments.Whole("--panel-height", "Height of one channel's panel in pixels, 120 to 2000. Default: 230.", 120, 2000, "PIXELS");
        Option<string?> bench = SourceArguments.Bench();
        Option<bool> ignore = SourceArguments.IgnoreUnknown();
        Option<string[]> profiles = SourceArguments.Profiles();
        var command = new Command(
            "plot",
            "Draws channels over a span of time as a picture (PNG or SVG): one panel a channel, with least and greatest, limits, "
            + "faults, gaps and, on request, findings.")
        {
            source, output, channels, from, to, findings, zone, width, panel, bench, ignore, profiles,
        };
        command.SetAction((parsed, cancel) => RunAsync(
            new Job(
                parsed.GetRequiredValue(source), parsed.GetRequiredValue(output), SourceArguments.Ids(parsed.GetValue(channels)),
                parsed.GetValue(from), parsed.GetValue(to), parsed.GetValue(findings),
                new PlotStyle
                {
                    Width = parsed.GetValue(width) ?? 1600,
                    PanelHeight = parsed.GetValue(panel) ?? 230,
                    Zone = SourceArguments.ZoneOf(parsed.GetValue(zone)!),
                },
                parsed.InvocationConfiguration.Error),
            parsed.GetValue(bench),
            parsed.GetValue(ignore),
            parsed.GetValue(profiles),
            cancel));
        return command.WithHelp(
            notSound: null,
            new HelpExample("driftwatch plot bench-data/annex --channels regulated-air,guide-vacuum --from 2026-03-01T21:00:00Z --to 2026-03-01T22:30:00Z --out transfer.png", "two channels of one transfer"),
            new HelpExample("driftwatch judge night.csv.gz --out found.jsonl && driftwatch plot night.csv.gz --findings found.jsonl --out night.svg", "a recorded night with what was found in it"));
    }

    internal sealed record Job(
        string Source, string Output, IReadOnlyList<string> Channels, long? From, long? To, string? Findings, PlotStyle Style, TextWriter Error);

    internal static async Task<int> RunAsync(Job job, string? benchFile, bool ignoreUnknown, string[]? profiles, CancellationToken cancel)
    {
        bool isSvg = job.Output.EndsWith(".svg", StringComparison.OrdinalIgnoreCase);
        if (!isSvg && !job.Output.EndsWith(".png", StringComparison.OrdinalIgnoreCase))
        {
            throw new CommandException(ExitCode.Usage, $"the ending of '{job.Output}' tells no kind of picture; write NAME.png or NAME.svg");
        }

        using IInputSource opened = SourceArguments.Open(job.Source, benchFile, ignoreUnknown, profiles);
        IReadOnlyList<FindingLine> findings = job.Findings is not null ? ReadFindings(job.Findings)
            : opened is StoreSource store ? [.. store.Findings()]
            : [];
        (BenchDefinition bench, IReadOnlyList<ChannelDefinition> channels, IInputSource feed) = SourceArguments.Select(opened, job.Source, job.Channels);
        feed = AppliedBack.Over(opened, feed);
        PlotData data = await WorkProgress.RunAsync(
            "reading", progress => Task.FromResult(PlotData.Read(feed, bench, channels, job.From, job.To, findings, progress, cancel)))
            ?? throw new CommandException(ExitCode.BadInput, $"{job.Source}: no reading lies in that span; nothing was drawn");
        var plot = new BenchPlot(data, job.Style);
        WholeFile.Write(job.Output, file =>
        {
            if (isSvg)
            {
                plot.WriteSvg(file);
            }
            else
            {
                plot.WritePng(file);
            }
        });

        foreach (string notice in feed.Notices)
        {
            job.Error.WriteLine(notice);
        }

        job.Error.WriteLine($"Drew {data.Traces.Count} channels and {data.Findings.Count} findings to {job.Output} ({plot.Width}×{plot.Height} pixels).");
        return ExitCode.Done;
    }

    private static List<FindingLine> ReadFindings(string path)
    {
        var lines = new List<FindingLine>();
        int number = 0;
        foreach (string line in File.ReadLines(path))
        {
            number++;
            if (string.IsNullOrWhiteSpace(line))
            {
                continue;
            }

            try
            {
                lines.Add(FindingJson.Read(System.Text.Encoding.UTF8.GetBytes(line)));
            }
            catch (Exception exception) when (exception is FormatException or System.Text.Json.JsonException or KeyNotFoundException or InvalidOperationException)
            {
                throw new CommandException(ExitCode.BadInput, $"{path}({number}): this is no finding line; give a file that 'driftwatch judge' wrote");
            }
        }

        return lines;
    }
}
