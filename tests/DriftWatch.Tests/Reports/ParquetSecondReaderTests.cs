using DriftWatch.Acquisition.Recordings;
using DriftWatch.Cli;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports;
using DriftWatch.Tests.Cli;
using DriftWatch.Tests.Recordings;
using ParquetSharp;

namespace DriftWatch.Tests.Reports;

/// <summary>
/// A Parquet export read value by value with another reader than the library that wrote it: the Apache Arrow project's
/// own, in C++, through ParquetSharp.
/// </summary>
public sealed class ParquetSecondReaderTests : IDisposable
{
    private const long StartUtc = 1_772_398_800_000_000_000; // 2026-03-01T21:00:00Z
    private const int Rows = 70_000; // more than one row group
    private const int FaultEvery = 97;
    private const int MissingEvery = 89;

    private static readonly TableCalibration Vacuum = new([0.5, 2.5, 4.5], [0, 12.4, 25]);

    private readonly RecordingFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task Every_value_of_an_export_is_read_back_equal_to_the_bit_by_another_reader()
    {
        const int Seed = 20_261_125;
        List<EngineInput> readings = Readings(new Random(Seed));
        string path = _folder.PathOf("night.parquet");
        (int code, _, string error) = await CommandLineTests.RunAsync("export", Write(readings), "--out", path, "--extremes");
        Assert.True(code == ExitCode.Done, error);

        using var file = new ParquetFileReader(path);
        Assert.Equal(Rows, file.FileMetaData.NumRows);
        Assert.Equal(2, file.FileMetaData.NumRowGroups);
        Assert.Equal(
            ["time", "air", "air.min", "air.max", "air.fault", "vacuum", "vacuum.min", "vacuum.max", "vacuum.fault", "timing.fault"],
            Enumerable.Range(0, file.FileMetaData.NumColumns).Select(i => file.FileMetaData.Schema.Column(i).Name));
        var time = Assert.IsType<TimestampLogicalType>(file.FileMetaData.Schema.Column(0).LogicalType);
        Assert.True(time.IsAdjustedToUtc);
        Assert.Equal(TimeUnit.Micros, time.TimeUnit);
        Assert.Equal("recording/1", file.FileMetaData.KeyValueMetadata["driftwatch.format"]);
        Assert.Equal("Air at 20 °C, µ-filtered", file.FileMetaData.KeyValueMetadata["driftwatch.channel.air.label"]);
        Assert.Equal("inH2O", file.FileMetaData.KeyValueMetadata["driftwatch.channel.vacuum.unit"]);

        long[] stamps = Column<long>(file, 0, physical: true);
        Assert.Equal(Enumerable.Range(0, Rows).Select(i => (StartUtc / 1000) + (i * 100_000L)), stamps);
        AssertChannel(readings, 0, new LineCalibration(25, -12.5), Column<double?>(file, 1), Column<double?>(file, 2), Column<double?>(file, 3), Column<string?>(file, 4), $"air, seed {Seed}");
        AssertChannel(readings, 1, Vacuum, Column<double?>(file, 5), Column<double?>(file, 6), Column<double?>(file, 7), Column<string?>(file, 8), $"vacuum, seed {Seed}");
    }

