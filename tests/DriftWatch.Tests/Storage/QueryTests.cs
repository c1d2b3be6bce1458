using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using Microsoft.Extensions.Time.Testing;
using Xunit;

namespace DriftWatch.Tests.Storage;

public sealed class QueryTests
{
    [Theory]
    [InlineData(0, 7000, 10)] // hours over: minutes rolled up
    [InlineData(0, 7000, 400)] // seconds
    [InlineData(0, 7000, 5000)] // raw
    [InlineData(1795, 1900, 37)] // calibration inside
    [InlineData(-500, 20000, 3)]
    public void Buckets_equal_those_computed_from_raw_before_and_after_merging(double fromSeconds, double toSeconds, int count)
    {
        IReadOnlyList<EngineInput> log = RoundTripTests.ANight(new Random(12));
        using var folder = new StoreFolder();
        using BenchStore store = folder.Open();
        RoundTripTests.AppendInPieces(store, log, new Random(1));
        using BenchReader reader = store.OpenReader();
        for (int pass = 0; pass < 2; pass++)
        {
            for (int channel = 0; channel < 4; channel++)
            {
                IReadOnlyList<RawBucket> buckets = reader.ReadBuckets(
                    channel, EngineTime.FromSeconds(fromSeconds), EngineTime.FromSeconds(toSeconds), count);
                Assert.NotEmpty(buckets);
                Assert.True(buckets.Select(bucket => bucket.From).Distinct().Count() <= count);
                long counted = 0;
                foreach (RawBucket bucket in buckets)
                {
                    List<StoredReading> raw = [.. reader.ReadSeries(channel, bucket.From, bucket.To).Readings.Where(r => r.Version == bucket.Version)];
                    List<Reading> values = [.. raw.Select(r => r.Reading).Where(r => !r.IsFault)];
                    Assert.Equal(values.Count, bucket.Count);
                    Assert.Equal(raw.Count - values.Count, bucket.Faults);
                    Assert.Equal(raw.Count(r => r.IsLate), bucket.Late);
                    counted += raw.Count;
                    if (values.Count > 0)
                    {
                        Assert.Equal(values.Min(r => r.Minimum), bucket.Minimum);
                        Assert.Equal(values.Max(r => r.Maximum), bucket.Maximum);
                        Assert.Equal(values.Sum(r => r.Raw), bucket.Sum, 1e-9 * values.Count);
                    }

                    Assert.InRange(bucket.Watched, 0, 1);
                }

                EngineTime from = buckets[0].From;
                Assert.Equal(reader.ReadSeries(channel, from, buckets[^1].To).Readings.Count, counted);
                if (count == 5000)
                {
                    break; // one channel shows it; 5,000 series reads are slow
                }
            }

            store.MergeDue();
        }
    }

    [Fact]
    public void A_series_tells_faults_late_readings_and_calibration_versions_in_order_of_time()
    {
        IReadOnlyList<EngineInput> log = RoundTripTests.ANight(new Random(13));
        using var folder = new StoreFolder();
        using BenchStore store = folder.Open();
        store.Append(log.ToArray());
        using BenchReader reader = store.OpenReader();
        for (int channel = 1; channel <= 2; channel++)
        {
            Series series = reader.ReadSeries(channel, EngineTime.MinValue, EngineTime.MaxValue);
            List<EngineInput> expected = [.. log.Where(i => i.Channel == channel && i.Kind is InputKind.Sample or InputKind.Fault).OrderBy(i => i.Time)];
            Assert.Equal(expected.Select(i => i.Time), series.Readings.Select(r => r.At));
            Assert.Equal(expected.Select(i => i.IsLate), series.Readings.Select(r => r.IsLate));
            Assert.Equal(expected.Select(i => i.Reading), series.Readings.Select(r => r.Reading));
            Assert.Equal(expected.Count(i => i.Reading.IsFault), series.FaultRuns.Sum(run => run.To - run.From));
            Assert.Equal(channel == 2 ? [1, 2, 3] : [1, 3], series.VersionSpans.Select(span => span.Version));
            Assert.Empty(series.Damage);
        }

        Assert.Equal(
            log.Where(i => i.Kind == InputKind.Frame).OrderBy(i => i.Time).Select(i => i.Frame),
            reader.ReadFrames(9, EngineTime.MinValue, EngineTime.MaxValue).Select(frame => frame.Frame));
        Assert.Equal(2, reader.BenchVersions().Count);
        Assert.Equal(3, reader.BenchByHash("11aa")!.Channels[0].Calibration.Version);
        Assert.Null(reader.BenchByHash("22bb"));
        Assert.Equal(new LineCalibration(12.6, -1.2) { Version = 2 }, Assert.Single(reader.Calibrations()).Calibration);
        Assert.Equal("night shift", Assert.Single(reader.Commands(0, 10)).Command.By);
        Assert.Equal(3, reader.StoredSpans().Count); // a wall step and a restart part them
        Assert.Equal(store.Anchors.Anchors, reader.ReadAnchors().Anchors);
    }

