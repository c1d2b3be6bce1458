using System.Globalization;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports;
using DriftWatch.Running;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Alarms.WhatIf;

namespace DriftWatch.Cli;

/// <summary><c>driftwatch judge --compare</c>: the alarms that would have come with another bench file or later calibrations, beside those that came.</summary>
internal static class JudgeComparison
{
    public sealed record Asked(string Recording, string? BenchFile, string? Alarms, long? From, long? To, bool IgnoreUnknown, string[]? Profiles, bool Recalibrated);

    public static async Task<int> RunAsync(Asked asked, TextWriter output, TextWriter error, CancellationToken cancel)
    {
        if (asked.BenchFile is null && !asked.Recalibrated)
        {
            throw new CommandException(ExitCode.Usage, "--compare needs the other bench file, or the calibrations that were applied back; give --bench FILE or --recalibrated");
        }

        if (asked.From >= asked.To)
        {
            throw new CommandException(ExitCode.Usage, "--to is not after --from; turn them round");
        }

        UtcStretch? span = asked.From is null && asked.To is null ? null : new UtcStretch(asked.From ?? long.MinValue, asked.To ?? long.MaxValue);
        WhatIfResult result = asked.BenchFile is { } file
            ? await ByBenchAsync(asked, file, span, cancel)
            : await ByCalibrationsAsync(asked, span, cancel);
        if (asked.Alarms is { } path)
        {
            await using var stream = new BufferedStream(File.Create(path), 64 * 1024);
            Write(stream, result.Would);
        }

        foreach (string notice in result.Notices)
        {
            error.WriteLine(notice);
        }

        Tell(output, result, asked.Recalibrated ? "the calibrations that were applied back tell" : "the bench file tells");
        return ExitCode.Done;
    }

    private static async Task<WhatIfResult> ByCalibrationsAsync(Asked asked, UtcStretch? span, CancellationToken cancel)
    {
        using IInputSource asWas = OpenSpan(asked, out _);
        using AppliedBack asWould = JudgeCommand.Recalibrated(OpenSpan(asked, out _), asked.Recording);
        return await WorkProgress.RunAsync("judging twice", progress => Task.Run(() => WhatIfPass.Run(asWas, asWould, span, progress, cancel), cancel));
    }

    private static async Task<WhatIfResult> ByBenchAsync(Asked asked, string file, UtcStretch? span, CancellationToken cancel)
    {
        BenchDefinition instead = SourceArguments.LoadBench(asked.Recording, file, asked.Profiles, keys: null);
        using IInputSource source = OpenSpan(asked, out IReadOnlyList<BenchDefinition> recorded);
        IReadOnlyList<FileMistake> mistakes = RecordedChannels.Check(file, instead, recorded);
        if (mistakes.Count > 0)
        {
            throw new CommandException(ExitCode.BadInput, string.Join(System.Environment.NewLine, mistakes));
        }

        return await WorkProgress.RunAsync(
            "judging twice",
            progress => Task.Run(() => WhatIfPass.Run(source, bench => OtherBench.WithKeysOf(instead, bench), span, progress, breathe: null, cancel), cancel));
    }

    public static void Write(Stream stream, IReadOnlyList<AlarmTransition> lines)
    {
        foreach (AlarmTransition line in lines)
        {
            stream.Write(AlarmJson.ToUtf8(line));
            stream.WriteByte((byte)'\n');
        }
    }

    /// <summary>The table, and what tells both apart, with its verb.</summary>
    private static void Tell(TextWriter output, WhatIfResult result, string what)
    {
        if (result.Alarms.Count > 0)
        {
            TextTable.Write(
                output,
                ["", "tag", "came (UTC)", "priority", "would have come", "priority", "what"],
                result.Alarms.Select(a => (string[])
                [
                    Slugs.Of(a.Fate), a.Tag, Instant(a.Was), Priority(a.Was), Instant(a.Would), Priority(a.Would), (a.Would ?? a.Was!).Text,
                ]));
            output.WriteLine();
        }

        output.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"{result.Count(AlarmFate.Kept)} kept, {result.Count(AlarmFate.Gone)} gone, {result.Count(AlarmFate.New)} new."));
        output.WriteLine($"Both were judged anew from these readings, so that only {what} them apart; a baseline taken before them is not known to either.");
    }

    /// <summary>From two hours before the span where a store is asked for one; all of a log or a recording.</summary>
    private static IInputSource OpenSpan(Asked asked, out IReadOnlyList<BenchDefinition> recorded)
    {
        if ((asked.From is not null || asked.To is not null) && File.Exists(Path.Combine(asked.Recording, "records.db")))
        {
            using var reader = new Storage.Queries.BenchReader(asked.Recording);
            recorded = [.. reader.DifferentBenches().Select(b => b.Bench)];
            AnchorTable anchors = reader.ReadAnchors();
            if (recorded.Count == 0 || anchors.Anchors.Count == 0)
            {
                throw new CommandException(ExitCode.BadInput, $"{asked.Recording}: nothing was recorded here yet");
            }

            EngineTime from = asked.From is { } begin ? anchors.FromUtcNanoseconds(begin) - WhatIfPass.Lead : EngineTime.MinValue;
            return new SpanSource(asked.Recording, from, asked.To is { } end ? anchors.FromUtcNanoseconds(end) : EngineTime.MaxValue);
        }

        IInputSource opened = SourceArguments.Open(asked.Recording, benchFile: null, asked.IgnoreUnknown, asked.Profiles);
        recorded = opened switch
        {
            StoreSource store => store.Benches(),
            LogSource => LogSource.BenchesOf(asked.Recording),
            _ => [SourceArguments.LoadBench(asked.Recording, null, asked.Profiles, keys: null)],
        };
        return opened;
    }

    private static string Instant(AlarmStory? story) => story is null
        ? "-"
        : UtcText.ToDateTimeOffset(story.RaisedUtc).ToString("yyyy-MM-dd HH:mm:ss", CultureInfo.InvariantCulture);

    private static string Priority(AlarmStory? story) => story is null ? "-" : Slugs.Of(story.Priority);
}
