using System.CommandLine;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Dossiers;
using DriftWatch.Reports.Packages;

namespace DriftWatch.Cli;

/// <summary><c>driftwatch package</c>: the evidence of a transfer, or of a span, as a bag; and whether a bag is whole.</summary>
internal static class PackageCommand
{
    public static Command Create(TimeProvider? time = null)
    {
        var source = new Argument<string>("STORE")
        {
            Description = "A bench's store folder, as driftwatch-data/practice; with --check a package, folder or zip.",
        };
        Option<string?> transfer = SourceArguments.Transfer();
        Option<int?> pass = SourceArguments.Pass();
        Option<long?> from = SourceArguments.From();
        Option<long?> to = SourceArguments.To();
        var output = new Option<string?>("--out")
        {
            Description = "The package to write: a folder that does not exist yet, or NAME.zip.",
            HelpName = "NAME",
        };
        Option<string> zone = SourceArguments.Zone("The zone of the report's times");
        var check = new Option<bool>("--check")
        {
            Description = "Checks a package instead of writing one: whether every file is there, none was added, and every checksum is right.",
        };
        var command = new Command(
            "package",
            "Packs the evidence of a transfer, or of a span, of a bench's store as a bag (BagIt 1.0, RFC 8493): report, exact record, readings as a table, bench "
            + "files and calibrations as used, findings, alarms, PREMIS events and PBCore annotations, all with checksums.")
        {
            source, transfer, pass, from, to, output, zone, check,
        };
        command.SetAction((parsed, cancel) => RunAsync(
            new Asked(
                parsed.GetRequiredValue(source), SourceArguments.SubjectOf(parsed, transfer, pass, from, to), parsed.GetValue(output), SourceArguments.ZoneOf(parsed.GetValue(zone)!),
                parsed.GetValue(check), parsed.InvocationConfiguration.Output, parsed.InvocationConfiguration.Error),
            time ?? TimeProvider.System, cancel));
        return command.WithHelp(
            notSound: "with --check: the package is not whole; each fault with its file and remedy is on standard output",
            new HelpExample("driftwatch package bench-data/annex --transfer 0199a1b2 --out MC-0117.zip", "a transfer by the first signs of its id"),
            new HelpExample("driftwatch package bench-data/annex --from 2026-03-01T21:00:00Z --to 2026-03-01T22:40:00Z --out evening.zip", "a span as one zip"),
            new HelpExample("driftwatch package evening.zip --check", "whether it came through whole"));
    }

    private static async Task<int> RunAsync(Asked asked, TimeProvider time, CancellationToken cancel)
    {
        if (asked.Check)
        {
            return asked.Target is null && asked.Subject.IsWhole
                ? Check(asked, cancel)
                : throw new CommandException(ExitCode.Usage, "--check looks at the package named and writes nothing; leave out --out, --transfer, --from and --to");
        }

        if (asked.Target is not { Length: > 0 } target)
        {
            throw new CommandException(ExitCode.Usage, "--out names the package to write; or --check looks at one");
        }

        string folder = SourceArguments.StoreFolder(asked.Source);
        if (asked.Subject is { Transfer: { } transfer, Pass: var pass }
            && DossierReader.WhyNotPacked(folder, transfer, pass, UtcText.ToNanoseconds(time.GetUtcNow())) is { } early)
        {
            throw new CommandException(ExitCode.BadInput, $"{early.What} {early.Remedy}");
        }

        Dossier dossier = asked.Subject.Read(folder, cancel);
        IReadOnlyList<BagFile> files = await EvidencePackage.WriteAsync(folder, dossier, target, asked.Zone, time.GetUtcNow(), cancel);
        await asked.Error.WriteLineAsync($"Packed {files.Count} files, {files.Sum(f => f.Bytes):N0} bytes, into {target}.");
        return ExitCode.Done;
    }

    private static int Check(Asked asked, CancellationToken cancel)
    {
        IReadOnlyList<BagFault> faults = BagCheck.Of(asked.Source, cancel);
        foreach (BagFault fault in faults)
        {
            asked.Output.WriteLine(fault);
        }

        asked.Error.WriteLine(faults.Count == 0 ? $"{asked.Source} is whole: every file is there and has its checksum." : $"{asked.Source} has {faults.Count} faults.");
        return faults.Count == 0 ? ExitCode.Done : ExitCode.NotSound;
    }

    private sealed record Asked(
        string Source, ReportSubject Subject, string? Target, TimeZoneInfo Zone, bool Check, TextWriter Output, TextWriter Error);
}
