using System.CommandLine;
using System.Runtime.InteropServices;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Reports;
using DriftWatch.Running;
using DriftWatch.Storage;
using Microsoft.Extensions.Logging.Abstractions;
using Command = System.CommandLine.Command;

namespace DriftWatch.Cli;

/// <summary><c>driftwatch import</c>: a recording into a new store, a log to the bit.</summary>
internal static class ImportCommand
{
    private const int BatchSize = 20_000;

    public static Command Create()
    {
        var recording = new Argument<string>("RECORDING")
        {
            Description = "An exported log (.dwlog.gz) or a plain recording (CSV, gzipped or not).",
        };
        var store = new Option<string>("--store")
        {
            Description = "The folder to fill. It is made when missing, and appears only once it is whole; it must not hold a store yet.",
            HelpName = "FOLDER",
            Required = true,
        };
        Option<string?> bench = SourceArguments.Bench();
        Option<bool> ignore = SourceArguments.IgnoreUnknown();
        Option<string[]> profiles = SourceArguments.Profiles();
        var command = new Command(
            "import",
            "Puts a recording into a store of its own, judged, to be plotted, exported and judged with other limits like a live bench's. "
            + "A log comes back equal to the bit; a plain recording is stored in its engineering units.")
        {
            recording, store, bench, ignore, profiles,
        };
        command.SetAction((parsed, cancel) => Task.Run(
            () => Run(
                parsed.GetRequiredValue(recording), parsed.GetRequiredValue(store), parsed.GetValue(bench), parsed.GetValue(ignore), parsed.GetValue(profiles),
                parsed.InvocationConfiguration.Error, cancel),
            cancel));
        return command.WithHelp(
            notSound: null,
            new HelpExample("driftwatch import night.csv.gz --bench bench.toml --store bench-data/night", "a plain recording into a new folder"),
            new HelpExample("driftwatch import all.dwlog.gz --store bench-data/copy", "an exact copy of the store that the log came from"));
    }

    internal static async Task<int> Run(
        string recording, string folder, string? benchFile, bool ignoreUnknown, string[]? profiles, TextWriter error, CancellationToken cancel)
    {
        if (!File.Exists(recording))
        {
            throw new CommandException(ExitCode.BadInput, $"{recording}: there is no such file; check the path");
        }

        // Filled beside its place: an import that fails or is stopped leaves no half a store that looks like a whole one.
        using var place = new ImportPlace(folder);
        long count = await FillAsync(recording, place.Filling, benchFile, ignoreUnknown, profiles, error, cancel);
        place.Take();
        error.WriteLine($"Imported {count:N0} inputs into {folder} and judged them.");
        return ExitCode.Done;
    }

    private static async Task<long> FillAsync(
        string recording, string folder, string? benchFile, bool ignoreUnknown, string[]? profiles, TextWriter error, CancellationToken cancel)
    {
        bool isLog = EngineLogReader.Recognises(recording);
        using BenchStore store = BenchStore.Open(folder, new BenchStoreOptions());
        using IInputSource feed = isLog
            ? new LogSource(recording)
            : new CsvSource(recording, SourceArguments.LoadBench(recording, benchFile, profiles, store.ChannelKeys), ignoreUnknown);
        long count = await WorkProgress.RunAsync("importing", progress => Task.FromResult(Fill(store, feed, recording, error, progress, cancel)));
        foreach (string notice in feed.Notices)
        {
            error.WriteLine(notice);
        }

        // Judged from its first input, so that plots and page show its findings as a live bench's store would.
        EngineStart.CatchUp(store, NullLogger.Instance, long.MaxValue);
        return count;
    }

    private static long Fill(BenchStore store, IInputSource feed, string recording, TextWriter error, IProgress<double>? progress, CancellationToken cancel)
    {
        var batch = new List<EngineInput>(BatchSize);
        long count = 0;
        long before = -1;
        while (feed.TryRead(out EngineInput input))
        {
            if (before < 0)
            {
                // The log of a store whose first months have expired: it brings its clock and its bench, and counts anew.
                before = input.Number - 1;
                if (before > 0)
                {
                    error.WriteLine($"{recording}: the log begins with input {input.Number}, because what came before had expired; it is numbered from 1 here");
                }
            }

            input = input with { Number = input.Number - before };
            if (input.Kind == InputKind.Bench)
            {
                TakeKeys(store, input, recording);
            }

            batch.Add(input);
            count++;
            if (batch.Count == BatchSize)
            {
                cancel.ThrowIfCancellationRequested();
                store.Append(CollectionsMarshal.AsSpan(batch));
                batch.Clear();
                progress?.Report(feed.Progress);
            }
        }

        store.Append(CollectionsMarshal.AsSpan(batch));
        return count;
    }

    /// <summary>
    /// The store gives channel keys in turn; the recording's bench must come out with its own. A channel that was renamed
    /// while it was recorded has the key of its former id.
    /// </summary>
    private static void TakeKeys(BenchStore store, in EngineInput input, string recording)
    {
        IReadOnlyDictionary<string, int> given = store.ChannelKeys;
        var taken = given.Values.ToHashSet();
        foreach (ChannelDefinition channel in input.Bench.Channels.OrderBy(c => c.Key))
        {
            if (!given.ContainsKey(channel.Id) && taken.Contains(channel.Key))
            {
                continue;
            }

            // Keys of channels that were gone before the log begins are kept out of use.
            for (int gone = store.ChannelKeys.Count; gone < channel.Key; gone++)
            {
                store.KeyFor($"gone-{gone}");
            }

            int key = store.KeyFor(channel.Id);
            if (key != channel.Key)
            {
                throw new CommandException(
                    ExitCode.BadInput,
                    $"{recording}: channel '{channel.Id}' has key {channel.Key} in the recording and {key} in the folder; import into a new folder");
            }
        }
    }
}
