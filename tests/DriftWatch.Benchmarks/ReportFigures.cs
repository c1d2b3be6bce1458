using System.Diagnostics;
using System.Globalization;
using DriftWatch.Benchmarks.Bed;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers;
using DriftWatch.Reports.Packages;
using DriftWatch.Running;
using DriftWatch.Storage;
using Microsoft.Extensions.Logging.Abstractions;

namespace DriftWatch.Benchmarks;

/// <summary>How long the report of a transfer of 90 minutes takes, 20 channels at 10 Hz, from the store on the disk to the file. Target: 5 s for PDF and HTML together.</summary>
public static class ReportFigures
{
    private static readonly DateTimeOffset Begins = new(2026, 3, 1, 18, 0, 0, TimeSpan.Zero);

    public static void Run(TextWriter output, Size size)
    {
        TimeSpan length = size == Size.Full ? TimeSpan.FromMinutes(90) : TimeSpan.FromMinutes(5);
        using var folder = new TempFolder();
        using (BenchStore store = BenchStore.Open(folder.Path, new BenchStoreOptions { BallastBytes = 0 }))
        {
            foreach (EngineInput[] piece in PracticeBench.Night(length, Begins).Chunk(60_000))
            {
                store.Append(piece);
            }

            while (store.MergeDue() > 0)
            {
            }

            EngineStart.CatchUp(store, NullLogger.Instance, long.MaxValue);
        }

        string what = string.Create(CultureInfo.InvariantCulture, $"{length.TotalMinutes:0} min of 20 channels at 10 Hz");
        for (int round = 1; round <= 3; round++)
        {
            Dossier? dossier = null;
            double read = Seconds(() => dossier = DossierReader.OfSpan(folder.Path, null, null));
            Document document = TransferReport.Of(dossier!, TimeZoneInfo.Utc, Begins);
            using var pdf = new MemoryStream();
            double paper = Seconds(() => PdfDocument.Write(pdf, document));
            using var html = new MemoryStream();
            double screen = Seconds(() => HtmlDocument.Write(html, document));
            output.WriteLine(string.Create(
                CultureInfo.InvariantCulture,
                $"report, {what}, round {round}: read {read:0.00} s, PDF {paper:0.00} s ({pdf.Length / 1024} KiB), HTML {screen:0.00} s ({html.Length / 1024} KiB), in all {read + paper + screen:0.00} s (target 5 s)"));
        }

        string bag = Path.Combine(folder.Path, "..", Path.GetFileName(folder.Path) + "-bag");
        try
        {
            Dossier dossier = DossierReader.OfSpan(folder.Path, null, null);
            double packed = Seconds(() => EvidencePackage.WriteAsync(folder.Path, dossier, bag, TimeZoneInfo.Utc, Begins, CancellationToken.None).GetAwaiter().GetResult());
            double checkedIn = Seconds(() => _ = BagCheck.Of(bag).Count == 0 ? 0 : throw new InvalidOperationException("The package is not whole."));
            long bytes = new DirectoryInfo(bag).EnumerateFiles("*", SearchOption.AllDirectories).Sum(f => f.Length);
            output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"package, {what}: packed {packed:0.00} s, {bytes / 1024.0 / 1024.0:0.0} MiB; checked {checkedIn:0.00} s"));
        }
        finally
        {
            if (Directory.Exists(bag))
            {
                Directory.Delete(bag, recursive: true);
            }
        }
    }

    private static double Seconds(Action work)
    {
        long from = Stopwatch.GetTimestamp();
        work();
        return Stopwatch.GetElapsedTime(from).TotalSeconds;
    }
}
