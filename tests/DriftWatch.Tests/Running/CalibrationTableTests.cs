using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using DriftWatch.Tests.Storage;

namespace DriftWatch.Tests.Running;

/// <summary>Which calibration a reading is shown under: the one of its day, whatever was entered or edited since.</summary>
public sealed class CalibrationTableTests
{
    private static readonly DateTimeOffset Noon = new(2026, 3, 14, 12, 0, 0, TimeSpan.Zero);

    private static readonly Calibration First = new LineCalibration(10, 0);
    private static readonly Calibration Second = new LineCalibration(20, 1);

    [Fact]
    public void A_channel_that_nobody_calibrated_is_shown_raw() => Assert.Equal(3.5, CalibrationTable.Empty[7].Convert(3.5));

    [Fact]
    public void A_calibration_that_was_entered_is_in_force_and_the_one_before_it_stays_known()
    {
        CalibrationTable table = CalibrationTable.Empty.After(EngineInput.OfBench(default, Bench(First)))
            .After(EngineInput.OfCalibration(default, 0, Second with { Version = 2 }));
        Assert.Equal(21, table[0].Convert(1));
        Assert.Equal(10, table.Of(0, 1).Convert(1));
        Assert.Equal(21, table.Of(0, 2).Convert(1));
        Assert.Equal(21, table.Of(0, 9).Convert(1)); // of a version nobody knows: the one in force
    }

    [Fact]
    public void Reading_an_unchanged_bench_file_again_does_not_undo_what_was_entered()
    {
        CalibrationTable table = CalibrationTable.Empty.WithBench(Bench(First)).With(0, Second with { Version = 2 });
        BenchDefinition again = table.Number(Bench(First));
        Assert.Equal(1, again.Channels[0].Calibration.Version);
        Assert.Equal(21, table.WithBench(again)[0].Convert(1));
    }

    [Fact]
    public void An_edited_calibration_takes_the_next_version_and_one_edited_back_a_further_one()
    {
        CalibrationTable table = CalibrationTable.Empty.WithBench(Bench(First));
        BenchDefinition edited = table.Number(Bench(Second));
        Assert.Equal(2, edited.Channels[0].Calibration.Version);
        table = table.WithBench(edited);
        BenchDefinition back = table.Number(Bench(First));
        Assert.Equal(3, back.Channels[0].Calibration.Version);
        table = table.WithBench(back);
        Assert.Equal([10, 21, 10], new[] { 1, 2, 3 }.Select(v => table.Of(0, v).Convert(1)));
    }

    [Fact]
    public void An_edit_after_an_entered_calibration_comes_after_it_and_is_in_force()
    {
        CalibrationTable table = CalibrationTable.Empty.WithBench(Bench(First)).With(0, Second with { Version = 2 });
        BenchDefinition edited = table.Number(Bench(new LineCalibration(30, 0)));
        Assert.Equal(3, edited.Channels[0].Calibration.Version);
        Assert.Equal(30, table.WithBench(edited)[0].Convert(1));
    }

    [Fact]
    public void Another_note_is_no_other_calibration_and_lists_are_compared_by_their_numbers()
    {
        static TableCalibration Points(double last) => new([0.5, 2.5, 4.5], [0, 12.4, last]);
        CalibrationTable table = CalibrationTable.Empty.WithBench(Bench(Points(25)));
        Assert.Equal(1, table.Number(Bench(Points(25) with { Note = "dead-weight tester" })).Channels[0].Calibration.Version);
        Assert.Equal(2, table.Number(Bench(Points(25.1))).Channels[0].Calibration.Version);
    }

    [Fact]
    public void A_channel_that_was_away_and_returns_keeps_its_versions()
    {
        CalibrationTable table = CalibrationTable.Empty.WithBench(Bench(First)).WithBench(Bench());
        Assert.Equal(1, table.Number(Bench(First)).Channels[0].Calibration.Version);
        Assert.Equal(2, table.Number(Bench(Second)).Channels[0].Calibration.Version);
    }

    [Fact]
    public void A_store_that_is_opened_again_knows_the_calibration_of_each_stretch()
    {
        using var folder = new StoreFolder();
        var log = new LogMaker();
        log.Start(default, Noon, Bench(First));
        log.Run(default, 1, 1, new Random(1));
        log.Start(EngineTime.FromSeconds(2), Noon.AddSeconds(2), Bench(Second with { Version = 2 }));
        log.Add(EngineInput.OfCalibration(EngineTime.FromSeconds(3), 0, new LineCalibration(30, 0) { Version = 3 }));
        log.Start(EngineTime.FromSeconds(4), Noon.AddSeconds(4), Bench(Second with { Version = 2 })); // a restart: the file is as it was
        log.Run(EngineTime.FromSeconds(4), 1, 1, new Random(1));
        using (BenchStore store = folder.Open())
        {
            store.Append([.. log.Inputs]);
        }

        using BenchStore again = folder.Open();
        using BenchReader reader = again.OpenReader();
        CalibrationTable table = CalibrationTable.Of(reader);
        Assert.Equal([10, 21, 30], new[] { 1, 2, 3 }.Select(v => table.Of(0, v).Convert(1)));
        Assert.Equal(30, table[0].Convert(1));
        Assert.Equal(2, table.Number(Bench(Second)).Channels[0].Calibration.Version);

        // What is measured after the restart is measured under version 3, by the store's reckoning too: in the journal,
        // and in minutes sealed by this opening and the next.
        Assert.Equal([1, 3], VersionsIn(reader));
        Append(again, 5, 70);
        Assert.Equal([1, 3], VersionsIn(reader));
        again.Dispose();
        using BenchStore third = folder.Open();
        Append(third, 80, 140);
        Assert.Equal([1, 3], VersionsIn(reader));

        // An edit of the file comes after what was entered, and stays so over the next opening.
        third.Append([EngineInput.OfBench(EngineTime.FromSeconds(141), Bench(First with { Version = 4 })) with { Number = third.LastNumber + 1 }]);
        Append(third, 142, 260);
        third.Dispose();
        using BenchStore fourth = folder.Open();
        Append(fourth, 270, 390);
        Assert.Equal([1, 3, 4], VersionsIn(reader));
        Assert.Equal(4, reader.ReadSeries(0, EngineTime.FromSeconds(270), EngineTime.FromSeconds(390)).Readings.Min(r => r.Version));
    }

    private static void Append(BenchStore store, double from, double to)
    {
        var log = new LogMaker(store.LastNumber + 1);
        log.Run(EngineTime.FromSeconds(from), to - from, 1, new Random(2));
        store.Append([.. log.Inputs]);
    }

    private static IEnumerable<int> VersionsIn(BenchReader reader) =>
        reader.ReadSeries(0, EngineTime.MinValue, EngineTime.MaxValue).Readings.Select(r => r.Version).Distinct();

    private static BenchDefinition Bench(params Calibration[] calibrations)
    {
        BenchDefinition bench = LogMaker.Bench(calibrations.Length);
        return bench with { Channels = [.. bench.Channels.Select((c, i) => c with { Calibration = calibrations[i] })] };
    }
}