    [Fact]
    public async Task Every_point_of_a_frame_is_read_back_with_its_head_and_angle()
    {
        List<EngineInput> readings = Readings(new Random(3));
        string path = _folder.PathOf("night.parquet");
        (int code, _, string error) = await CommandLineTests.RunAsync("export", Write(readings), "--out", path);
        Assert.True(code == ExitCode.Done, error);

        FrameAxis axis = FrameAxis.Even(16);
        EngineInput[] frames = [.. readings.Where(i => i.Kind == InputKind.Frame)];
        using var file = new ParquetFileReader(_folder.PathOf("night.timing.frames.parquet"));
        Assert.Equal("ns", file.FileMetaData.KeyValueMetadata["driftwatch.unit"]);
        var points = frames.SelectMany(f => Enumerable.Range(0, 64).Select(i => (Input: f, Point: i))).ToList();
        Assert.Equal(points.Select(p => (StartUtc + p.Input.Time.Nanoseconds) / 1000), Column<long>(file, 0, physical: true));
        Assert.Equal(points.Select(p => (double?)p.Input.Frame.Sequence), Column<double?>(file, 1));
        Assert.Equal(points.Select(p => (double?)p.Input.Frame.TachAngleDegrees), Column<double?>(file, 2));
        Assert.Equal(points.Select(p => (double?)axis.Heads[p.Point]), Column<double?>(file, 3));
        Assert.Equal(points.Select(p => (double?)axis.AnglesDegrees[p.Point]), Column<double?>(file, 4));
        Assert.Equal(points.Select(p => (double?)p.Input.Frame.Values[p.Point]), Column<double?>(file, 5));
    }

    /// <summary>Of many benches one table: a row a reading in the same columns, the months in files of their own.</summary>
    [Fact]
    public async Task A_fleet_s_rows_are_the_readings_in_the_order_of_time()
    {
        const long beforeMidnight = 1_774_998_000_000_000_000; // 2026-03-31T23:00:00Z
        List<EngineInput> readings = Readings(new Random(11));
        string folder = _folder.PathOf("fleet");
        (int code, _, string error) = await CommandLineTests.RunAsync("export", Write(readings, beforeMidnight), "--format", "fleet", "--out", folder, "--site", "Quarry Lane");
        Assert.True(code == ExitCode.Done, error);

        string bench = Assert.Single(Directory.GetDirectories(folder));
        Assert.Equal(["frames-2026-03.parquet", "frames-2026-04.parquet", "readings-2026-03.parquet", "readings-2026-04.parquet"], Directory.GetFiles(bench).Select(Path.GetFileName).Order(StringComparer.Ordinal));
        EngineInput[] due = [.. readings.Where(i => i.Kind is InputKind.Sample or InputKind.Fault).OrderBy(i => i.Time).ThenBy(i => i.Channel)];
        using var file = new ParquetFileReader(Path.Combine(bench, "readings-2026-03.parquet"));
        using var april = new ParquetFileReader(Path.Combine(bench, "readings-2026-04.parquet"));
        Assert.Equal(due.Count(i => i.Time.Seconds < 3600), file.FileMetaData.NumRows);
        Assert.Equal(
            ["time", "bench", "site", "channel", "unit", "value", "min", "max", "fault"],
            Enumerable.Range(0, file.FileMetaData.NumColumns).Select(i => file.FileMetaData.Schema.Column(i).Name));
        Assert.Equal("fleet-readings/1", file.FileMetaData.KeyValueMetadata["driftwatch.format"]);
        Assert.Equal(due.Select(i => (beforeMidnight + i.Time.Nanoseconds) / 1000), [.. Column<long>(file, 0, physical: true), .. Column<long>(april, 0, physical: true)]);
        Assert.All(Both<string?>(1), id => Assert.Equal(Path.GetFileName(bench), id));
        Assert.All(Both<string?>(2), site => Assert.Equal("Quarry Lane", site));
        Assert.Equal(due.Select(i => i.Channel == 0 ? "air" : "vacuum"), Both<string?>(3));
        Assert.Equal(due.Select(i => i.Channel == 0 ? "psi" : "inH2O"), Both<string?>(4));
        Calibration[] calibrations = [new LineCalibration(25, -12.5), Vacuum];
        Assert.Equal(due.Select(i => i.Reading.IsFault ? null : Bits(calibrations[i.Channel].Convert(i.Reading.Raw))), Both<double?>(5).Select(Bits));
        Assert.Equal(due.Select(i => i.Reading.HasExtremes), Both<double?>(6).Select(v => v is not null));
        Assert.Equal(due.Select(i => i.Reading.IsFault ? i.Reading.Fault.ToSlug() : null), Both<string?>(8));

        T[] Both<T>(int column) => [.. Column<T>(file, column), .. Column<T>(april, column)];
    }

