using System.Globalization;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;
using DriftWatch.Storage.Codec;
using DriftWatch.Storage.Months;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Benchmarks.Bed;

/// <summary>
/// A store of a bench that was watched for months without a break: slow walks with noise, a reading of every channel each ten seconds,
/// a tick each 100 ms.
/// </summary>
/// <remarks>
/// Its 315 million ticks a year are not fed one by one: an hour's segment holds them as a range, so the segments that minutes would have been
/// merged into are built as such, with the store's own columns, rollups and month files. It reads the same rows as from a store that grew.
/// Opening it as a writer proves that its numbers have no gap.
/// </remarks>
internal static class LongStore
{
    private const long Second = EngineTime.NanosecondsPerSecond;
    private const long Hour = 3600 * Second;
    private const long Step = 10 * Second;
    private const int HourLevel = 1;

    private static readonly BenchStoreOptions Options = new() { BallastBytes = 0 };

    /// <param name="folder">Empty.</param>
    /// <param name="bench">Whose series are read.</param>
    /// <param name="begins">A full hour of UTC.</param>
    /// <param name="hours">How many.</param>
    public static void Make(string folder, BenchDefinition bench, DateTimeOffset begins, int hours)
    {
        EngineInput[] start =
        [
            EngineInput.OfClock(default, new ClockEvent(ClockEventKind.Started, new TimeAnchor(default, UtcText.ToNanoseconds(begins)))) with { Number = 1 },
            EngineInput.OfBench(default, bench) with { Number = 2 },
        ];
        using (BenchStore store = BenchStore.Open(folder, Options))
        {
            store.Append(start); // enters them in the records, and in the journal from which the first hour takes them
        }

        long last = Write(folder, new Walks(bench), start, begins, hours);
        using BenchStore written = BenchStore.Open(folder, Options);
        if (written.LastNumber != last)
        {
            throw new InvalidOperationException($"The store ends at input {written.LastNumber}, but {last} were written.");
        }
    }

    private static long Write(string folder, Walks walks, EngineInput[] start, DateTimeOffset begins, int hours)
    {
        long number = 1;
        MonthFile? month = null;
        try
        {
            for (int hour = 0; hour < hours; hour++)
            {
                string path = Path.Combine(folder, begins.AddHours(hour).ToString("yyyy-MM", CultureInfo.InvariantCulture) + ".db");
                if (month?.Path != path)
                {
                    month?.Dispose();
                    month = MonthFile.Open(path, Options);
                }

                SegmentData segment = walks.Hour(hour, number, hour == 0 ? start : []);
                EncodedSegment encoded = SegmentStore.Encode(segment, [.. RollupColumn.Build(segment)]);
                using SqliteTransaction transaction = month.Connection.BeginTransaction(deferred: false);
                SegmentStore.WriteExplicit(month, transaction, segment, _ => 1);
                MonthFile.Run(month.DeleteJournal, transaction);
                SegmentStore.Write(month, transaction, segment, encoded, month.NextSegmentId++, HourLevel, opaque: null);
                transaction.Commit();
                number = segment.Last + 1;
            }
        }
        finally
        {
            month?.Dispose();
        }

        return number - 1;
    }

    /// <summary>Where each channel stands; it goes on from hour to hour.</summary>
    private sealed class Walks(BenchDefinition bench)
    {
        private readonly Random _random = new(3);
        private readonly double[] _level = [.. bench.Channels.Select(_ => 2.0)];

        public SegmentData Hour(int hour, long first, EngineInput[] noted)
        {
            long begin = hour * LongStore.Hour;
            long tick0 = hour == 0 ? EngineTime.TickGridNanoseconds : begin; // what begins at nought has no tick there
            long tick1 = begin + LongStore.Hour - EngineTime.TickGridNanoseconds;
            SeriesColumn[] series = [.. bench.Channels.Select(c => new SeriesColumn(c.Key, c.Calibration.Version))];
            for (long time = hour == 0 ? Step : begin; time <= tick1; time += Step)
            {
                for (int i = 0; i < series.Length; i++)
                {
                    _level[i] = Math.Clamp(_level[i] + ((_random.NextDouble() - 0.5) * 0.01), 1, 3);
                    double value = Math.Round(_level[i] + ((_random.NextDouble() - 0.5) * 0.02), 3);
                    series[i].Add(EngineInput.OfReading(new EngineTime(time), series[i].Channel, Reading.Of(value)));
                }
            }

            long ticks = ((tick1 - tick0) / EngineTime.TickGridNanoseconds) + 1;
            return new SegmentData
            {
                First = first,
                Last = first + noted.Length + ticks + series.Sum(s => s.Count) - 1,
                Stretch = 1,
                T0 = tick0,
                T1 = tick1,
                Tick0 = tick0,
                Tick1 = tick1,
                Series = series,
                Explicit = noted,
            };
        }
    }
}
