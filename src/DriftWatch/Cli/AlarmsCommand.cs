using System.CommandLine;
using System.Text.Json;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Names;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports;
using DriftWatch.Storage;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Web.Api;

namespace DriftWatch.Cli;

/// <summary><c>driftwatch alarms</c>: the book of alarms for a person in the morning, for a program, and measured as a whole.</summary>
internal static class AlarmsCommand
{
    public static Command Create()
    {
        var store = new Argument<string>("STORE")
        {
            Description = "A bench's store folder, as driftwatch-data/practice. A service may go on writing to it.",
        };
        Option<long?> from = SourceArguments.From();
        Option<long?> to = SourceArguments.To();
        var tag = new Option<string?>("--tag")
        {
            Description = "One alarm only, by its tag, as air-below-setpoint.regulated-air.",
            HelpName = "TAG",
        };
        var open = new Option<bool>("--open") { Description = "Only alarms that were not back to normal at the end." };
        var lines = new Option<bool>("--lines") { Description = "Every line of the book, instead of one entry for each coming of an alarm." };
        var json = new Option<bool>("--json") { Description = "JSON: the lines as JSON Lines of format driftwatch.alarm/1, or with --health one object." };
        var health = new Option<bool>("--health")
        {
            Description = "Measures the alarms as a whole: rate, floods, chattering, what stood too long, priorities; each with its target and where that comes from.",
        };
        var command = new Command(
            "alarms",
            "Lists the book of alarms of a bench's store, which is kept for ever: when each came, how it stands, its cause, and who answered for it. "
            + "The alarms are no safety interlock: what must be stopped at once is stopped by the machine's own protection.")
        {
            store, from, to, tag, open, lines, json, health,
        };
        command.SetAction(parsed => Run(
            new Asked(
                parsed.GetRequiredValue(store), parsed.GetValue(from), parsed.GetValue(to), parsed.GetValue(tag), parsed.GetValue(open),
                parsed.GetValue(lines), parsed.GetValue(json), parsed.GetValue(health)),
            parsed.InvocationConfiguration.Output));
        return command.WithHelp(
            notSound: null,
            new HelpExample("driftwatch alarms driftwatch-data/practice --from 2026-03-01T20:00:00Z", "what the night brought"),
            new HelpExample("driftwatch alarms driftwatch-data/practice --open", "what still waits or stands"),
            new HelpExample("driftwatch alarms driftwatch-data/practice --tag vacuum-loss.guide-vacuum --lines", "all that ever befell one alarm"),
            new HelpExample("driftwatch alarms driftwatch-data/practice --from 2026-02-01 --health", "whether the alarms can be lived with"));
    }

    private static int Run(Asked asked, TextWriter output)
    {
        if (asked.Health && (asked.Open || asked.Lines || asked.Tag is not null))
        {
            throw new CommandException(ExitCode.Usage, "--health measures all alarms together; leave out --open, --lines and --tag");
        }

        if (asked.From >= asked.To)
        {
            throw new CommandException(ExitCode.Usage, "--to is not after --from; turn them round");
        }

        AlarmBook book;
        try
        {
            book = AlarmBook.Read(SourceArguments.StoreFolder(asked.Store));
        }
        catch (StoreException exception)
        {
            throw new CommandException(ExitCode.BadInput, exception.Message, exception);
        }

        UtcStretch span = SpanOf(asked, book);
        if (asked.Health)
        {
            Measure(asked, book, span, output);
            return ExitCode.Done;
        }

        List<AlarmTransition> before = [.. book.Lines.Where(l => l.AtUtc < span.ToUtc && (asked.Tag is null || l.Tag == asked.Tag))];
        if (asked.Tag is { } tag && before.Count == 0)
        {
            string[] known = [.. book.Lines.Select(l => l.Tag).Distinct().Order(StringComparer.Ordinal)];
            string hint = known.Length == 0 ? "it holds no alarm at all" : $"{NearestName.Hint(tag, known)}it has {string.Join(", ", known)}";
            throw new CommandException(ExitCode.Usage, $"the book holds no alarm '{tag}' before the end asked for; {hint}");
        }

        List<AlarmStory> stories = [.. AlarmStory.Of(before).Where(s => s.IsOpen || (!asked.Open && s.Last.AtUtc >= span.FromUtc))];
        HashSet<string> ids = [.. stories.Select(s => s.Last.Id)];
        List<AlarmTransition> lines = [.. before.Where(l => l.AtUtc >= span.FromUtc && (!asked.Open || ids.Contains(l.Id)))];
        if (asked.Json)
        {
            foreach (AlarmTransition line in lines)
            {
                output.Write(System.Text.Encoding.UTF8.GetString(AlarmJson.ToUtf8(line)));
                output.Write('\n');
            }
        }
        else if (asked.Lines)
        {
            AlarmsText.Lines(output, lines);
        }
        else
        {
            AlarmsText.Stories(output, stories);
        }

        return ExitCode.Done;
    }

    private static UtcStretch SpanOf(Asked asked, AlarmBook book)
    {
        UtcStretch whole = book.Whole()
            ?? throw new CommandException(ExitCode.BadInput, $"{asked.Store}: nothing was recorded here yet");
        var span = new UtcStretch(asked.From ?? whole.FromUtc, asked.To ?? whole.ToUtc);
        return span.Nanoseconds > 0
            ? span
            : throw new CommandException(
                ExitCode.BadInput, $"{asked.Store}: nothing lies in that span; the store knows of {UtcText.FromNanoseconds(whole.FromUtc)} to {UtcText.FromNanoseconds(whole.ToUtc)}");
    }

    private static void Measure(Asked asked, AlarmBook book, UtcStretch span, TextWriter output)
    {
        AlarmHealthReport report = AlarmHealth.Of(book.Lines, new AlarmSpan(span, book.Watched));
        if (asked.Json)
        {
            output.Write(JsonSerializer.Serialize(AlarmHealthAnswer.Of(report), ApiJson.Options));
            output.Write('\n');
        }
        else
        {
            AlarmsText.Health(output, report);
        }
    }

    private sealed record Asked(string Store, long? From, long? To, string? Tag, bool Open, bool Lines, bool Json, bool Health);
}
