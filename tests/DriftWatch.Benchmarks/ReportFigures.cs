using System.Diagnostics;
using System.Globalization;
using DriftWatch.Benchmarks.Bed;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers;
using DriftWatch.Reports.Packages;
using DriftWatch.Running;
using DriftWatch.Storage;
using Microsoft.Extensions.Logging.Abstractions;

namespace DriftWatch.Benchmarks;

/// <summary>How long the report of 90 minutes takes, as a span and as a transfer with what was entered about it, 20 channels at 10 Hz, from the store on the disk to the file. Target: 5 s for PDF and HTML together.</summary>
public static class ReportFigures
{
    private static readonly Guid Transfer = Guid.Parse("0190a6f0-0002-7000-8000-000000000001");
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
            Enter(store, length);
        }

        string what = string.Create(CultureInfo.InvariantCulture, $"{length.TotalMinutes:0} min of 20 channels at 10 Hz");
        Report(output, $"a span of {what}", () => DossierReader.OfSpan(folder.Path, null, null));
        Report(output, $"a transfer in {what}", () => DossierReader.OfTransfer(folder.Path, Transfer.ToString(), null));

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

    private static void Report(TextWriter output, string what, Func<Dossier> of)
    {
        for (int round = 1; round <= 3; round++)
        {
            Dossier? dossier = null;
            double read = Seconds(() => dossier = of());
            Document document = TransferReport.Of(dossier!, TimeZoneInfo.Utc, Begins);
            using var pdf = new MemoryStream();
            double paper = Seconds(() => PdfDocument.Write(pdf, document));
            using var html = new MemoryStream();
            double screen = Seconds(() => HtmlDocument.Write(html, document));
            output.WriteLine(string.Create(
                CultureInfo.InvariantCulture,
                $"report on {what}, round {round}: read {read:0.00} s, PDF {paper:0.00} s ({pdf.Length / 1024} KiB), HTML {screen:0.00} s ({html.Length / 1024} KiB), in all {read + paper + screen:0.00} s (target 5 s)"));
        }
    }

    /// <summary>The way of a tape through that night, written down afterwards: a run of all of it but two minutes, with a mark each minute.</summary>
    private static void Enter(BenchStore store, TimeSpan length)
    {
        var tape = Guid.Parse("0190a6f0-0001-7000-8000-000000000001");
        var pass = Guid.Parse("0190a6f0-0003-7000-8000-000000000001");
        long number = store.LastNumber;
        int made = 0;
        store.Append(
        [
            .. new[]
            {
                Entry(0, new TapeDescribed { Tape = tape, Identifier = "MC-0117", Standard = "525/60", SpeedInchesPerSecond = 15 }), Entry(0.1, new TransferOpened { Tape = tape }),
                Entry(0.2, new PassOpened()), Entry(0.3, new CheckSigned { Check = "air-before-wheel", Answer = CheckAnswer.Done, ListHash = "aa" }),
                Entry(0.9, new LineUpEnded()), Entry(1, new RunBegan { Cue = RunCue.Hand, Basis = PositionBasis.ElapsedTime }),
            }
            .Concat(Enumerable.Range(2, (int)length.TotalMinutes - 3).Select(minute => Entry(minute, new NoteWritten { IsMark = true })))
            .Append(Entry(length.TotalMinutes - 1, new RunEnded { Cue = RunCue.Hand }))
            .Select(e => EngineInput.OfCommand(store.LastTime, e) with { Number = ++number }),
        ]);

        EntryCommand Entry(double minute, EntryBody body) => new()
        {
            Id = Guid.Parse($"0190a6f0-0009-7000-8000-{++made:d12}"),
            By = "Ida Wren",
            EnteredUtc = UtcText.ToNanoseconds(Begins + length),
            AboutUtc = UtcText.ToNanoseconds(Begins.AddMinutes(minute)),
            Transfer = body is TapeDescribed ? null : Transfer,
            Pass = body is TapeDescribed or TransferOpened ? null : pass,
            Body = body,
        };
    }

    private static double Seconds(Action work)
    {
        long from = Stopwatch.GetTimestamp();
        work();
        return Stopwatch.GetElapsedTime(from).TotalSeconds;
    }
}
