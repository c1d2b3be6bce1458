using System.CommandLine;
using DriftWatch.Calibrating;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports;
using DriftWatch.Running;
using DriftWatch.Storage;
using BenchReader = DriftWatch.Storage.Queries.BenchReader;

namespace DriftWatch.Cli.Calibrating;

/// <summary><c>driftwatch calibrate</c>: points against a reference, by a sheet or guided, to a calibration that holds.</summary>
internal static class CalibrateCommand
{
    public static Command Create()
    {
        var where = new Argument<string>("WHERE")
        {
            Description = "The address of a running service (http://127.0.0.1:8077), or the store folder of a bench that no service writes to. "
                + $"{ServiceClient.TokenVariable} holds a token if the service asks for one.",
        };
        var channel = new Argument<string>("CHANNEL") { Description = "The channel's id." };
        var sheet = new Option<FileInfo?>("--sheet")
        {
            Description = "What was measured, as a calibration sheet (TOML; keys in device-profiles/REFERENCE.md). Without it you are asked point by point.",
            HelpName = "FILE",
        };
        var by = new Option<string?>("--by") { Description = "Who calibrates. Needed on the machine itself; elsewhere the token signs.", HelpName = "NAME" };
        Option<long?> from = SourceArguments.From();
        from.Description = "Apply it back: readings from this instant on are shown with it too. No stored byte changes, and findings stay as they were judged; 'judge --recalibrated' judges again beside them. UTC, as 2026-03-01T21:00:00Z. Default: it holds from its entry on.";
        var data = new Option<string?>("--data") { Description = "Where its document goes (JSON, driftwatch.calibration/1).", HelpName = "FILE" };
        var certificate = new Option<string?>("--certificate") { Description = "Where its certificate goes (PDF, one page).", HelpName = "FILE" };
        var keep = new Option<string?>("--keep")
        {
            Description = "Where what you measure point by point is kept until it is entered, as a calibration sheet; the same command goes on from it. Default: calibration-CHANNEL.toml in this folder.",
            HelpName = "FILE",
        };
        var tryOnly = new Option<bool>("--try") { Description = "Work it out and enter nothing." };
        var bench = new Option<string?>("--bench") { Description = "Of a service with several: the bench's id.", HelpName = "ID" };
        var command = new Command(
            "calibrate",
            "Calibrates a channel against a reference: points going up and down, a fit with its uncertainty after the GUM, errors as found and as left, "
            + "drift since the last time, a certificate. It is entered as an input of the bench and holds from there on. An in-house comparison, no accredited certificate.")
        {
            where, channel, sheet, by, from, data, certificate, keep, tryOnly, bench,
        };
        command.SetAction((parsed, cancel) => RunAsync(
            new Job(
                parsed.GetRequiredValue(where), parsed.GetRequiredValue(channel), parsed.GetValue(sheet)?.ToString(), parsed.GetValue(by), parsed.GetValue(from),
                parsed.GetValue(data), parsed.GetValue(certificate), parsed.GetValue(tryOnly), parsed.GetValue(bench), parsed.GetValue(keep) ?? $"calibration-{parsed.GetRequiredValue(channel)}.toml"),
            Console.In, parsed.InvocationConfiguration.Output, TimeProvider.System, cancel));
        return command.WithHelp(
            notSound: "as left it is not within its tolerance, or too near to it to say",
            new HelpExample("driftwatch calibrate http://127.0.0.1:8077 regulated-air --by 'Ida Wren' --certificate air.pdf", "asks point by point and reads the input from the running service"),
            new HelpExample("driftwatch calibrate http://127.0.0.1:8077 regulated-air --sheet air.toml --try", "what a sheet would come to"),
            new HelpExample("driftwatch calibrate bench-data/annex regulated-air --sheet air.toml --by 'Ida Wren' --from 2026-03-01", "into a store, applied back to readings since March"));
    }

    internal sealed record Job(
        string Where, string Channel, string? Sheet, string? By, long? From, string? Data, string? Certificate, bool TryOnly, string? Bench, string? Keep = null);

    internal static async Task<int> RunAsync(Job job, TextReader input, TextWriter output, TimeProvider time, CancellationToken cancel)
    {
        using ICalibrationPlace place = Open(job, time);
        await place.BeginAsync(job.Channel, cancel);
        CalibrationDraft? draft = job is { Sheet: null, Keep: { } keep } ? new CalibrationDraft(keep) : null;
        CalibrationSheet sheet = job.Sheet is { } path ? Load(path) : await new CalibrationGuide(input, output, time, draft).AskAsync(place, cancel);
        try
        {
            CalibrationDocument document = await place.TryAsync(sheet, cancel);
            CalibrationText.Write(output, document);
            bool enter = !job.TryOnly && (job.Sheet is not null || CalibrationGuide.IsYes(input, output, "Enter it, so that it holds"));
            if (enter)
            {
                document = await place.EnterAsync(sheet, draft is null ? null : CalibrationDraft.IdOf(job.Channel, job.By, sheet), cancel);
                output.WriteLine($"Entered as version {document.Version} of {document.Channel}, {document.Id}; due again {document.Due}.");
                draft?.Drop(); // its document has all of it
            }
            else
            {
                output.WriteLine($"Nothing was entered.{(draft is not { IsKept: true } ? "" : $" {draft.Path} keeps what was measured; enter it with --sheet.")}");
            }

            Save(job, document);
            return document.AsLeft.Conformity is "outside" or "undecided" ? ExitCode.NotSound : ExitCode.Done;
        }
        catch (SheetException mistake)
        {
            throw new CommandException(ExitCode.BadInput, $"{job.Sheet ?? job.Channel}: {mistake.What} {mistake.Remedy}", mistake);
        }
    }

