using DriftWatch.Acquisition.Boards;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Time;
using DriftWatch.Tests.Acquisition.Sampling;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Time.Testing;
using Xunit;

namespace DriftWatch.Tests.Acquisition.Boards;

/// <summary>Two boards on one bus, in simulated time.</summary>
public sealed class BoardOwnerTests
{
    private readonly FakeTimeProvider _time = new();
    private readonly RecordingSink _sink = new();
    private readonly SimulatedBoards _boards = new();
    private readonly SimulatedAds1115 _ads = new();
    private readonly SimulatedBme280 _bme = new();
    private readonly EngineClock _clock;

    public BoardOwnerTests()
    {
        _clock = new EngineClock(_time, new EngineTime(0));
        _boards.I2cChips[(1, 0x48)] = _ads;
        _boards.I2cChips[(1, 0x76)] = _bme;
        _ads.PinVolts[0] = 2.5;
        _ads.PinVolts[1] = 5.0;
    }

    [Fact]
    public void Both_boards_keep_their_grid_and_the_ratio_is_formed()
    {
        Run(seconds: 3);
        Assert.InRange(_sink.Of(1).Count, 28, 32);
        Assert.InRange(_sink.Of(4).Count, 3, 4);
        Assert.All(_sink.Of(3), text => Assert.Equal(0.5, double.Parse(text), 3));
        Assert.DoesNotContain(_sink.Readings, r => r.Reading.IsFault);
        long[] instants = [.. _sink.Readings.Where(r => r.Channel == 1).Skip(2).Select(r => r.At.Nanoseconds)];
        Assert.All(instants, at => Assert.Equal(0, at % 100_000_000));
    }

    [Fact]
    public void A_board_that_goes_silent_fails_alone_and_comes_back()
    {
        Run(seconds: 8, at: second =>
        {
            _bme.Silent = second is >= 2 and < 4;
        });
        string[] climate = [.. _sink.Of(4)];
        Assert.Contains("!no-answer", climate);
        Assert.DoesNotContain(climate, text => text.StartsWith('!') && text != "!no-answer");
        Assert.False(climate[0].StartsWith('!'));
        Assert.False(climate[^1].StartsWith('!'));
        Assert.DoesNotContain(_sink.Readings, r => r.Channel == 1 && r.Reading.IsFault);
        Assert.InRange(_sink.Of(1).Count, 76, 82);
        EngineTime back = _sink.Readings.First(r => r.Channel == 4 && r.At.Seconds >= 4 && !r.Reading.IsFault).At;
        Assert.InRange(back.Seconds, 4, 6);
    }

    [Fact]
    public void A_bus_that_is_missing_gives_a_fault_a_period_and_is_tried_for_ever()
    {
        _boards.BusIsMissing = true;
        Run(seconds: 8, at: second => _boards.BusIsMissing = second < 5);
        string[] volts = [.. _sink.Of(1)];
        Assert.All(volts.Take(45), text => Assert.Equal("!line-down", text));
        Assert.Equal(2.5, double.Parse(volts[^1]), 3);
        Assert.InRange(_sink.Readings.First(r => r.Channel == 1 && !r.Reading.IsFault).At.Seconds, 5, 7);
        Assert.Contains(_sink.Notices, n => n.State == LinkState.Down && n.Reason.Contains("there is no /dev/i2c-1", StringComparison.Ordinal));
    }

    private void Run(double seconds, Action<double>? at = null)
    {
        InstrumentDefinition[] boards = [BoardBench.Definition("adc-16bit-i2c"), BoardBench.Definition("climate-board-i2c")];
        var profiles = boards.ToDictionary(b => b.Profile, b => BoardBench.Profile(b.Profile));
        ChannelDefinition of = Channels.Volts("regulated-volts", 1, 0.1, "adc-16bit-i2c", "a0");
        ChannelDefinition over = Channels.Volts("sensor-rail", 2, 0.1, "adc-16bit-i2c", "a1");
        ChannelDefinition ratio = Channels.Volts("regulated-air", 3) with { Ratio = new RatioDefinition("regulated-volts", "sensor-rail"), RawUnit = "1", Unit = "1" };
        ChannelDefinition climate = Channels.Volts("temperature", 4, 1, "climate-board-i2c") with { Unit = "degC", RawUnit = "degC" };
        using var stop = new CancellationTokenSource();
        var owner = new BoardOwner(
            boards,
            profiles,
            [of, over, ratio, climate],
            _clock,
            _sink,
            NullLogger.Instance,
            _boards,
            (limit, until, _) =>
            {
                // Opening is done by another thread: time stands still until it is through.
                until?.Wait(CancellationToken.None);
                _time.Advance(until is null ? TimeSpan.FromTicks(Math.Max(limit.Ticks, TimeSpan.TicksPerMillisecond)) : TimeSpan.FromMilliseconds(1));
                at?.Invoke(_clock.Now.Seconds);
                if (_clock.Now.Seconds >= seconds)
                {
                    stop.Cancel();
                }
            });
        owner.Run(stop.Token);
    }
}
