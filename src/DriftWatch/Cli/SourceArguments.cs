using System.CommandLine;
using System.CommandLine.Parsing;
using System.Globalization;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Names;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports;
using DriftWatch.Running;

namespace DriftWatch.Cli;

/// <summary>The arguments and options that export, import and plot share, and how they open what they name.</summary>
internal static class SourceArguments
{
    public static Argument<string> Source() => new("SOURCE")
    {
        Description = "A bench's store folder, an exported log (.dwlog.gz), or a plain recording (CSV, gzipped or not).",
    };

    public static Option<string?> Bench() => new("--bench")
    {
        Description = "The bench file that a plain recording is read with. Default: bench.toml beside the recording. A store and a log carry their own.",
        HelpName = "FILE",
    };

    /// <summary>Folders of profiles as every verb that reads a bench file takes them, so that what one finds the next finds too.</summary>
    public static Option<string[]> Profiles() => new("--profiles")
    {
        Description = "A further folder of device profiles, looked in before those that come with the program. May be repeated.",
        HelpName = "FOLDER",
    };

    /// <summary>The folders named, and then those of the program.</summary>
    public static IReadOnlyList<string> FoldersOf(string[]? profiles) => [.. profiles ?? [], .. ProfileFolders.Default];

    public static Option<bool> IgnoreUnknown() => new("--ignore-unknown-columns")
    {
        Description = "Read over columns of a plain recording that the bench does not know, instead of refusing them.",
    };

    public static Option<string[]> Channels() => new("--channels")
    {
        Description = "The channels, by their ids, separated by commas or blanks. Default: all.",
        HelpName = "IDS",
        AllowMultipleArgumentsPerToken = true,
    };

    public static Option<long?> From() => Instant("--from", "Begin here, this instant included.");

    public static Option<long?> To() => Instant("--to", "End before this instant.");

    /// <summary>UTC nanoseconds. Reads the token itself, so that nonsense is a usage error and never a crash.</summary>
    public static Option<long?> Instant(string name, string description, string otherwise = "the whole") => new(name)
    {
        Description = $"{description} UTC, as 2026-03-01T21:00:00Z or 2026-03-01. Default: {otherwise}.",
        HelpName = "TIME",
        CustomParser = result =>
        {
            string text = result.Tokens[0].Value;
            if (UtcText.TryParse(text, out long utc) && char.IsAsciiDigit(text[0]) && text.Length >= 10 && text[4] == '-')
            {
                return utc;
            }

            result.AddError($"'{text}' after {name} is no time; write it in UTC as 2026-03-01T21:00:00Z or 2026-03-01");
            return null;
        },
    };