    [Fact]
    public async Task A_store_s_book_of_alarms_lies_beside_its_readings()
    {
        string recording = Path.Combine(PracticeRig.GuideAndHeadTests.RepositoryFile("replay-data"), "tape-lift", "recording.csv.gz");
        string store = _folder.PathOf("store");
        await CommandLineTests.RunAsync("import", recording, "--store", store);
        string folder = _folder.PathOf("fleet");
        (int code, _, string error) = await CommandLineTests.RunAsync("export", store, "--format", "fleet", "--out", folder);
        Assert.True(code == ExitCode.Done, error);
        string bench = Assert.Single(Directory.GetDirectories(folder));
        using var alarms = new ParquetFileReader(Assert.Single(Directory.GetFiles(bench, "alarms-2026-01.parquet"))); // of its month: the next month's export leaves it
        (_, string told, _) = await CommandLineTests.RunAsync("alarms", store, "--json");
        string[] lines = told.Split('\n', StringSplitOptions.RemoveEmptyEntries);
        Assert.NotEmpty(lines);
        Assert.Equal(lines.Length, alarms.FileMetaData.NumRows);
        Assert.All(Column<string?>(alarms, 4).Zip(lines), pair => Assert.Contains($"\"tag\":\"{pair.First}\"", pair.Second, StringComparison.Ordinal));
    }

    [Fact]
    public async Task Of_a_fleet_s_export_without_a_reading_nothing_is_left_and_a_site_elsewhere_is_refused()
    {
        string log = Write(Readings(new Random(5)));
        string folder = _folder.PathOf("none");
        (int code, _, string error) = await CommandLineTests.RunAsync("export", log, "--format", "fleet", "--out", folder, "--from", "2027-01-01T00:00:00Z");
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains("nothing was written", error, StringComparison.Ordinal);
        Assert.False(Directory.Exists(folder));
        (code, _, error) = await CommandLineTests.RunAsync("export", log, "--out", _folder.PathOf("night.csv"), "--site", "annex");
        Assert.Equal(ExitCode.Usage, code);
        Assert.Contains("--format fleet", error, StringComparison.Ordinal);
    }

    /// <summary>A part of a month, fewer channels, another site, a store that has less by now: what lies there stays, to the byte.</summary>
    [Theory]
    [InlineData("A part", "it holds what was recorded from 2026-03-01T21:00:00.000Z to 2026-03-01T22:5", "--from", "2026-03-01T21:30:00Z")]
    [InlineData("The other part", "and this export only from 2026-03-01T21:00:00.000Z to 2026-03-01T22:29:", "--to", "2026-03-01T22:30:00Z")]
    [InlineData("A channel", "leaves out: vacuum", "--channels", "air,timing")]
    [InlineData("Another site", "site Quarry Lane, these are of site annex", "--site", "annex")]
    public async Task A_fleet_s_file_is_not_replaced_by_one_that_holds_less(string what, string said, params string[] with)
    {
        string log = Write(Readings(new Random(11)));
        string folder = _folder.PathOf("fleet");
        string[] all = ["export", log, "--format", "fleet", "--out", folder];
        (int code, _, string error) = await CommandLineTests.RunAsync([.. all, "--site", "Quarry Lane"]);
        Assert.True(code == ExitCode.Done, error);
        string bench = Assert.Single(Directory.GetDirectories(folder));
        Dictionary<string, byte[]> before = Directory.GetFiles(bench).ToDictionary(f => f, File.ReadAllBytes);

        string[] site = what == "Another site" ? [] : ["--site", "Quarry Lane"];
        (code, _, error) = await CommandLineTests.RunAsync([.. all, .. site, .. with]);
        Assert.True(code == ExitCode.BadInput, $"{what}: {code} {error}");
        Assert.Contains("-2026-03.parquet would lose something", error, StringComparison.Ordinal);
        Assert.True(error.Contains(said, StringComparison.Ordinal), error);
        Assert.Contains("--from 2026-03-01T00:00:00Z --to 2026-04-01T00:00:00Z", error, StringComparison.Ordinal);
        Assert.Equal(before.Keys.Order(StringComparer.Ordinal), Directory.GetFiles(bench).Order(StringComparer.Ordinal));
        Assert.All(before, f => Assert.Equal(f.Value, File.ReadAllBytes(f.Key)));

        (code, _, error) = await CommandLineTests.RunAsync([.. all, "--site", "Quarry Lane", "--from", "2026-03-01T00:00:00Z", "--to", "2026-04-01T00:00:00Z"]);
        Assert.True(code == ExitCode.Done, error);
    }

