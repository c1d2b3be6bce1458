using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Tests.Acquisition.Sampling;

public class RulesTests
{
    private static readonly TimeSpan Period = TimeSpan.FromMilliseconds(100);

    [Theory]
    [InlineData(3.5, FaultCode.OpenLoop)]
    [InlineData(3.6, FaultCode.OpenLoop)]
    [InlineData(3.61, null)]
    [InlineData(20.99, null)]
    [InlineData(21.0, FaultCode.LoopHigh)]
    [InlineData(22.0, FaultCode.LoopHigh)]
    public void At_or_beyond_a_level_is_the_rules_fault(double raw, FaultCode? expected)
    {
        var rules = new ReadingRules(
            new FaultRules { Low = 3.6, BelowFault = FaultCode.OpenLoop, High = 21, AboveFault = FaultCode.LoopHigh }, Period);
        Reading reading = rules.Apply(new EngineTime(0), Reading.Of(raw));
        Assert.Equal(expected, reading.IsFault ? reading.Fault : null);
    }

    [Fact]
    public void An_extreme_inside_the_period_that_reaches_the_level_is_a_fault()
    {
        var rules = new ReadingRules(new FaultRules { High = 4.9 }, Period);
        Assert.Equal(FaultCode.OverRange, rules.Apply(new EngineTime(0), Reading.Of(2, 1, 4.95)).Fault);
    }

    [Theory]
    [InlineData(new[] { 1.0, 1.5, 2.0, 2.5 }, "....")]
    [InlineData(new[] { 1.0, 9.0, 1.0, 1.0 }, ".J..")]
    [InlineData(new[] { 1.0, 9.0, 9.1, 9.0, 9.2 }, ".JJ..")]
    [InlineData(new[] { 1.0, 9.0, 1.1, 9.0, 1.2 }, ".J.J.")]
    [InlineData(new[] { 1.0, 9.0, 5.0, 20.0, 20.1, 20.2 }, ".JJJJ.")]
    public void A_jump_is_refused_unless_the_new_level_persists_for_three_readings(double[] raw, string expected)
    {
        var rules = new ReadingRules(new FaultRules { MaximumStep = 1 }, Period);
        string got = "";
        for (int i = 0; i < raw.Length; i++)
        {
            Reading reading = rules.Apply(At(i), Reading.Of(raw[i]));
            got += reading.IsFault ? "J" : ".";
        }

        Assert.Equal(expected, got);
    }

    [Fact]
    public void After_a_gap_the_step_may_be_as_many_times_as_great_as_periods_have_passed()
    {
        var rules = new ReadingRules(new FaultRules { MaximumStep = 1 }, Period);
        Assert.False(rules.Apply(At(0), Reading.Of(1)).IsFault);
        Assert.False(rules.Apply(At(10), Reading.Of(10)).IsFault);
        Assert.True(rules.Apply(At(11), Reading.Of(12)).IsFault);
    }

    [Fact]
    public void The_same_number_for_too_long_is_stuck_until_it_changes()
    {
        var rules = new ReadingRules(new FaultRules { StuckAfter = TimeSpan.FromSeconds(1) }, Period);
        for (int i = 0; i < 10; i++)
        {
            Assert.False(rules.Apply(At(i), Reading.Of(2.5)).IsFault);
        }

        Assert.Equal(FaultCode.Stuck, rules.Apply(At(10), Reading.Of(2.5)).Fault);
        Assert.False(rules.Apply(At(11), Reading.Of(2.5000001)).IsFault);
    }

    [Fact]
    public void Extremes_that_move_are_not_stuck()
    {
        var rules = new ReadingRules(new FaultRules { StuckAfter = TimeSpan.FromSeconds(1) }, Period);
        for (int i = 0; i < 30; i++)
        {
            Assert.False(rules.Apply(At(i), Reading.Of(2.5, 2.4, 2.6)).IsFault);
        }
    }

    [Theory]
    [InlineData(double.NaN)]
    [InlineData(double.PositiveInfinity)]
    [InlineData(double.NegativeInfinity)]
    public void What_is_not_finite_is_a_fault(double raw)
    {
        Assert.Equal(FaultCode.NotANumber, ReadingRules.FromNumber(raw).Fault);
    }

    [Theory]
    [InlineData(2.5, 2.5, null, 0.5)]        // rail input behind a 1:2 divider: 2.5 V said, 5 V real
    [InlineData(2.5, 0.25, null, 5.0)]
    [InlineData(2.5, 0.2, FaultCode.SupplyLost, 0)]
    [InlineData(2.5, -1.0, FaultCode.SupplyLost, 0)]
    public void A_ratio_is_formed_of_calibrated_volts_and_fails_with_its_rail(double of, double over, FaultCode? fault, double expected)
    {
        Reading reading = Ratio().Form(Reading.Of(of), Reading.Of(over));
        Assert.Equal(fault, reading.IsFault ? reading.Fault : null);
        if (fault is null)
        {
            Assert.Equal(expected, reading.Raw, 12);
        }
    }

    [Fact]
    public void A_ratio_has_the_sensors_fault_unless_the_rail_is_gone_too()
    {
        Assert.Equal(FaultCode.NoAnswer, Ratio().Form(Reading.Failed(FaultCode.NoAnswer), Reading.Of(2.5)).Fault);
        Assert.Equal(FaultCode.SupplyLost, Ratio().Form(Reading.Failed(FaultCode.NoAnswer), Reading.Failed(FaultCode.NoAnswer)).Fault);
    }

    [Fact]
    public void A_ratio_keeps_the_extremes_of_its_sensor()
    {
        Reading reading = Ratio().Form(Reading.Of(2, 1, 3), Reading.Of(2.5));
        Assert.Equal((0.4, 0.2, 0.6), (reading.Raw, reading.Minimum, reading.Maximum));
    }

    [Fact]
    public void Instants_of_a_feed_rise_by_whole_milliseconds_and_keep_its_promises()
    {
        var sink = new RecordingSink();
        var feed = new ChannelFeed(Channels.Volts("a", 1), sink);
        feed.Post(new EngineTime(5_400_000), Reading.Of(1));
        feed.Post(new EngineTime(5_900_000), Reading.Of(2));
        feed.Post(new EngineTime(5_100_000), Reading.Of(3));
        feed.Promise(new EngineTime(20_300_000));
        feed.Promise(new EngineTime(10_000_000));
        feed.Post(new EngineTime(15_000_000), Reading.Of(4));
        Assert.Equal([5, 6, 7, 21], sink.Readings.Select(r => r.At.Nanoseconds / 1_000_000));
        Assert.Equal([20_300_000], sink.Promises.Select(p => p.At.Nanoseconds));
    }

    private static RatioFeed Ratio()
    {
        ChannelDefinition rail = Channels.Volts("rail", 2) with { Calibration = new LineCalibration(2, 0), Setpoint = 5 };
        return new RatioFeed(
            new ChannelFeed(Channels.Volts("ratio", 3) with { Unit = "1", RawUnit = "1" }, new RecordingSink()), Channels.Volts("sensor", 1), rail);
    }

    private static EngineTime At(int period) => new(period * 100_000_000L);
}