    /// <summary>A whole number in a range, as an option; nonsense is a usage error.</summary>
    public static Option<int?> Whole(string name, string description, int least, int greatest, string unit) => new(name)
    {
        Description = description,
        HelpName = unit,
        CustomParser = result =>
        {
            string text = result.Tokens[0].Value;
            if (int.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out int value) && value >= least && value <= greatest)
            {
                return value;
            }

            result.AddError($"'{text}' after {name} is not possible; write a whole number from {least} to {greatest}");
            return null;
        },
    };

    /// <summary>The zone of what is shown; times on the command line itself are UTC.</summary>
    public static Option<string> Zone(string what) => new("--zone")
    {
        Description = what + ": utc, local (this machine's), or a name such as Europe/Paris. Default: utc.",
        HelpName = "ZONE",
        DefaultValueFactory = _ => "utc",
    };

    /// <exception cref="CommandException">No such zone.</exception>
    public static TimeZoneInfo ZoneOf(string name)
    {
        if (string.Equals(name, "utc", StringComparison.OrdinalIgnoreCase))
        {
            return TimeZoneInfo.Utc;
        }

        if (string.Equals(name, "local", StringComparison.OrdinalIgnoreCase))
        {
            return TimeZoneInfo.Local;
        }

        return TimeZoneInfo.TryFindSystemTimeZoneById(name, out TimeZoneInfo? zone)
            ? zone
            : throw new CommandException(ExitCode.Usage, $"'{name}' is no time zone this machine knows; write utc, local or a name such as Europe/Paris");
    }

    public static Option<string?> Transfer() => new("--transfer")
    {
        Description = "The transfer by its id, or the first signs of it, at least four. Default: a span, marked as one.",
        HelpName = "ID",
    };

    public static Option<int?> Pass() => Whole("--pass", "With --transfer: which of its passes, from 1. Default: the last that ran.", 1, 1000, "NUMBER");

    /// <summary>What a report or package is asked for; what does not go together is a usage error.</summary>
    /// <exception cref="CommandException">A transfer and a span, a pass of no transfer, or a span that ends before it begins.</exception>
    public static ReportSubject SubjectOf(ParseResult parsed, Option<string?> transfer, Option<int?> pass, Option<long?> from, Option<long?> to)
    {
        var subject = new ReportSubject(parsed.GetValue(transfer), parsed.GetValue(pass), parsed.GetValue(from), parsed.GetValue(to));
        return subject switch
        {
            { Transfer: not null, FromUtc: not null } or { Transfer: not null, ToUtc: not null } => throw new CommandException(
                ExitCode.Usage, "a transfer has its own span: leave out --from and --to, or --transfer"),
            { Transfer: null, Pass: not null } => throw new CommandException(ExitCode.Usage, "--pass is a pass of a transfer: name it with --transfer"),
            { FromUtc: { } begin, ToUtc: { } end } when begin >= end => throw new CommandException(ExitCode.Usage, "--to is not after --from; turn them round"),
            _ => subject,
        };
    }

    /// <summary>A folder that must hold a store, for verbs that read nothing else.</summary>
    /// <exception cref="CommandException">It holds none.</exception>
    public static string StoreFolder(string folder) => File.Exists(Path.Combine(folder, "records.db"))
        ? folder
        : throw new CommandException(ExitCode.BadInput, $"{folder} holds no store; name a bench's own folder, such as driftwatch-data/practice");

    public static IReadOnlyList<string> Ids(string[]? written) =>
        [.. (written ?? []).SelectMany(w => w.Split(',', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries)).Distinct(StringComparer.Ordinal)];

    /// <summary>Opens what the person named.</summary>
    /// <exception cref="CommandException">It is not there, or its bench file is wrong.</exception>
    public static IInputSource Open(string source, string? benchFile, bool ignoreUnknownColumns, string[]? profiles)
    {
        if (Directory.Exists(source))
        {
            return !LooksLikeStore(source)
                ? throw new CommandException(ExitCode.BadInput, $"{source}: this folder holds no DriftWatch store; name the bench's own folder")
                : !File.Exists(Path.Combine(source, "records.db"))
                ? throw new CommandException(
                    ExitCode.BadInput, $"{source}: records.db is missing here; 'driftwatch watch' on this store makes it anew from records.copy.db, or take it from a backup")
                : new StoreSource(source);
        }

        if (!File.Exists(source))
        {
            throw new CommandException(ExitCode.BadInput, $"{source}: there is no such file or folder; check the path");
        }

        if (EngineLogReader.Recognises(source))
        {
            return new LogSource(source);
        }

        return new CsvSource(source, LoadBench(source, benchFile, profiles, keys: null), ignoreUnknownColumns);
    }

    /// <summary>The bench for a plain recording: the file named, or bench.toml beside the recording.</summary>
    public static BenchDefinition LoadBench(string recording, string? benchFile, string[]? profiles, IReadOnlyDictionary<string, int>? keys)
    {
        benchFile ??= Path.Combine(Path.GetDirectoryName(recording) ?? "", "bench.toml");
        if (!File.Exists(benchFile))
        {
            throw new CommandException(
                ExitCode.BadInput, $"{benchFile}: there is no such bench file; a plain recording needs one, name it with --bench");
        }

        BenchFileResult result = BenchFile.Load(benchFile, FoldersOf(profiles), keys);
        return result.Bench?.Definition
            ?? throw new CommandException(ExitCode.BadInput, string.Join(System.Environment.NewLine, result.Mistakes));
    }

    /// <summary>
    /// Finds the channels asked for among all that were ever recorded here, as the last bench file describes them; a
    /// channel that a later file left out, as the last file that had it. Gives the feed back from its beginning.
    /// </summary>
    /// <exception cref="CommandException">A channel that no bench file had.</exception>
    public static (BenchDefinition Bench, IReadOnlyList<ChannelDefinition> Channels, IInputSource Feed) Select(IInputSource feed, string source, IReadOnlyList<string> ids)
    {
        IReadOnlyList<BenchDefinition> benches = feed switch
        {
            StoreSource store => store.Benches(),
            LogSource => LogSource.BenchesOf(source),
            _ => [],
        };
        var opening = new List<EngineInput>();
        while (benches.Count == 0 && feed.TryRead(out EngineInput input))
        {
            opening.Add(input);
            benches = input.Kind == InputKind.Bench ? [input.Bench] : [];
        }

        if (benches.Count == 0)
        {
            throw new CommandException(ExitCode.BadInput, $"{source}: nothing was recorded here yet");
        }

        List<ChannelDefinition> recorded = EveryChannel(benches);
        var channels = new List<ChannelDefinition>();
        foreach (string id in ids)
        {
            channels.Add(recorded.Find(c => c.Id == id) ?? recorded.Find(c => c.Aliases.Contains(id))
                ?? recorded.Find(c => benches.Any(b => b.Channels.Any(f => f.Key == c.Key && f.Id == id)))
                ?? throw new CommandException(
                    ExitCode.Usage,
                    $"the bench knows no channel '{id}'; {NearestName.Hint(id, recorded.Select(c => c.Id))}it has {string.Join(", ", recorded.Select(c => c.Id))}"));
        }

        return (benches[^1], channels.Count > 0 ? channels : recorded, new ReopenedFeed(opening, feed));
    }

    private static List<ChannelDefinition> EveryChannel(IReadOnlyList<BenchDefinition> benches)
    {
        List<ChannelDefinition> all = [.. benches[^1].Channels];
        foreach (ChannelDefinition former in benches.Reverse().Skip(1).SelectMany(b => b.Channels))
        {
            if (!all.Exists(c => c.Key == former.Key || c.Id == former.Id || c.Aliases.Contains(former.Id)))
            {
                all.Add(former);
            }
        }

        return all;
    }

    private static bool LooksLikeStore(string folder) => Directory.EnumerateFiles(folder, "*.db").Any();

    private sealed class ReopenedFeed(List<EngineInput> opening, IInputSource rest) : IInputSource
    {
        private int _next;

        public double Progress => rest.Progress;

        public IReadOnlyList<string> Notices => rest.Notices;

        public bool TryRead(out EngineInput input)
        {
            if (_next < opening.Count)
            {
                input = opening[_next++];
                return true;
            }

            return rest.TryRead(out input);
        }

        public void Dispose() => rest.Dispose();
    }
}