    /// <summary>A file of a part, as an export in the middle of the month leaves it, and one from before channels stood in the metadata: the whole month replaces both.</summary>
    [Fact]
    public async Task A_fleet_s_file_of_a_part_is_replaced_by_the_whole_and_what_is_no_parquet_is_left()
    {
        string log = Write(Readings(new Random(11)));
        string folder = _folder.PathOf("fleet");
        string[] all = ["export", log, "--format", "fleet", "--out", folder];
        (int code, _, string error) = await CommandLineTests.RunAsync([.. all, "--from", "2026-03-01T21:30:00Z", "--channels", "vacuum"]);
        Assert.True(code == ExitCode.Done, error);
        (code, _, error) = await CommandLineTests.RunAsync(all);
        Assert.True(code == ExitCode.Done, error);
        string readings = Directory.GetFiles(Assert.Single(Directory.GetDirectories(folder)), "readings-*").Single();
        using (var file = new ParquetFileReader(readings))
        {
            Assert.Equal("air,vacuum", file.FileMetaData.KeyValueMetadata["driftwatch.channels"]);
            Assert.Equal("", file.FileMetaData.KeyValueMetadata["driftwatch.site"]);
        }

        // One of before its span stood in the metadata is asked for its times.
        ParquetTable old = await ParquetTable.CreateAsync(readings, [new TimeColumn("time")], new Dictionary<string, string>(StringComparer.Ordinal) { ["driftwatch.format"] = "fleet-readings/1" });
        old.Time(0, StartUtc - 3_600_000_000_000);
        await old.EndRowAsync();
        old.Time(0, StartUtc);
        await old.EndRowAsync();
        await old.CompleteAsync();
        (code, _, error) = await CommandLineTests.RunAsync(all);
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains("from 2026-03-01T20:00:00.000Z to 2026-03-01T21:00:00.000Z, and this export only from 2026-03-01T21:00:00.000Z on", error, StringComparison.Ordinal);

        File.WriteAllText(readings, "somebody's notes");
        (code, _, error) = await CommandLineTests.RunAsync(all);
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains("can't be read as Parquet", error, StringComparison.Ordinal);
        Assert.Equal("somebody's notes", File.ReadAllText(readings));
    }

    private static void AssertChannel(
        List<EngineInput> readings, int key, Calibration calibration, double?[] values, double?[] minima, double?[] maxima, string?[] faults, string what)
    {
        var byRow = readings.Where(i => i.Channel == key && i.Kind is InputKind.Sample or InputKind.Fault)
            .ToDictionary(i => (int)(i.Time.Nanoseconds / EngineTime.TickGridNanoseconds), i => i.Reading);
        for (int row = 0; row < Rows; row++)
        {
            bool read = byRow.TryGetValue(row, out Reading reading) && !reading.IsFault;
            double? value = read ? calibration.Convert(reading.Raw) : null;
            double? least = read && reading.HasExtremes ? Math.Min(value!.Value, calibration.Convert(reading.Minimum)) : null;
            double? most = read && reading.HasExtremes ? Math.Max(value!.Value, calibration.Convert(reading.Maximum)) : null;
            string? fault = byRow.ContainsKey(row) && reading.IsFault ? reading.Fault.ToSlug() : null;
            bool same = Bits(value) == Bits(values[row]) && Bits(least) == Bits(minima[row]) && Bits(most) == Bits(maxima[row]) && fault == faults[row];
            Assert.True(same, $"{what}, row {row}: expected {value} {least} {most} {fault}, got {values[row]} {minima[row]} {maxima[row]} {faults[row]}");
        }
    }