    [Fact]
    public void Findings_are_paged_by_cursor_and_the_newest_come_last()
    {
        using var folder = new StoreFolder();
        using BenchStore store = folder.Open();
        for (int i = 1; i <= 10; i++)
        {
            store.CommitJudged(i, [], "b", [BenchStoreTests.Line($"f-{i}", default, i)]);
        }

        using BenchReader reader = store.OpenReader();
        IReadOnlyList<StoredFinding> page = reader.Findings(0, 4);
        Assert.Equal(["f-1", "f-2", "f-3", "f-4"], page.Select(row => row.Line.Id));
        Assert.Equal(["f-5", "f-6"], reader.Findings(page[^1].Cursor, 2).Select(row => row.Line.Id));
        Assert.Equal(["f-9", "f-10"], reader.LatestFindings(2).Select(row => row.Line.Id));
        Assert.Equal(BenchStoreTests.Line("f-1", default, 1).Details, page[0].Line.Details);
    }

    [Fact]
    public void Retention_drops_old_raw_readings_keeps_their_rollups_and_deletes_older_months()
    {
        using var folder = new StoreFolder();
        var time = new FakeTimeProvider(new DateTimeOffset(2026, 4, 15, 0, 0, 0, TimeSpan.Zero));
        var log = new LogMaker();
        var random = new Random(2);
        for (int month = 1; month <= 4; month++)
        {
            EngineTime at = EngineTime.FromSeconds(10_000 * month);
            log.Start(at, new DateTimeOffset(2026, month, 10, 0, 0, 0, TimeSpan.Zero), LogMaker.Bench(1));
            log.Run(at, 120, 1, random);
        }

        using BenchStore store = folder.Open(new BenchStoreOptions
        {
            BallastBytes = 0,
            TimeProvider = time,
            Retention = new() { RawMonths = 1, RollupMonths = 2 },
        });
        store.Append(log.Inputs.ToArray());
        Measurement.Alarms.AlarmTransition[] book = [AlarmStoreTests.Line(1, 0) with { AtUtc = UtcText.ToNanoseconds(new DateTimeOffset(2026, 1, 10, 0, 1, 0, TimeSpan.Zero)) }, AlarmStoreTests.Line(log.Inputs.Count, 0)];
        store.CommitJudged(log.Inputs.Count, [1], "build", [], book);
        store.MergeDue();
        using BenchReader reader = store.OpenReader();
        EngineTime february = EngineTime.FromSeconds(20_000);
        RawBucket before = Assert.Single(reader.ReadBuckets(0, february, february + TimeSpan.FromMinutes(10), 1));
        Assert.Equal(2, store.RetainDue().Count);
        Assert.Equal(["2026-02.db", "2026-03.db", "2026-04.db"], RoundTripTests.MonthFiles(folder.Path));
        Assert.Empty(reader.ReadSeries(0, february, february + TimeSpan.FromMinutes(10)).Readings);
        Assert.Equal(before, Assert.Single(reader.ReadBuckets(0, february, february + TimeSpan.FromMinutes(10), 1)));
        Assert.NotEmpty(reader.ReadSeries(0, EngineTime.FromSeconds(30_000), EngineTime.FromSeconds(30_100)).Readings);
        StoreException expired = Assert.Throws<StoreException>(() => store.ReadInputs(0).Count());
        Assert.Contains("expired", expired.Message, StringComparison.Ordinal);
        Assert.Empty(store.RetainDue());
        Assert.Equal(4, store.Anchors.Anchors.Count);
        Assert.Equal(book, reader.Alarms(0, 10).Select(a => a.Line)); // the book of alarms never expires
    }

    [Fact]
    public void The_records_are_copied_once_an_hour()
    {
        using var folder = new StoreFolder();
        var time = new FakeTimeProvider(new DateTimeOffset(2026, 4, 15, 0, 0, 0, TimeSpan.Zero));
        using BenchStore store = folder.Open(new BenchStoreOptions { BallastBytes = 0, TimeProvider = time });
        Assert.False(store.CopyRecordsDue()); // the first copy was made at opening
        time.Advance(TimeSpan.FromMinutes(61));
        Assert.True(store.CopyRecordsDue());
        Assert.False(store.CopyRecordsDue());
    }

    [Fact]
    public void What_waits_in_the_journal_is_sealed_when_its_minute_is_over()
    {
        using var folder = new StoreFolder();
        var start = new DateTimeOffset(2026, 4, 15, 0, 0, 0, TimeSpan.Zero);
        var time = new FakeTimeProvider(start);
        using BenchStore store = folder.Open(new BenchStoreOptions { BallastBytes = 0, TimeProvider = time });
        var log = new LogMaker();
        log.Start(default, start);
        log.Run(default, 10, 2, new Random(1));
        store.Append(log.Inputs.ToArray());
        Assert.False(store.SealDue());
        time.Advance(TimeSpan.FromSeconds(61));
        Assert.True(store.SealDue());
        Assert.False(store.SealDue());
        LogAssert.Equal(log.Inputs, store.ReadInputs(0).ToList());
    }
}
