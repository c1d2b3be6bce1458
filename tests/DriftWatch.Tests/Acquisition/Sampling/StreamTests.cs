using System.Globalization;
using System.Text;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Time.Testing;

namespace DriftWatch.Tests.Acquisition.Sampling;

/// <summary>A board that sends a pressure with its extremes and the sensor's rail: fields, ratios and faults of a stream.</summary>
public class StreamTests
{
    private const int Sensor = 1;
    private const int Rail = 2;
    private const int Ratio = 3;

    private readonly FakeTimeProvider _time = new();
    private readonly RecordingSink _sink = new();

    [Fact]
    public void Extremes_and_the_ratio_to_the_rail_come_from_the_same_line()
    {
        Run(2.05, i => i == 10 ? "2.5,0.5,3.5,5" : "2.5,2.4,2.6,5");
        var ratios = _sink.Readings.Where(r => r.Channel == Ratio).ToList();
        var sensors = _sink.Readings.Where(r => r.Channel == Sensor).ToList();
        Assert.Equal(20, ratios.Count);
        Assert.Equal(sensors.Select(s => s.At), ratios.Select(r => r.At));
        Assert.Single(ratios, r => r.Reading.Minimum == 0.1 && r.Reading.Maximum == 0.7 && r.Reading.Raw == 0.5);
        Assert.Equal(19, ratios.Count(r => r.Reading.Minimum == 0.48 && r.Reading.Maximum == 0.52));
    }

    [Fact]
    public void A_lost_rail_takes_the_ratio_and_leaves_both_voltages()
    {
        Run(2.05, i => i > 10 ? "0.02,0.02,0.02,0.01" : "2.5,2.4,2.6,5");
        Assert.All(_sink.Of(Sensor), r => Assert.DoesNotContain("!", r, StringComparison.Ordinal));
        Assert.Equal(10, _sink.Of(Rail).Count(r => r == "0.01"));
        Assert.Equal(10, _sink.Of(Ratio).Count(r => r == "!supply-lost"));
    }

    [Fact]
    public void A_field_that_is_no_number_is_a_fault_a_period_while_its_neighbour_reads_on()
    {
        // Five lines a period: the faulty field must not flood the log.
        Run(2.01, _ => "nan,nan,nan,5", intervalMilliseconds: 20);
        Assert.All(_sink.Of(Sensor), r => Assert.Equal("!not-a-number", r));
        Assert.InRange(_sink.Of(Sensor).Count, 19, 26);
        Assert.All(_sink.Of(Rail), r => Assert.Equal("5", r));
        Assert.All(_sink.Of(Ratio), r => Assert.Equal("!not-a-number", r));
    }

    [Fact]
    public void Several_lines_in_one_arrival_keep_their_order_a_millisecond_apart()
    {
        var link = new ScriptedLink(_time);
        link.Send(TimeSpan.FromMilliseconds(10), "x\n1,1,1,5\n2,2,2,5\n3,3,3,5\n"u8.ToArray());
        Run(0.1, link);
        var sensor = _sink.Readings.Where(r => r.Channel == Sensor).ToList();
        Assert.Equal([1.0, 2.0, 3.0], sensor.Select(r => r.Reading.Raw));
        Assert.Equal([10L, 11L, 12L], sensor.Select(r => r.At.Nanoseconds / 1_000_000));
    }

    private void Run(double seconds, Func<int, string> line, int intervalMilliseconds = 100)
    {
        var link = new ScriptedLink(_time);
        link.Send(TimeSpan.FromMilliseconds(1), "tail of a line\n"u8.ToArray());
        for (int i = 1; i * intervalMilliseconds <= seconds * 1000; i++)
        {
            link.Send(TimeSpan.FromMilliseconds(i * intervalMilliseconds), Encoding.ASCII.GetBytes(string.Create(CultureInfo.InvariantCulture, $"{line(i)}\n")));
        }

        Run(seconds, link);
    }

    private void Run(double seconds, ScriptedLink link)
    {
        InstrumentDefinition board = new()
        {
            Id = "board",
            Profile = "board",
            Connection = new ConnectionDefinition { Kind = ConnectionKind.Serial, Port = "x" },
        };
        InstrumentProfile profile = new()
        {
            Name = "board",
            Title = "Board",
            Protocol = InstrumentProtocol.Lines,
            Lines = new LineFormat { FieldCount = 4 },
            Inputs =
            [
                new ProfileInput { Name = "sensor", RawUnit = "V", Field = 1, MinimumField = 2, MaximumField = 3 },
                new ProfileInput { Name = "rail", RawUnit = "V", Field = 4 },
            ],
        };
        ChannelDefinition[] channels =
        [
            Channels.Volts("sensor", Sensor, 0.1, "board"),
            Channels.Volts("rail", Rail, 0.1, "board") with { Setpoint = 5 },
            Channels.Volts("ratio", Ratio) with { Unit = "1", RawUnit = "1", Input = null, Ratio = new RatioDefinition("sensor", "rail") },
        ];
        var clock = new EngineClock(_time, new EngineTime(0));
        using var stop = new CancellationTokenSource(TimeSpan.FromSeconds(seconds), _time);
        new LinesOwner(
            board, profile, channels, () => link, clock, _sink, Backoff.For(isLocal: true, "board"), NullLogger.Instance, ScriptedLink.PauseOn(_time))
            .Run(stop.Token);
    }
}