    private static long? Bits(double? value) => value is { } known ? BitConverter.DoubleToInt64Bits(known) : null;

    private static T[] Column<T>(ParquetFileReader file, int column, bool physical = false)
    {
        var all = new List<T>();
        for (int i = 0; i < file.FileMetaData.NumRowGroups; i++)
        {
            using RowGroupReader group = file.RowGroup(i);
            int count = checked((int)group.MetaData.NumRows);
            using ColumnReader reader = group.Column(column);
            if (physical)
            {
                var values = new long[count];
                Assert.Equal(count, ((ColumnReader<long>)reader).ReadBatch(count, values, out long read));
                Assert.Equal(count, read);
                all.AddRange((T[])(object)values);
            }
            else
            {
                using LogicalColumnReader<T> logical = reader.LogicalReader<T>();
                all.AddRange(logical.ReadAll(count));
            }
        }

        return [.. all];
    }

    /// <summary>Air and vacuum at 10 Hz with extremes, faults, missing readings and every kind of number; a frame now and then.</summary>
    private static List<EngineInput> Readings(Random random)
    {
        double[] odd = [0.5, -0.0, 1e-300, 0.1 + 0.2, 4.9e-324, 1e15 + 0.5];
        var inputs = new List<EngineInput>();
        for (int i = 0; i < Rows; i++)
        {
            var time = new EngineTime(i * EngineTime.TickGridNanoseconds);
            double raw = i < odd.Length ? odd[i] : 0.5 + (random.NextDouble() * 4);
            Reading air = i % FaultEvery == 5 ? Reading.Failed((FaultCode)(i / FaultEvery % 14))
                : i % 3 == 0 ? Reading.Of(raw, raw - random.NextDouble(), raw + random.NextDouble())
                : Reading.Of(raw);
            inputs.Add(EngineInput.OfReading(time, 0, air));
            if (i % MissingEvery != 7)
            {
                inputs.Add(EngineInput.OfReading(time, 1, Reading.Of(0.5 + (random.NextDouble() * 4))));
            }

            if (i % 500 == 0)
            {
                inputs.Add(EngineInput.OfFrame(time, 2, new Frame((uint)i, random.NextDouble() * 360, [.. Enumerable.Range(0, 64).Select(_ => random.NextDouble() - 0.5)])));
            }
        }

        return inputs;
    }

    private string Write(List<EngineInput> readings, long startUtc = StartUtc)
    {
        BenchDefinition bench = RecordingFolder.Bench("air", "vacuum", "timing");
        bench = bench with
        {
            Channels =
            [
                bench.Channels[0] with { Key = 0, Label = "Air at 20 °C, µ-filtered" },
                bench.Channels[1] with { Key = 1, Unit = "inH2O", Calibration = Vacuum },
                bench.Channels[2] with { Key = 2, Axis = FrameAxis.Even(16), Calibration = LineCalibration.Identity },
            ],
        };
        string path = _folder.PathOf("night.dwlog");
        using FileStream file = File.Create(path);
        using var writer = new EngineLogWriter(file, gzip: false);
        long number = 0;
        writer.Write(EngineInput.OfClock(default, new ClockEvent(ClockEventKind.Started, new TimeAnchor(default, startUtc))) with { Number = ++number });
        writer.Write(EngineInput.OfBench(default, bench) with { Number = ++number });
        foreach (EngineInput input in readings)
        {
            writer.Write(input with { Number = ++number });
        }

        writer.Complete();
        return path;
    }
}
