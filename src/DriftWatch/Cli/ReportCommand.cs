using System.CommandLine;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers;

namespace DriftWatch.Cli;

/// <summary><c>driftwatch report</c>: what there is to say of a transfer, or of a span, on paper and on a screen.</summary>
internal static class ReportCommand
{
    public static Command Create(TimeProvider? time = null)
    {
        var store = new Argument<string>("STORE")
        {
            Description = "A bench's store folder, as driftwatch-data/practice. A service may go on writing to it.",
        };
        Option<string?> transfer = SourceArguments.Transfer();
        Option<int?> pass = SourceArguments.Pass();
        Option<long?> from = SourceArguments.From();
        Option<long?> to = SourceArguments.To();
        Option<string[]> output = DocumentFile.Option(otherwise: "", isRequired: true);
        Option<string> zone = SourceArguments.Zone("The zone of the report's times");
        var command = new Command(
            "report",
            "Writes the report of a transfer, or of a span, of a bench's store: a first page for who keeps the tape, then the engineering, with drawings. "
            + "The same span gives the same report, to the byte but for the date on which it was made.")
        {
            store, transfer, pass, from, to, output, zone,
        };
        command.SetAction((parsed, cancel) => Task.FromResult(Run(
            new Asked(
                parsed.GetRequiredValue(store), SourceArguments.SubjectOf(parsed, transfer, pass, from, to), parsed.GetRequiredValue(output), SourceArguments.ZoneOf(parsed.GetValue(zone)!),
                parsed.InvocationConfiguration.Error),
            time ?? TimeProvider.System, cancel)));
        return command.WithHelp(
            notSound: null,
            new HelpExample("driftwatch report bench-data/annex --transfer 0199a1b2 --out MC-0117.pdf --out MC-0117.html", "a transfer by the first signs of its id, its last run"),
            new HelpExample("driftwatch report bench-data/annex --from 2026-03-01T21:00:00Z --to 2026-03-01T22:40:00Z --out span.pdf", "a span that belongs to no transfer, marked so"),
            new HelpExample("driftwatch report bench-data/annex --out all.html --zone Europe/Paris", "all that was recorded, for a browser"));
    }

    private static int Run(Asked asked, TimeProvider time, CancellationToken cancel)
    {
        string[] files = DocumentFile.Checked(asked.Output);
        Dossier dossier = asked.Subject.Read(SourceArguments.StoreFolder(asked.Store), cancel);
        Document document = TransferReport.Of(dossier, asked.Zone, time.GetUtcNow());
        DocumentFile.Write(files, document, "the report", asked.Error);
        return ExitCode.Done;
    }

    private sealed record Asked(string Store, ReportSubject Subject, string[] Output, TimeZoneInfo Zone, TextWriter Error);
}
