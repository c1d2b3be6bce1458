using System.CommandLine;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Shifts;

namespace DriftWatch.Cli;

/// <summary><c>driftwatch handover</c>: what who takes over a bench has to know, on one sheet.</summary>
internal static class HandOverCommand
{
    public static Command Create(TimeProvider? time = null)
    {
        var store = new Argument<string>("STORE") { Description = "A bench's store folder, as driftwatch-data/practice. A service may go on writing to it." };
        Option<long?> from = SourceArguments.Instant("--from", "Begin of the shift.", "twelve hours before its end");
        Option<long?> to = SourceArguments.Instant("--to", "End of the shift: all is told as it stood then.", "where the store ends");
        Option<string[]> output = DocumentFile.Option("Default: text on standard output.", isRequired: false);
        Option<string> zone = SourceArguments.Zone("The zone of the hand-over's times");
        var command = new Command(
            "handover",
            "Tells who takes over a bench what runs, what drifts, what alarms wait, are shelved or out of service, what is overdue, what to do next, and what was written down in the shift. "
            + "'driftwatch transfer hand-over' signs it.")
        {
            store, from, to, output, zone,
        };
        command.SetAction(parsed =>
        {
            (long? begin, long? end) = (parsed.GetValue(from), parsed.GetValue(to));
            if (begin >= end)
            {
                throw new CommandException(ExitCode.Usage, "--to is not after --from; turn them round");
            }

            string[] files = DocumentFile.Checked(parsed.GetValue(output));
            HandOver shift = HandOverReader.Read(SourceArguments.StoreFolder(parsed.GetRequiredValue(store)), begin, end);
            Document document = HandOverDocument.Of(shift, SourceArguments.ZoneOf(parsed.GetValue(zone)!), (time ?? TimeProvider.System).GetUtcNow(), whole: files.Length == 0);
            if (files.Length == 0)
            {
                TextDocument.Write(parsed.InvocationConfiguration.Output, document);
            }

            DocumentFile.Write(files, document, "the hand-over", parsed.InvocationConfiguration.Error);
            return ExitCode.Done;
        });
        return command.WithHelp(
            notSound: null,
            new HelpExample("driftwatch handover driftwatch-data/practice", "the last twelve hours, as text"),
            new HelpExample("driftwatch handover driftwatch-data/practice --from 2026-03-01T20:00:00Z --to 2026-03-02T06:00:00Z --out night.pdf --zone Europe/Paris", "one sheet to print"));
    }
}
