using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;
using Xunit;
using Xunit.Abstractions;

namespace DriftWatch.Tests.Storage;

/// <summary>What went into the log comes out of it, in the same order and to the bit, whatever has become of its minutes.</summary>
public sealed class RoundTripTests(ITestOutputHelper output)
{
    private static readonly DateTimeOffset NewYearsEve = new(2025, 12, 31, 22, 30, 0, TimeSpan.Zero);

    [Fact]
    public void A_night_with_everything_in_it_comes_back_to_the_bit_over_seal_merge_month_and_wall_step()
    {
        int seed = Environment.TickCount;
        output.WriteLine($"seed {seed}");
        var random = new Random(seed);
        IReadOnlyList<EngineInput> log = ANight(random);
        using var folder = new StoreFolder();
        using (BenchStore store = folder.Open())
        {
            AppendInPieces(store, log, random);
            LogAssert.Equal(log, store.ReadInputs(0).ToList());
            Assert.True(store.MergeDue() > 3);
            LogAssert.Equal(log, store.ReadInputs(0).ToList());
            Assert.Equal(0, store.MergeDue());
        }

        Assert.Equal(["2025-12.db", "2026-01.db"], MonthFiles(folder.Path));
        using (BenchStore store = folder.Open())
        {
            Assert.Equal(log[^1].Number, store.LastNumber);
            LogAssert.Equal(log, store.ReadInputs(0).ToList());
            long middle = log[log.Count / 2].Number;
            LogAssert.Equal(log.Skip(log.Count / 2 + 1).ToList(), store.ReadInputs(middle).ToList());
            Assert.Empty(store.VerifyClosed());
            Assert.Equal(5, store.Anchors.Anchors.Count);
        }
    }

    [Fact]
    public void A_wall_clock_that_steps_back_over_the_month_goes_on_in_the_old_file_and_keeps_the_order()
    {
        using var folder = new StoreFolder();
        var log = new LogMaker();
        var random = new Random(3);
        log.Start(default, new DateTimeOffset(2026, 1, 31, 23, 59, 30, TimeSpan.Zero), LogMaker.Bench(2));
        log.Run(default, 100, 2, random);
        log.Start(EngineTime.FromSeconds(101), new DateTimeOffset(2026, 1, 31, 23, 0, 0, TimeSpan.Zero), kind: ClockEventKind.WallStep);
        log.Run(EngineTime.FromSeconds(101), 100, 2, random);
        log.Start(EngineTime.FromSeconds(202), new DateTimeOffset(2026, 2, 1, 0, 5, 0, TimeSpan.Zero), kind: ClockEventKind.WallStep);
        log.Run(EngineTime.FromSeconds(202), 100, 2, random);
        using BenchStore store = folder.Open();
        AppendInPieces(store, log.Inputs, random);
        Assert.Equal(["2026-01.db", "2026-02.db"], MonthFiles(folder.Path));
        LogAssert.Equal(log.Inputs, store.ReadInputs(0).ToList());
        store.MergeDue();
        LogAssert.Equal(log.Inputs, store.ReadInputs(0).ToList());
    }

    [Fact]
    public void A_minute_out_of_order_is_kept_as_it_was_given()
    {
        using var folder = new StoreFolder();
        var log = new LogMaker();
        log.Start(default, NewYearsEve);
        log.Add(EngineInput.OfReading(EngineTime.FromSeconds(2), 1, Reading.Of(2)));
        log.Add(EngineInput.OfReading(EngineTime.FromSeconds(1), 1, Reading.Of(1)));
        log.Add(EngineInput.OfReading(EngineTime.FromSeconds(1), 1, Reading.Of(1)));
        log.Add(EngineInput.OfTick(new EngineTime(2_000_000_001)));
        log.Add(EngineInput.OfReading(EngineTime.FromSeconds(4000), 1, Reading.Of(1)));
        using BenchStore store = folder.Open();
        store.Append(log.Inputs.ToArray());
        LogAssert.Equal(log.Inputs, store.ReadInputs(0).ToList());
        store.MergeDue();
        LogAssert.Equal(log.Inputs, store.ReadInputs(0).ToList());
    }

