using System.Runtime.CompilerServices;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using Xunit;

namespace DriftWatch.Tests.Storage;

/// <summary>
/// Files of every version ever landed are opened by the program of today. <c>Fixtures/v1</c> was written by the first
/// version, <c>v2</c> by the first that keeps baselines, <c>v3</c> by the first that keeps a book of alarms, <c>v4</c> by the first with an outbox of notices, <c>v5</c> by the first with entries of transfers, <c>v6</c> by the first whose entries may hand over a shift, <c>v7</c> by the first that looks up what lasts; a later one gets a folder of its own: run with DRIFTWATCH_MAKE_FIXTURE=FOLDER.
/// </summary>
public sealed class VersionOneTests
{
    internal static string Fixtures => Path.Combine(Here(), "Fixtures");

    [Theory]
    [InlineData("v1")]
    [InlineData("v2")]
    [InlineData("v3")]
    [InlineData("v4")]
    [InlineData("v5")]
    [InlineData("v6")]
    [InlineData("v7")]
    public void A_folder_of_every_version_opens_and_gives_its_log_and_findings(string version)
    {
        if (Environment.GetEnvironmentVariable("DRIFTWATCH_MAKE_FIXTURE") is { Length: > 0 } target)
        {
            Make(target);
        }

        using var folder = new StoreFolder();
        foreach (string file in Directory.GetFiles(Path.Combine(Fixtures, version)))
        {
            File.Copy(file, Path.Combine(folder.Path, Path.GetFileName(file)));
        }

        using BenchStore store = folder.Open();
        Assert.Null(store.RecordsRestored);
        Assert.Empty(store.SetAsideFiles);
        LogAssert.Equal(ALog(), store.ReadInputs(0).Where(i => i.Payload is not EntryCommand).ToList());
        Assert.Equal(7, store.LoadJudged()!.Number);
        using BenchReader reader = store.OpenReader();
        Assert.Equal("f-1", reader.Findings(0, 10)[0].Line.Id);
        Assert.Equal("f-1", reader.LastingFindings()[0].Line.Id);
        Assert.Equal(2, Assert.Single(reader.Calibrations()).Calibration.Version);
        Assert.Equal(version is "v5" or "v6" or "v7" ? 1 : 0, reader.Entries().Count);
        Assert.NotEmpty(reader.ReadBuckets(0, EngineTime.FromSeconds(3550), EngineTime.FromSeconds(3660), 6));
    }

    private static void Make(string target)
    {
        Directory.CreateDirectory(target);
        using var folder = new StoreFolder();
        using (BenchStore store = folder.Open())
        {
            store.KeyFor("channel-0");
            store.KeyFor("channel-1");
            store.Append(ALog().ToArray());
            store.CommitJudged(7, [1, 2, 3], "first", [BenchStoreTests.Line("f-1", FindingPhase.Raised, 7), BaselineStoreTests.Line(BaselineStoreTests.Make(7, 0, 50))], [AlarmStoreTests.Line(7, 0)]);
            store.CommitNotices(1, [new NoticeChange(NoticeStoreTests.Row("k-1"))]);
            store.MergeDue();
            store.Append([EntryStoreTests.Input(store.LastNumber + 1, EngineTime.FromSeconds(3651), EntryStoreTests.Note(1))]);
        }

        foreach (string name in (string[])["records.db", "2026-03.db"])
        {
            File.Copy(Path.Combine(folder.Path, name), Path.Combine(target, name), overwrite: true);
        }
    }

    /// <summary>An hour's end merged, a minute sealed, and a journal; by formula, so that it is the same for ever.</summary>
    private static IReadOnlyList<EngineInput> ALog()
    {
        var log = new LogMaker();
        EngineTime at = EngineTime.FromSeconds(3550);
        log.Start(at, new DateTimeOffset(2026, 3, 14, 12, 0, 0, TimeSpan.Zero), LogMaker.Bench(2));
        for (int i = 1; i <= 200; i++)
        {
            EngineTime now = at + TimeSpan.FromMilliseconds(500 * i);
            log.Add(EngineInput.OfReading(now, 0, i % 17 == 0 ? Reading.Failed(FaultCode.NoAnswer) : Reading.Of((i * i % 101) / 100.0)));
            log.Add(EngineInput.OfReading(now, 1, Reading.Of(1.0 / i, -0.0, 1)) with { Kind = InputKind.Sample });
            if (i % 10 == 0)
            {
                log.Add(EngineInput.OfFrame(now + TimeSpan.FromMilliseconds(7), 2, new Frame((uint)i, i, [i / 10.0, 0.1 + 0.2, -0.0])));
            }

            if (i == 150)
            {
                log.Add(EngineInput.OfReading(now - TimeSpan.FromSeconds(1.25), 0, Reading.Of(0.5)), late: true);
                log.Add(EngineInput.OfCalibration(now + TimeSpan.FromMilliseconds(20), 0, new LineCalibration(2, 1) { Version = 2 }));
                log.Add(EngineInput.OfCommand(
                    now + TimeSpan.FromMilliseconds(30), new MarkCommand { Id = new Guid("0190a6f0-0000-7000-8000-000000000001"), By = "day shift" }));
            }
        }

        return log.Inputs;
    }

    private static string Here([CallerFilePath] string path = "") => Path.GetDirectoryName(path)!;
}
