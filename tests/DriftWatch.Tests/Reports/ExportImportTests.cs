using System.IO.Compression;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Cli;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Tests.Cli;
using DriftWatch.Tests.PracticeRig;
using DriftWatch.Tests.Recordings;
using Parquet;
using Parquet.Schema;

namespace DriftWatch.Tests.Reports;

public sealed class ExportImportTests : IDisposable
{
    private const long StartUtc = 1_772_398_800_000_000_000; // 2026-03-01T21:00:00Z

    private readonly RecordingFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task A_log_with_a_64_point_frame_comes_back_from_a_store_equal_to_the_byte()
    {
        string log = WriteLog("first.dwlog");
        Assert.Equal(ExitCode.Done, (await CommandLineTests.RunAsync("import", log, "--store", _folder.PathOf("store"))).Code);
        string again = _folder.PathOf("again.dwlog");
        (int code, _, string error) = await CommandLineTests.RunAsync("export", _folder.PathOf("store"), "--out", again);
        Assert.True(code == ExitCode.Done, error);
        Assert.Equal(File.ReadAllBytes(log), File.ReadAllBytes(again));
    }

    [Theory]
    [InlineData("failing-compressor")]
    [InlineData("head-clog")]
    [InlineData("night-sensor-and-clock")]
    [InlineData("regulator-creep")]
    [InlineData("sound-transfer")]
    [InlineData("tape-lift")]
    public async Task A_plain_recording_comes_back_from_a_store_equal_to_the_letter(string name)
    {
        string recording = Path.Combine(GuideAndHeadTests.RepositoryFile("replay-data"), name, "recording.csv.gz");
        (int code, _, string error) = await CommandLineTests.RunAsync("import", recording, "--store", _folder.PathOf("store"));
        Assert.True(code == ExitCode.Done, error);
        string again = _folder.PathOf("again.csv");
        (code, _, error) = await CommandLineTests.RunAsync("export", _folder.PathOf("store"), "--out", again);
        Assert.True(code == ExitCode.Done, error);
        using var lines = new StreamReader(new GZipStream(File.OpenRead(recording), CompressionMode.Decompress));
        Assert.Equal((await lines.ReadToEndAsync()).Split('\n'), (await File.ReadAllTextAsync(again)).Split('\n'));
    }

    [Fact]
    public async Task An_imported_recording_is_judged_and_its_findings_are_those_that_judging_the_file_gives()
    {
        string recording = Path.Combine(GuideAndHeadTests.RepositoryFile("replay-data"), "tape-lift", "recording.csv.gz");
        await CommandLineTests.RunAsync("import", recording, "--store", _folder.PathOf("store"));
        (int code, _, string error) = await CommandLineTests.RunAsync("export", _folder.PathOf("store"), "--out", _folder.PathOf("stored.jsonl"));
        Assert.True(code == ExitCode.Done, error);
        await CommandLineTests.RunAsync("judge", recording, "--out", _folder.PathOf("judged.jsonl"));
        string[] judged = await File.ReadAllLinesAsync(_folder.PathOf("judged.jsonl"));
        Assert.Contains(judged, line => line.Contains("\"vacuum-loss\"", StringComparison.Ordinal));
        Assert.Equal(judged, await File.ReadAllLinesAsync(_folder.PathOf("stored.jsonl")));
    }

    [Fact]
    public async Task What_a_killed_import_left_is_cleared_away_but_nobody_s_files_are()
    {
        string log = WriteLog("first.dwlog");
        string filling = _folder.PathOf("store.importing");
        Directory.CreateDirectory(filling);
        await File.WriteAllTextAsync(Path.Combine(filling, "notes.txt"), "mine");
        (int code, _, string error) = await CommandLineTests.RunAsync("import", log, "--store", _folder.PathOf("store"));
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains("notes.txt is no file of a store; move this folder away", error, StringComparison.Ordinal);
        Assert.Equal("mine", await File.ReadAllTextAsync(Path.Combine(filling, "notes.txt")));

        File.Delete(Path.Combine(filling, "notes.txt"));
        await File.WriteAllTextAsync(Path.Combine(filling, "records.db"), "half of it");
        Assert.Equal(ExitCode.Done, (await CommandLineTests.RunAsync("import", log, "--store", _folder.PathOf("store"))).Code);
        Assert.False(Directory.Exists(filling));
    }