    internal static string[] MonthFiles(string folder) =>
        [.. Directory.GetFiles(folder, "????-??.db").Select(path => Path.GetFileName(path)).Order(StringComparer.Ordinal)];

    internal static void AppendInPieces(BenchStore store, IReadOnlyList<EngineInput> log, Random random)
    {
        EngineInput[] all = [.. log];
        for (int at = 0; at < all.Length;)
        {
            int count = Math.Min(all.Length - at, random.Next(1, 2500));
            store.Append(all.AsSpan(at, count));
            at += count;
        }
    }

    /// <summary>Two hours over the turn of the year: extremes, faults, frames, late ones, a calibration, a command, a reload, a step, a restart.</summary>
    internal static IReadOnlyList<EngineInput> ANight(Random random)
    {
        var log = new LogMaker();
        log.Start(default, NewYearsEve, LogMaker.Bench(4));
        log.Run(default, 1800, 4, random);
        EngineTime at = log.Inputs[^1].Time;
        log.Add(EngineInput.OfCalibration(at + TimeSpan.FromMilliseconds(50), 2, new LineCalibration(12.6, -1.2) { Version = 2 }));
        log.Run(at, 30.05, 4, random, extremes: true, faults: 0.05);
        log.Add(EngineInput.OfReading(at + TimeSpan.FromMilliseconds(3), 1, Reading.Of(-0.0)), late: true);
        log.Add(EngineInput.OfReading(at + TimeSpan.FromMilliseconds(4), 1, Reading.Of(1, 0.5, 2)), late: true);
        log.Add(EngineInput.OfReading(at + TimeSpan.FromMilliseconds(5), 1, Reading.Failed(FaultCode.Garbled)), late: true);
        log.Add(EngineInput.OfFrame(at + TimeSpan.FromMilliseconds(6), 9, new Frame(7, 1.5, [1, -0.0, 3])), late: true);
        log.Add(EngineInput.OfCommand(
            log.Inputs.Last(i => !i.IsLate).Time + TimeSpan.FromMilliseconds(1),
            new MarkCommand { Id = Guid.CreateVersion7(), By = "night shift", Note = "tape 14 threaded" }));
        for (int i = 1; i <= 400; i++)
        {
            EngineTime now = at + TimeSpan.FromSeconds(31) + TimeSpan.FromMilliseconds(250 * i);
            var values = new double[64];
            for (int point = 0; point < values.Length; point++)
            {
                values[point] = i % 7 == 0 ? random.NextDouble() : Math.Round(20 * Math.Sin(point), 1) + (random.Next(3) / 10.0);
            }

            log.Add(i % 50 == 0
                ? EngineInput.OfReading(now, 9, Reading.Failed(FaultCode.BadChecksum))
                : EngineInput.OfFrame(now, 9, new Frame(uint.MaxValue - 200 + (uint)i, i % 360, values)));
        }

        at = log.Inputs[^1].Time;
        log.Start(at + TimeSpan.FromSeconds(1), NewYearsEve.AddMinutes(33), kind: ClockEventKind.WallStep);
        log.Run(at + TimeSpan.FromSeconds(1), 4000, 4, random, extremes: true);
        at = log.Inputs[^1].Time;
        log.Start(at + TimeSpan.FromSeconds(1), NewYearsEve.AddMinutes(101), kind: ClockEventKind.Renewed);
        log.Run(at + TimeSpan.FromSeconds(1), 300, 4, random);
        log.Add(EngineInput.OfClock(
            log.Inputs[^1].Time, new ClockEvent(ClockEventKind.Stopped, new TimeAnchor(log.Inputs[^1].Time, UtcText.ToNanoseconds(NewYearsEve.AddMinutes(107))))));
        at = log.Inputs[^1].Time;
        log.Start(at, NewYearsEve.AddMinutes(120), LogMaker.Bench(4, calibrationVersion: 3, hash: "11aa"));
        log.Run(at, 200, 4, random, faults: 0.5);
        return log.Inputs;
    }
}
