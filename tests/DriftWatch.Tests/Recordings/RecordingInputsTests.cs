using DriftWatch.Acquisition.Recordings;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;

namespace DriftWatch.Tests.Recordings;

public sealed class RecordingInputsTests : IDisposable
{
    private const string T = "2026-03-01T21:00:0";

    private readonly RecordingFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void Inputs_come_numbered_in_the_order_of_judging()
    {
        string path = _folder.Write("a.csv", $"time,vacuum,air\n{T}0.030Z,!no-answer,50\n{T}0.130Z,9,51\n{T}0.230Z,,\n{T}0.330Z,8,\n");
        using var inputs = new RecordingInputs(path, RecordingFolder.Bench("air", "vacuum"));
        Assert.Equal(
            [
                "1 0 Clock Started 0", "2 0 Bench",
                "3 0 Sample 1 50", "4 0 Fault 2 !no-answer",
                "5 100 Sample 1 51", "6 100 Sample 2 9", "7 100 Tick",
                "8 200 Tick",
                "9 300 Sample 2 8", "10 300 Tick",
            ],
            RecordingFolder.Inputs(inputs));
        Assert.Equal("2026-03-01T21:00:00.030Z", Measurement.Time.UtcText.FromNanoseconds(inputs.FirstUtcNanoseconds));
    }

    [Fact]
    public void The_bench_of_a_recording_converts_nothing()
    {
        string path = _folder.Write("a.csv", $"time,air\n{T}0Z,50\n");
        using var inputs = new RecordingInputs(path, RecordingFolder.Bench("air"));
        ChannelDefinition channel = inputs.Bench.Channels[0];
        Assert.Equal(50.125, channel.Calibration.Convert(50.125));
        Assert.True(channel.Calibration is LineCalibration { Gain: 1, Offset: 0 });
        Assert.Equal(channel.Unit, channel.RawUnit);
        Assert.Equal(new FaultRules(), channel.Faults);
        inputs.Next(out _);
        inputs.Next(out EngineInput bench);
        Assert.Same(inputs.Bench, bench.Bench);
    }

    [Fact]
    public void A_clock_that_ran_back_keeps_every_row_and_becomes_a_step()
    {
        string path = _folder.Write("a.csv", $"time,air\n{T}5.0Z,1\n{T}5.2Z,2\n{T}1.0Z,3\n{T}1.2Z,4\n");
        using var inputs = new RecordingInputs(path, RecordingFolder.Bench("air"));
        Assert.Equal(
            ["1 0 Clock Started 0", "2 0 Bench", "3 0 Sample 1 1", "5 200 Sample 1 2", "8 400 Clock WallStep -4400", "9 400 Sample 1 3", "12 600 Sample 1 4"],
            RecordingFolder.Inputs(inputs, withTicks: false));
        Assert.Equal(1, inputs.Notices.StepsBack);
        Assert.Equal(
            $"{path}(4): the time runs back from 2026-03-01T21:00:05.200Z to 2026-03-01T21:00:01.000Z; the rows from here on are kept and judged after a step of the wall clock",
            Assert.Single(inputs.Notices.All).ToString());
    }

    [Fact]
    public void A_gap_stays_a_gap_and_a_mistyped_year_does_not_make_a_thousand_million_ticks()
    {
        string path = _folder.Write("a.csv", $"time,air\n{T}0Z,1\n{T}1Z,2\n2126-03-01T21:00:02Z,3\n");
        using var inputs = new RecordingInputs(path, RecordingFolder.Bench("air"));
        List<string> lines = RecordingFolder.Inputs(inputs);
        Assert.Contains("14 1000 Tick", lines);
        Assert.Equal(26, lines.Count);
        Assert.Contains("the time leaps from", inputs.Notices.All[0].Text, StringComparison.Ordinal);
    }

    [Fact]
    public void Rows_of_one_time_without_a_channel_in_common_are_one_row()
    {
        string path = _folder.Write("a.csv", $"time,air,vacuum\n{T}0Z,,2\n{T}0Z,1,\n{T}0Z,7,\n");
        using var inputs = new RecordingInputs(path, RecordingFolder.Bench("air", "vacuum"));
        Assert.Equal(
            ["1 0 Clock Started 0", "2 0 Bench", "3 0 Sample 1 1", "4 0 Sample 2 2", "5 100 Clock WallStep -100", "6 100 Sample 1 7"],
            RecordingFolder.Inputs(inputs, withTicks: false));
        Assert.Equal(1, inputs.Notices.StepsBack);
    }

    [Fact]
    public void Extremes_come_with_their_reading()
    {
        string path = _folder.Write("a.csv", $"time,air,air.min,air.max\n{T}0Z,5,1,9\n{T}1Z,5,5.004,\n");
        using var inputs = new RecordingInputs(path, RecordingFolder.Bench("air"));
        var readings = new List<Reading>();
        while (inputs.Next(out EngineInput input))
        {
            if (input.Kind == InputKind.Sample)
            {
                readings.Add(input.Reading);
            }
        }

        Assert.Equal([Reading.Of(5, 1, 9), Reading.Of(5, 5, 5)], readings);
    }

    [Fact]
    public void Inputs_before_a_bad_row_stand()
    {
        string path = _folder.Write("a.csv", $"time,air\n{T}0Z,5\n{T}1Z,6\n{T}2Z,x\n");
        using var inputs = new RecordingInputs(path, RecordingFolder.Bench("air"));
        var values = new List<double>();
        Assert.Throws<RecordingException>(() =>
        {
            while (inputs.Next(out EngineInput input))
            {
                if (input.Kind == InputKind.Sample)
                {
                    values.Add(input.Reading.Raw);
                }
            }
        });
        Assert.Equal([5, 6], values);
    }

    [Fact]
    public void A_recording_without_rows_and_channels_without_a_column_are_said()
    {
        string empty = _folder.Write("empty.csv", "time,air\n");
        Assert.Equal(
            $"{empty}(1,1): the recording has a heading and no rows; record at least one row; nothing can be judged without one",
            Assert.Throws<RecordingException>(() => new RecordingInputs(empty, RecordingFolder.Bench("air"))).Message);
        string one = _folder.Write("one.csv", $"time,regulated\n{T}0Z,5\n");
        using var inputs = new RecordingInputs(one, RecordingFolder.Bench("air", "vacuum"));
        Assert.Equal(["vacuum"], inputs.AbsentChannels);
    }
}
