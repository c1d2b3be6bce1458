using System.CommandLine;
using System.Globalization;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Maintaining;

namespace DriftWatch.Cli;

/// <summary><c>driftwatch maintenance</c>: what a month says of a machine, across its tapes.</summary>
internal static class MaintenanceCommand
{
    public static Command Create(TimeProvider? time = null)
    {
        var store = new Argument<string>("STORE") { Description = "A bench's store folder, as driftwatch-data/practice. A service may go on writing to it." };
        var month = new Option<DateOnly?>("--month")
        {
            Description = "The month, as 2026-03, by the calendar of --zone. Or give --from and --to.",
            HelpName = "MONTH",
            CustomParser = result =>
            {
                if (DateOnly.TryParseExact(result.Tokens[0].Value, "yyyy-MM", CultureInfo.InvariantCulture, DateTimeStyles.None, out DateOnly first))
                {
                    return first;
                }

                result.AddError($"'{result.Tokens[0].Value}' after --month is no month; write it as 2026-03");
                return null;
            },
        };
        Option<long?> from = SourceArguments.Instant("--from", "Begin of the span, instead of a month.", "none");
        Option<long?> to = SourceArguments.Instant("--to", "End before this instant, at most a year after --from.", "none");
        Option<string[]> output = DocumentFile.Option("Default: text on standard output.", isRequired: false);
        Option<string> zone = SourceArguments.Zone("The zone of the report's days");
        var command = new Command(
            "maintenance",
            "Tells what a month says of a machine across its tapes: head hours and wear, air quality, compressor, geometry of the recordings, calibrations and alarms; every number with how many it rests on and its uncertainty. "
            + "The same span gives the same report, to the byte but for the date on which it was made.")
        {
            store, month, from, to, output, zone,
        };
        command.SetAction(parsed =>
        {
            TimeZoneInfo shown = SourceArguments.ZoneOf(parsed.GetValue(zone)!);
            (long begin, long end) = Span(parsed.GetValue(month), parsed.GetValue(from), parsed.GetValue(to), shown);
            string[] files = DocumentFile.Checked(parsed.GetValue(output));
            MaintenanceRecord record = MaintenanceReader.Read(SourceArguments.StoreFolder(parsed.GetRequiredValue(store)), begin, end);
            Document document = MaintenanceDocument.Of(record, shown, (time ?? TimeProvider.System).GetUtcNow());
            if (files.Length == 0)
            {
                TextDocument.Write(parsed.InvocationConfiguration.Output, document);
            }

            DocumentFile.Write(files, document, "the report", parsed.InvocationConfiguration.Error);
            return ExitCode.Done;
        });
        return command.WithHelp(
            notSound: null,
            new HelpExample("driftwatch maintenance driftwatch-data/practice --month 2026-03 --out march.pdf", "the month's report"),
            new HelpExample("driftwatch maintenance driftwatch-data/practice --from 2026-01-01 --to 2026-07-01 --out half.html", "half a year, for a browser"));
    }

    private static (long FromUtc, long ToUtc) Span(DateOnly? month, long? from, long? to, TimeZoneInfo zone) => (month, from, to) switch
    {
        ({ } first, null, null) => (Midnight(first, zone), Midnight(first.AddMonths(1), zone)),
        (null, { } begin, { } end) when begin >= end => throw new CommandException(ExitCode.Usage, "--to is not after --from; turn them round"),
        (null, { } begin, { } end) when end - begin > MaintenanceReader.Longest => throw new CommandException(ExitCode.Usage, "the span is longer than a year; give a shorter one"),
        (null, { } begin, { } end) => (begin, end),
        _ => throw new CommandException(ExitCode.Usage, "give --month, or both --from and --to"),
    };

    private static long Midnight(DateOnly day, TimeZoneInfo zone) => UtcText.ToNanoseconds(new DateTimeOffset(TimeZoneInfo.ConvertTimeToUtc(day.ToDateTime(TimeOnly.MinValue), zone), TimeSpan.Zero));
}