    private static ICalibrationPlace Open(Job job, TimeProvider time)
    {
        if (job.Where.StartsWith("http://", StringComparison.OrdinalIgnoreCase) || job.Where.StartsWith("https://", StringComparison.OrdinalIgnoreCase))
        {
            return new ServicePlace(job.Where, job.Bench, job.By, job.From);
        }

        return File.Exists(Path.Combine(job.Where, "records.db"))
            ? new StorePlace(job.Where, job.By, job.From, job.TryOnly, time)
            : throw new CommandException(ExitCode.BadInput, $"{job.Where} holds no store; name a bench's own folder, or the address of a running service such as http://127.0.0.1:{WatchCommand.DefaultPort}");
    }

    private static CalibrationSheet Load(string path)
    {
        CalibrationSheetResult read = CalibrationSheetFile.Load(path);
        return read.Sheet ?? throw new CommandException(ExitCode.BadInput, string.Join(System.Environment.NewLine, read.Mistakes));
    }

    private static void Save(Job job, CalibrationDocument document)
    {
        if (job.Data is { } data)
        {
            WholeFile.Write(data, file => file.Write(document.ToFile()));
        }

        if (job.Certificate is { } certificate)
        {
            WholeFile.Write(certificate, file => CalibrationCertificate.Write(file, document));
        }
    }
}

/// <summary>Where a calibration is made and entered: a running service, or a store that nobody writes to.</summary>
internal interface ICalibrationPlace : IDisposable
{
    /// <summary>Of the channel: its label, unit and raw unit.</summary>
    (string Label, string Unit, string RawUnit) Channel { get; }

    /// <summary>Finds the channel.</summary>
    /// <exception cref="CommandException">There is none, or the place can't be reached.</exception>
    Task BeginAsync(string channel, CancellationToken cancel);

    /// <summary>The newest raw reading with its time in seconds; null where none can be had here, or it is a fault or old.</summary>
    Task<(double Seconds, double Raw)?> ReadAsync(CancellationToken cancel);

    /// <summary>Whether <see cref="ReadAsync"/> can give anything at all.</summary>
    bool IsLive { get; }

    Task<CalibrationDocument> TryAsync(CalibrationSheet sheet, CancellationToken cancel);

    /// <param name="sheet">What was measured.</param>
    /// <param name="id">What is sent again under it is entered once; null: it is given there.</param>
    /// <param name="cancel">Ends it.</param>
    Task<CalibrationDocument> EnterAsync(CalibrationSheet sheet, Guid? id, CancellationToken cancel);
}

/// <summary>A store that no service writes to: readings are typed.</summary>
internal sealed class StorePlace(string folder, string? by, long? from, bool tryOnly, TimeProvider time) : ICalibrationPlace
{
    private string _channel = "";

    public (string Label, string Unit, string RawUnit) Channel { get; private set; }

    public bool IsLive => false;

    public Task BeginAsync(string channel, CancellationToken cancel)
    {
        if (!tryOnly && string.IsNullOrWhiteSpace(by))
        {
            throw new CommandException(ExitCode.Usage, "who calibrates? give a name with --by");
        }

        using BenchReader reader = Reader();
        BenchDefinition bench = Bench(reader);
        ChannelDefinition known = bench.Channels.FirstOrDefault(c => c.Id == channel || c.Aliases.Contains(channel))
            ?? throw new CommandException(ExitCode.Usage, $"the bench knows no channel '{channel}'; it has {string.Join(", ", bench.Channels.Select(c => c.Id))}");
        _channel = known.Id;
        Channel = (known.Label, known.Unit, known.RawUnit);
        return Task.CompletedTask;
    }

    public Task<(double Seconds, double Raw)?> ReadAsync(CancellationToken cancel) => Task.FromResult<(double, double)?>(null);

    public Task<CalibrationDocument> TryAsync(CalibrationSheet sheet, CancellationToken cancel)
    {
        using BenchReader reader = Reader();
        return Task.FromResult(CalibrationEntry.Make(Bench(reader), CalibrationTable.Of(reader), _channel, sheet, Signer, UtcText.ToNanoseconds(time.GetUtcNow()), out _));
    }

    public Task<CalibrationDocument> EnterAsync(CalibrationSheet sheet, Guid? id, CancellationToken cancel)
    {
        try
        {
            return Task.FromResult(CalibrationEntry.Enter(folder, _channel, sheet, Signer with { Id = id }, time).Document);
        }
        catch (StoreException exception) when (exception.Trouble == StoreTrouble.InUse)
        {
            throw new CommandException(
                ExitCode.Environment, $"{folder}: a service writes here; give its address in place of the folder, such as http://127.0.0.1:{WatchCommand.DefaultPort}", exception);
        }
        catch (StoreException exception)
        {
            throw new CommandException(ExitCode.Environment, exception.Message, exception);
        }
    }

    public void Dispose()
    {
    }

    private CalibrationSigner Signer => new(by?.Trim() ?? "nobody yet", "declared", from);

    private BenchReader Reader()
    {
        try
        {
            return new BenchReader(folder);
        }
        catch (StoreException exception)
        {
            throw new CommandException(ExitCode.BadInput, exception.Message, exception);
        }
    }

    private BenchDefinition Bench(BenchReader reader) => reader.DifferentBenches() is [.., var last]
        ? last.Bench
        : throw new CommandException(ExitCode.BadInput, $"{folder}: nothing was recorded here yet");
}