    [Fact]
    public async Task A_store_that_holds_readings_is_not_mixed_with_another_recording()
    {
        string log = WriteLog("first.dwlog");
        await CommandLineTests.RunAsync("import", log, "--store", _folder.PathOf("store"));
        (int code, _, string error) = await CommandLineTests.RunAsync("import", log, "--store", _folder.PathOf("store"));
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains("import into a new folder", error, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_csv_export_is_in_engineering_units_with_faults_and_a_side_file_for_frames()
    {
        string log = WriteLog("first.dwlog");
        string csv = _folder.PathOf("out.csv");
        (int code, _, string error) = await CommandLineTests.RunAsync("export", log, "--out", csv, "--decimals", "3", "--extremes");
        Assert.True(code == ExitCode.Done, error);
        Assert.Contains("Exported 30 rows, 29 values, 1 faults and 3 frames", error, StringComparison.Ordinal);
        string[] lines = File.ReadAllLines(csv);
        Assert.Equal("time,air,air.min,air.max,timing", lines[0]);
        Assert.Equal("2026-03-01T21:00:00.000Z,37.5,25,50,", lines[1]); // 2 V on 25 psi/V − 12.5 psi
        Assert.Equal("2026-03-01T21:00:00.500Z,!no-answer,,,", lines[6]);
        Assert.Equal(1 + (3 * 64), File.ReadAllLines(FrameFiles.PathFor(csv, "timing")).Length);
    }

    [Fact]
    public async Task A_span_and_a_choice_of_channels_are_kept_to()
    {
        string log = WriteLog("first.dwlog");
        string csv = _folder.PathOf("out.csv");
        (int code, _, string error) = await CommandLineTests.RunAsync(
            "export", log, "--out", csv, "--channels", "air", "--from", "2026-03-01T21:00:01Z", "--to", "2026-03-01T21:00:01.3Z", "--decimals", "3");
        Assert.True(code == ExitCode.Done, error);
        Assert.Equal(["time,air", "2026-03-01T21:00:01.000Z,37.75", "2026-03-01T21:00:01.100Z,37.775", "2026-03-01T21:00:01.200Z,37.8"], File.ReadAllLines(csv));
        (code, _, error) = await CommandLineTests.RunAsync("export", log, "--out", csv, "--channels", "iar");
        Assert.Equal(ExitCode.Usage, code);
        Assert.Contains("the bench knows no channel 'iar'; did you mean 'air'? it has air, timing", error, StringComparison.Ordinal);
        (code, _, error) = await CommandLineTests.RunAsync("export", log, "--out", _folder.PathOf("none.csv"), "--from", "2027-01-01");
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains("no reading lies in that span; nothing was written", error, StringComparison.Ordinal);
        Assert.False(File.Exists(_folder.PathOf("none.csv")));
    }

    // Read back with the library that wrote it; ParquetSecondReaderTests reads with another.
    [Fact]
    public async Task A_parquet_export_holds_the_same_rows()
    {
        string log = WriteLog("first.dwlog");
        string path = _folder.PathOf("out.parquet");
        (int code, _, string error) = await CommandLineTests.RunAsync("export", log, "--out", path);
        Assert.True(code == ExitCode.Done, error);
        byte[] bytes = File.ReadAllBytes(path);
        Assert.Equal("PAR1"u8.ToArray(), bytes[..4]);
        Assert.Equal("PAR1"u8.ToArray(), bytes[^4..]);

        await using ParquetReader reader = await ParquetReader.CreateAsync(path);
        DataField[] fields = reader.Schema.DataFields;
        Assert.Equal(["time", "air", "air.fault", "timing.fault"], fields.Select(f => f.Name));
        Assert.Equal("psi", reader.CustomMetadata["driftwatch.channel.air.unit"]);
        using ParquetRowGroupReader group = reader.OpenRowGroupReader(0);
        Assert.Equal(30, group.RowCount);
        var times = new DateTime[30];
        var values = new double?[30];
        var faults = new string[30];
        await group.ReadAsync<DateTime>(fields[0], times);
        await group.ReadAsync<double>(fields[1], values);
        await group.ReadAsync(fields[2], faults);
        Assert.Equal(new DateTime(2026, 3, 1, 21, 0, 0, 100, DateTimeKind.Utc), times[1]);
        Assert.Equal(37.5, values[0]);
        Assert.Null(values[5]);
        Assert.Equal("no-answer", faults[5]);
        Assert.Null(faults[0]);

        await using ParquetReader frames = await ParquetReader.CreateAsync(_folder.PathOf("out.timing.frames.parquet"));
        using ParquetRowGroupReader points = frames.OpenRowGroupReader(0);
        Assert.Equal(3 * 64, points.RowCount);
    }

    /// <summary>Three seconds of air at 10 Hz with extremes and one fault, and a frame of 64 points each second.</summary>
    private string WriteLog(string name)
    {
        BenchDefinition bench = RecordingFolder.Bench("air", "timing");
        bench = bench with
        {
            Channels =
            [
                bench.Channels[0] with { Key = 0 },
                bench.Channels[1] with { Key = 1, Axis = FrameAxis.Even(16), Calibration = Measurement.Calibrations.LineCalibration.Identity },
            ],
        };
        var inputs = new List<EngineInput>
        {
            EngineInput.OfClock(default, new ClockEvent(ClockEventKind.Started, new TimeAnchor(default, StartUtc))),
            EngineInput.OfBench(default, bench),
        };
        var random = new Random(11);
        for (int i = 0; i < 30; i++)
        {
            var time = new EngineTime(i * 100_000_000L);
            double volts = 2 + (i * 0.001);
            inputs.Add(EngineInput.OfReading(time, 0, i == 5 ? Reading.Failed(FaultCode.NoAnswer) : i == 0 ? Reading.Of(2, 1.5, 2.5) : Reading.Of(volts)));
            if (i % 10 == 0)
            {
                inputs.Add(EngineInput.OfFrame(time, 1, new Frame((uint)i, random.NextDouble() * 360, [.. Enumerable.Range(0, 64).Select(_ => random.NextDouble() - 0.5)])));
            }

            if (i > 0)
            {
                inputs.Add(EngineInput.OfTick(time));
            }
        }

        string path = _folder.PathOf(name);
        using FileStream file = File.Create(path);
        using var writer = new EngineLogWriter(file, gzip: false);
        long number = 0;
        foreach (EngineInput input in inputs)
        {
            writer.Write(input with { Number = ++number });
        }

        writer.Complete();
        return path;
    }
}
