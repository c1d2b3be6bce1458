using System.CommandLine;
using System.Globalization;
using DriftWatch.Calibrating;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;

namespace DriftWatch.Cli.Calibrating;

/// <summary><c>driftwatch calibrations</c>: what turned a bench's readings, when each is due, and what moved between them.</summary>
internal static class CalibrationsCommand
{
    public static Command Create()
    {
        var store = new Argument<string>("STORE") { Description = "A bench's store folder. A service may go on writing to it." };
        var channel = new Option<string?>("--channel") { Description = "The whole history of one channel, with drift from each to the next. Default: what is in force, of all channels.", HelpName = "ID" };
        var overdue = new Option<bool>("--overdue") { Description = "Only what is in force and past its due date; returns 1 if there is any." };
        var id = new Option<string?>("--id") { Description = "One calibration, for --data and --certificate.", HelpName = "ID" };
        var data = new Option<string?>("--data") { Description = "Where its document goes (JSON).", HelpName = "FILE" };
        var certificate = new Option<string?>("--certificate") { Description = "Where its certificate goes (PDF): the very bytes that it had when it was made.", HelpName = "FILE" };
        var command = new Command("calibrations", "Lists the calibrations of a bench's store, which are kept for ever: due dates, history, drift between them.")
        {
            store, channel, overdue, id, data, certificate,
        };
        command.SetAction(parsed =>
        {
            IReadOnlyList<CalibrationRow> rows = Read(parsed.GetRequiredValue(store));
            TextWriter output = parsed.InvocationConfiguration.Output;
            if (parsed.GetValue(id) is { } wanted)
            {
                return Save(rows, wanted, parsed.GetValue(data), parsed.GetValue(certificate), output);
            }

            return parsed.GetValue(data) is not null || parsed.GetValue(certificate) is not null
                ? throw new CommandException(ExitCode.Usage, "--data and --certificate need --id; the list shows the ids")
                : parsed.GetValue(channel) is { } one ? History(rows, one, output)
                : InForce(rows, parsed.GetValue(overdue), TimeProvider.System, output);
        });
        return command.WithHelp(
            notSound: "--overdue found something",
            new HelpExample("driftwatch calibrations driftwatch-data/practice", "what is in force, and when it is due"),
            new HelpExample("driftwatch calibrations driftwatch-data/practice --channel regulated-air", "how this sensor moved from one calibration to the next"),
            new HelpExample("driftwatch calibrations driftwatch-data/practice --id 019a… --certificate air.pdf", "a certificate again"));
    }

    private static IReadOnlyList<CalibrationRow> Read(string store)
    {
        try
        {
            using var reader = new BenchReader(SourceArguments.StoreFolder(store));
            return CalibrationHistory.Of(reader);
        }
        catch (StoreException exception)
        {
            throw new CommandException(ExitCode.BadInput, exception.Message, exception);
        }
    }

    internal static int InForce(IReadOnlyList<CalibrationRow> rows, bool onlyOverdue, TimeProvider time, TextWriter output)
    {
        var today = DateOnly.FromDateTime(time.GetUtcNow().UtcDateTime);
        CalibrationRow[] shown = [.. rows.Where(r => r.IsInForce && (!onlyOverdue || r.Calibration.Due < today))];
        if (shown.Length == 0)
        {
            output.WriteLine(onlyOverdue ? "Nothing is overdue." : "Nothing was recorded here yet.");
            return ExitCode.Done;
        }

        TextTable.Write(
            output,
            ["channel", "version", "since (UTC)", "by", "U, k = 2", "as left", "due", "id"],
            shown.Select(r => (string[])
            [
                r.Channel.Id, Whole(r.Calibration.Version), Since(r), r.Calibration.By ?? "bench file", r.Document is { } d ? $"{Value(d.Budget.Expanded)} {d.Unit}" : "-",
                r.Document is { } left ? CalibrationText.Conformity(left.AsLeft.Conformity, left.Tolerance, left.Unit) : "-",
                r.Due is not { } due ? "not set" : r.Calibration.Due < today ? $"OVERDUE since {due}" : due, r.Calibration.Id?.ToString() ?? "-",
            ]));
        return onlyOverdue ? ExitCode.NotSound : ExitCode.Done;
    }

    private static int History(IReadOnlyList<CalibrationRow> all, string channel, TextWriter output)
    {
        CalibrationRow[] rows = [.. all.Where(r => r.Channel.Id == channel || r.Channel.Aliases.Contains(channel))];
        if (rows.Length == 0)
        {
            throw new CommandException(ExitCode.Usage, $"the store knows no channel '{channel}'; it has {string.Join(", ", all.Select(r => r.Channel.Id).Distinct())}");
        }

        TextTable.Write(
            output,
            ["version", "holds from (UTC)", "by", "U, k = 2", "as found", "as left", "moved", "a year", "due", "id"],
            rows.Select(r => (string[])
            [
                r.IsInForce ? $"{r.Calibration.Version} in force" : Whole(r.Calibration.Version), Since(r) + (r.Calibration.IsAppliedBack ? " applied back" : ""), r.Calibration.By ?? "bench file",
                .. Numbers(r.Document), r.Due ?? "not set", r.Calibration.Id?.ToString() ?? "-",
            ]));
        output.WriteLine();
        output.WriteLine($"In {rows[^1].Channel.Unit}; 'moved' in the middle of the range, * where that is more than its uncertainty.");
        return ExitCode.Done;
    }

    private static string[] Numbers(CalibrationDocument? document)
    {
        if (document is null)
        {
            return ["-", "-", "-", "-", "-"];
        }

        DriftPoint middle = document.Drift.At[document.Drift.At.Count / 2];
        var figures = new CalibrationFigures(document);
        return
        [
            figures.Value(document.Budget.Expanded), figures.Signed(document.AsFound.Largest), figures.Signed(document.AsLeft.Largest),
            figures.Signed(middle.Difference) + (middle.IsSignificant ? "*" : ""), middle.PerYear is { } rate ? figures.Signed(rate) : "-",
        ];
    }

    private static int Save(IReadOnlyList<CalibrationRow> rows, string id, string? data, string? certificate, TextWriter output)
    {
        CalibrationDocument document = rows.FirstOrDefault(r => r.Calibration.Id?.ToString() == id.Trim())?.Document
            ?? throw new CommandException(ExitCode.Usage, $"the store holds no calibration '{id}'; the list shows the ids");
        if (data is not null)
        {
            WholeFile.Write(data, file => file.Write(document.ToFile()));
        }

        if (certificate is not null)
        {
            WholeFile.Write(certificate, file => CalibrationCertificate.Write(file, document));
        }

        CalibrationText.Write(output, document);
        return ExitCode.Done;
    }

    private static string Since(CalibrationRow row) =>
        row.ValidFromUtc is { } utc ? UtcText.ToDateTimeOffset(utc).ToString("yyyy-MM-dd HH:mm", CultureInfo.InvariantCulture) : "the beginning";

    private static string Whole(int value) => value.ToString(CultureInfo.InvariantCulture);

    private static string Value(double value) => value.ToString("G2", CultureInfo.InvariantCulture);
}
