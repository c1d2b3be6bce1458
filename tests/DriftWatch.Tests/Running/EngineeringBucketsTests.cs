using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using DriftWatch.Tests.Storage;

namespace DriftWatch.Tests.Running;

/// <summary>The buckets a plot shows, over a real store: journal, sealed minutes and merged hours alike.</summary>
public sealed class EngineeringBucketsTests
{
    private static readonly DateTimeOffset Noon = new(2026, 3, 14, 12, 0, 0, TimeSpan.Zero);

    private readonly LogMaker _log = new();

    public EngineeringBucketsTests() => _log.Start(default, Noon, LogMaker.Bench(1));

    [Fact]
    public void A_bucket_is_converted_with_its_calibration()
    {
        Sample(1, 2.0);
        Sample(2, 3.0);
        Sample(3, 4.0);
        Bucket bucket = Assert.Single(Read(0, 10, 1, new LineCalibration(10, -5)));
        Assert.Equal((T(0), T(10), 3, 0), (bucket.From, bucket.To, bucket.Count, bucket.Faults));
        Assert.Equal((15.0, 35.0, 25.0), (bucket.Minimum, bucket.Maximum, bucket.Mean));
    }

    [Fact]
    public void The_extremes_inside_a_readings_period_count()
    {
        _log.Add(EngineInput.OfReading(T(1), 0, Reading.Of(2, 1, 4)));
        Bucket bucket = Assert.Single(Read(0, 10, 1, new LineCalibration(10, 0)));
        Assert.Equal((10.0, 40.0, 20.0), (bucket.Minimum, bucket.Maximum, bucket.Mean));
    }

    [Fact]
    public void A_falling_calibration_makes_the_greatest_raw_value_the_minimum()
    {
        Sample(1, 2.0);
        Sample(2, 4.0);
        Bucket bucket = Assert.Single(Read(0, 10, 1, new LineCalibration(-10, 100)));
        Assert.Equal((60.0, 80.0, 70.0), (bucket.Minimum, bucket.Maximum, bucket.Mean));
    }

    [Fact]
    public void Spans_without_readings_are_gaps_and_are_not_filled()
    {
        Sample(1, 2.0);
        Sample(9, 2.0);
        Assert.Equal([T(0), T(8)], Read(0, 10, 5, LineCalibration.Identity).Select(b => b.From));
        Assert.Empty(Read(100, 200, 5, LineCalibration.Identity));
    }

    [Fact]
    public void Faults_are_counted_and_give_no_value_where_there_is_nothing_else()
    {
        _log.Add(EngineInput.OfReading(T(1), 0, Reading.Failed(FaultCode.OpenLoop)));
        _log.Add(EngineInput.OfReading(T(2), 0, Reading.Failed(FaultCode.Garbled)));
        Sample(6, 3.0);
        _log.Add(EngineInput.OfReading(T(7), 0, Reading.Failed(FaultCode.Garbled)));
        IReadOnlyList<Bucket> buckets = Read(0, 10, 2, new LineCalibration(10, 5)); // with 0 for nothing it would show 5
        Assert.Equal([(0, 2), (1, 1)], buckets.Select(b => (b.Count, b.Faults)));
        Assert.True(double.IsNaN(buckets[0].Minimum) && double.IsNaN(buckets[0].Maximum) && double.IsNaN(buckets[0].Mean));
        Assert.Equal((35.0, 35.0, 35.0), (buckets[1].Minimum, buckets[1].Maximum, buckets[1].Mean));
    }

    [Fact]
    public void After_a_recalibration_in_the_middle_of_a_span_each_stretch_has_its_own()
    {
        Sample(1, 1.0);
        Sample(2, 2.0);
        _log.Add(EngineInput.OfCalibration(T(5), 0, new LineCalibration(100, 0) { Version = 2 }));
        Sample(6, 1.0);
        IReadOnlyList<Bucket> buckets = Read(0, 10, 2, new LineCalibration(10, 0), new LineCalibration(100, 0));
        Assert.Equal([(10.0, 20.0), (100.0, 100.0)], buckets.Select(b => (b.Minimum, b.Maximum)));
    }

