using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Dossiers;

namespace DriftWatch.Reports.Packages;

/// <summary>What the files of a package say in words of their own.</summary>
internal static class PackageWords
{
    public static string TitleOf(Dossier dossier) => dossier.Transfer is null
        ? $"Span of the record of {dossier.Bench.Label}"
        : dossier.Transfer.Tape.Title is { } title ? $"{dossier.Transfer.Tape.Identifier}, {title}" : dossier.Transfer.Tape.Identifier;

    /// <summary>Standard of what was played: the tape's, as it was last described; the machine's where no tape was entered. "525/60" or "625/50".</summary>
    public static string StandardOf(Dossier dossier) => dossier.Transfer?.Tape.Standard ?? dossier.Bench.Machine.Standard;

    /// <summary>The machine's own standard by the bench file, where the tape was described as of another; else null.</summary>
    public static string? OtherStandardOf(Dossier dossier) => dossier.Bench.Machine.Standard == StandardOf(dossier) ? null : dossier.Bench.Machine.Standard;

    public static string VerdictOf(Dossier dossier) => ReportTape.Verdict(dossier)?.Word ?? "none was given";

    public static string Readme(Dossier dossier) => string.Join('\n',
    [
        $"{TitleOf(dossier)}, {UtcText.FromNanoseconds(dossier.Span.FromUtc)} to {UtcText.FromNanoseconds(dossier.Span.ToUtc)}",
        "",
        "report/report.pdf            read this first; report.html is the same for a browser",
        "record/record.dwlog.gz       the exact record: every reading, fault and act in the order of judging, gzip.",
        "                             'gunzip -c record.dwlog.gz | sha256sum' gives " + dossier.Record.Sha256,
        "                             'driftwatch judge record.dwlog.gz' judges it again; its grammar is in DriftWatch's DEVELOPERS.md",
        "record/readings.csv.gz       the same readings in engineering units for any tool (RFC 4180), frames beside it",
        "bench/                       bench files in force, by the hash that findings name: as written, and with all defaults filled in",
        "calibrations.jsonl           every calibration of every channel",
        "findings.jsonl, alarms.jsonl what was judged and which alarms it gave, as they were told then (JSON Lines)",
        "baselines.jsonl              what the machine was at line-up, and before",
        .. dossier.Transfer is null ? Array.Empty<string>() : ["entries.jsonl                all that people entered about the tape: checks, line-up, run, verdict, notes"],
        "metadata/premis.xml          events, objects and agents by PREMIS 3.0",
        "metadata/pbcore.xml          annotations by PBCore 2.1",
        "metadata/process-history.csv the chain of devices in the fields of a coding history",
        "",
        "A judgement of the record alone begins with nothing known: what was judged then against an older baseline may come out otherwise. The findings of the day are those of findings.jsonl.",
        "Check the package with 'driftwatch package --check', with any BagIt tool, or with 'sha256sum -c manifest-sha256.txt' in its folder.",
        "",
    ]);
}