    [Fact]
    public void A_bucket_with_a_recalibration_inside_joins_both_stretches_in_engineering_units()
    {
        Sample(1, 1.0);
        Sample(2, 2.0);
        _log.Add(EngineInput.OfReading(T(3), 0, Reading.Failed(FaultCode.Garbled)));
        _log.Add(EngineInput.OfCalibration(T(5), 0, new LineCalibration(-100, 0) { Version = 2 }));
        Sample(6, 1.0);
        _log.Add(EngineInput.OfReading(T(7), 0, Reading.Failed(FaultCode.Garbled)));
        Bucket bucket = Assert.Single(Read(0, 10, 1, new LineCalibration(10, 0), new LineCalibration(-100, 0)));
        Assert.Equal((3, 2), (bucket.Count, bucket.Faults));
        Assert.Equal((-100.0, 20.0), (bucket.Minimum, bucket.Maximum));
        Assert.Equal((10 + 20 - 100) / 3.0, bucket.Mean, 1e-12);
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void A_stretch_of_nothing_but_faults_does_not_pull_a_bucket_to_zero(bool faultsFirst)
    {
        if (faultsFirst)
        {
            _log.Add(EngineInput.OfReading(T(1), 0, Reading.Failed(FaultCode.Garbled)));
        }
        else
        {
            Sample(1, 2.0);
        }

        _log.Add(EngineInput.OfCalibration(T(5), 0, new LineCalibration(10, 0) { Version = 2 }));
        if (faultsFirst)
        {
            Sample(6, 2.0);
        }
        else
        {
            _log.Add(EngineInput.OfReading(T(6), 0, Reading.Failed(FaultCode.Garbled)));
        }

        Bucket bucket = Assert.Single(Read(0, 10, 1, new LineCalibration(10, 0), new LineCalibration(10, 0)));
        Assert.Equal((1, 1, 20.0, 20.0, 20.0), (bucket.Count, bucket.Faults, bucket.Minimum, bucket.Maximum, bucket.Mean));
    }

    /// <summary>An hour is read from its rollups, which hold raw extremes and sums by version like everything else.</summary>
    [Fact]
    public void Merged_hours_show_the_same_as_the_readings_they_were_made_of()
    {
        var random = new Random(7);
        _log.Run(default, 1800, 1, random, extremes: true, faults: 0.02);
        _log.Add(EngineInput.OfCalibration(T(1800.05), 0, new LineCalibration(-30, 7) { Version = 2 }));
        long recalibrated = _log.Inputs[^1].Number;
        _log.Run(T(1800), 1900, 1, random, extremes: true, faults: 0.02);
        _log.Run(T(3700), 120, 1, random);
        using var folder = new StoreFolder();
        using BenchStore store = folder.Open();
        store.Append([.. _log.Inputs]);
        using BenchReader reader = store.OpenReader();
        Calibration OfVersion(int version, EngineTime at = default) => version == 1 ? new LineCalibration(12.5, -1.25) : new LineCalibration(-30, 7);
        IReadOnlyList<Bucket> before = EngineeringBuckets.Read(reader, 0, OfVersion, T(0), T(3600), 6);
        Assert.True(store.MergeDue() > 0);
        IReadOnlyList<Bucket> after = EngineeringBuckets.Read(reader, 0, OfVersion, T(0), T(3600), 6);

        Assert.Equal(6, after.Count);
        Assert.Equal(before.Select(b => (b.From, b.To, b.Count, b.Minimum, b.Maximum, b.Faults)), after.Select(b => (b.From, b.To, b.Count, b.Minimum, b.Maximum, b.Faults)));
        foreach (Bucket bucket in after)
        {
            List<EngineInput> of = _log.Inputs.Where(i => i.Kind == InputKind.Sample && i.Time >= bucket.From && i.Time < bucket.To).ToList();
            double Value(EngineInput i, double raw) => OfVersion(i.Number < recalibrated ? 1 : 2).Convert(raw);
            IEnumerable<double> ends = of.SelectMany(i => new[] { Value(i, i.Reading.Minimum), Value(i, i.Reading.Maximum) });
            Assert.Equal(of.Count, bucket.Count);
            Assert.Equal((ends.Min(), ends.Max()), (bucket.Minimum, bucket.Maximum));
            Assert.Equal(of.Average(i => Value(i, i.Reading.Raw)), bucket.Mean, 1e-9);
        }
    }

    private static EngineTime T(double seconds) => EngineTime.FromSeconds(seconds);

    private void Sample(double seconds, double raw) => _log.Add(EngineInput.OfReading(T(seconds), 0, Reading.Of(raw)));

    private IReadOnlyList<Bucket> Read(double from, double to, int count, params Calibration[] versions)
    {
        using var folder = new StoreFolder();
        using BenchStore store = folder.Open();
        store.Append([.. _log.Inputs]);
        using BenchReader reader = store.OpenReader();
        return EngineeringBuckets.Read(reader, 0, (version, _) => versions[version - 1], T(from), T(to), count);
    }
}
