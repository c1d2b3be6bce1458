using System.Globalization;
using System.Text;
using DriftWatch.Acquisition.Lines;
using DriftWatch.Acquisition.Modbus;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Time.Testing;

namespace DriftWatch.Tests.Acquisition.Sampling;

/// <summary>Whole owners on simulated time and simulated instruments: no process, no wait, same run every time.</summary>
public class OwnerTests
{
    private readonly FakeTimeProvider _time = new() { AutoAdvanceAmount = TimeSpan.Zero };
    private readonly RecordingSink _sink = new();

    [Fact]
    public void A_unit_that_is_silent_posts_one_fault_a_period_and_its_neighbour_on_the_bus_keeps_its_grid()
    {
        double sent = 0;
        var link = new ScriptedLink(_time, request => request[0] == 17 ? [(Ms(5), FloatReply(17, (float)(sent += 0.25)))] : []);
        RunPolled(
            link,
            20,
            [Modbus("good", 17), Modbus("mute", 18)],
            [Channels.Volts("g", 1, 0.5, "good", "p"), Channels.Volts("m", 2, 0.5, "mute", "p")]);

        // Retried every 1.5 s at most with 100 ms of waiting: the neighbour loses nothing at 0.5 s.
        IReadOnlyList<string> good = _sink.Of(1);
        Assert.InRange(good.Count, 39, 41);
        Assert.All(good, g => Assert.DoesNotContain("!", g, StringComparison.Ordinal));
        Assert.Equal(good, good.Distinct());

        IReadOnlyList<string> mute = _sink.Of(2);
        Assert.InRange(mute.Count, 39, 41);
        Assert.All(mute, m => Assert.Equal("!no-answer", m));
        AssertRising();
    }

    [Fact]
    public void A_torn_or_corrupted_reply_is_one_fault_and_then_readings_go_on()
    {
        int polls = 0;
        var link = new ScriptedLink(_time, _ =>
        {
            byte[] reply = FloatReply(17, 6.25f);
            polls++;
            if (polls == 10)
            {
                reply[4] ^= 0x40;
            }

            return [(Ms(5), polls == 20 ? reply[..6] : polls == 30 ? [0xFF, 0x00, 0xFF, .. reply] : reply)];
        });
        RunPolled(link, 30, [Modbus("gauge", 17)], [Channels.Volts("g", 1, 0.5, "gauge", "p")]);
        IReadOnlyList<string> readings = _sink.Of(1);
        Assert.All(readings, r => Assert.Contains(r, new[] { "6.25", "!bad-checksum", "!garbled" }));
        Assert.InRange(readings.Count(r => r.StartsWith('!')), 3, 6);
        Assert.Equal("6.25", readings[^1]);
        Assert.InRange(readings.Count, 58, 65);
    }

    [Fact]
    public void An_exception_code_is_a_fault_of_its_own_inputs_only()
    {
        var link = new ScriptedLink(_time, request => request[3] == 0
            ? [(Ms(5), FloatReply(17, 1.5f))]
            : [(Ms(5), WithCrc([17, 0x84, 2]))]);
        ProfileInput[] inputs = [Register("p", 0), Register("q", 10)];
        RunPolled(link, 5, [Modbus("gauge", 17, inputs)], [Channels.Volts("p", 1, 0.5, "gauge", "p"), Channels.Volts("q", 2, 0.5, "gauge", "q")]);
        Assert.All(_sink.Of(1), r => Assert.Equal("1.5", r));
        Assert.All(_sink.Of(2), r => Assert.Equal("!instrument-error", r));
    }

    [Fact]
    public void Neighbouring_registers_are_read_in_one_request_and_a_gap_is_not_read_across()
    {
        var requests = new List<string>();
        var link = new ScriptedLink(_time, request =>
        {
            requests.Add(Convert.ToHexString(request[..6]));
            return [(Ms(5), WithCrc([17, 4, (byte)(2 * request[5]), .. new byte[2 * request[5]]]))];
        });
        ProfileInput[] inputs = [Register("b", 2), Register("a", 0), Register("c", 5)];
        RunPolled(
            link, 0.9, [Modbus("gauge", 17, inputs)], [.. inputs.Select((p, i) => Channels.Volts(p.Name, i + 1, 0.5, "gauge", p.Name))]);
        Assert.Equal(["110400000004", "110400050002"], requests.Distinct());
    }

    [Fact]
    public void A_line_that_dies_posts_line_down_every_period_and_is_read_again_within_two_seconds_of_its_return()
    {
        ScriptedLink? link = null;
        var gone = (From: 5.05, To: 17.3);
        double Now() => (_time.GetUtcNow() - _start).TotalSeconds;
        IByteLink Open()
        {
            if (Now() >= gone.From && Now() < gone.To)
            {
                throw new LinkException("port 'x' does not exist", "plug it in");
            }

            return link = new ScriptedLink(_time, _ =>
            {
                if (Now() >= gone.From && Now() < gone.To)
                {
                    link!.IsDead = true;
                }

                return [(Ms(5), FloatReply(17, 6.25f))];
            });
        }

        RunPolled(Open, 30, [Modbus("gauge", 17)], [Channels.Volts("g", 1, 0.5, "gauge", "p")]);
        var down = _sink.Readings.Where(r => r.At.Seconds > 5.6 && r.At.Seconds < 17.2).ToList();
        Assert.All(down, r => Assert.Equal("!line-down", r.Reading.ToString()));
        Assert.InRange(down.Count, 22, 25);
        double back = _sink.Readings.First(r => r.At.Seconds > 17.3 && !r.Reading.IsFault).At.Seconds;
        Assert.InRange(back, 17.3, 19.3);
        Assert.All(_sink.Readings.Where(r => r.At.Seconds > back), r => Assert.False(r.Reading.IsFault));
        Assert.Equal(LinkState.Talking, _sink.Notices[^1].State);
        Assert.Contains(_sink.Notices, n => n.State == LinkState.Down && n.Reason.Contains("plug it in", StringComparison.Ordinal));
        AssertRising();
    }

    /// <summary>Loses replies, delays them beyond the timeout, prefixes noise: no reply may answer the wrong question.</summary>
    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(3)]
    [InlineData(4)]
    public void A_nasty_scpi_instrument_never_gets_a_reply_taken_for_the_answer_to_another_question(int seed)
    {
        var random = new Random(seed);
        int asked = 0;
        var link = new ScriptedLink(_time, request =>
        {
            string question = Encoding.ASCII.GetString(request).Trim();
            string? text = question switch
            {
                "*IDN?" => "Archive Bench,Meter,0,1",
                "SYST:ERR?" => "0,\"No error\"",
                "A?" => (1 + (asked++ * 1e-4)).ToString("0.0000", CultureInfo.InvariantCulture),
                "B?" => (2 + (asked++ * 1e-4)).ToString("0.0000", CultureInfo.InvariantCulture),
                _ => null,
            };
            double luck = random.NextDouble();
            if (text is null || luck < 0.03)
            {
                return [];
            }

            byte[] reply = Encoding.ASCII.GetBytes(text + "\n");
            return luck < 0.1 ? [(Ms(300 + random.Next(150)), reply)]
                : luck < 0.13 ? [(Ms(4), [0xFF, 0x00, .. reply])]
                : luck < 0.15 ? [(Ms(4), reply[..3]), (Ms(20), reply[3..])]
                : [(Ms(4), reply)];
        });
        InstrumentDefinition meter = new()
        {
            Id = "meter",
            Profile = "meter",
            Connection = new ConnectionDefinition { Kind = ConnectionKind.Tcp, Host = "localhost", TcpPort = 5025, ReplyTimeout = Ms(250) },
        };
        InstrumentProfile profile = new()
        {
            Name = "meter",
            Title = "Meter",
            Protocol = InstrumentProtocol.Scpi,
            Scpi = new ScpiFormat { IdentityContains = "Meter" },
            Inputs = [new ProfileInput { Name = "a", RawUnit = "V", Query = "A?" }, new ProfileInput { Name = "b", RawUnit = "V", Query = "B?" }],
        };
        RunPolled(
            () => link,
            300,
            [(meter, profile)],
            [Channels.Volts("a", 1, 0.5, "meter", "a"), Channels.Volts("b", 2, 0.5, "meter", "b")]);

        var values = _sink.Readings.Where(r => !r.Reading.IsFault).ToList();
        Assert.True(values.Count > 200, $"seed {seed}: {values.Count} values");
        Assert.All(values, r => Assert.Equal(r.Channel, (int)r.Reading.Raw));
        AssertRising();
    }

    [Fact]
    public void A_wrong_instrument_is_told_by_its_identity_and_none_of_its_numbers_is_taken()
    {
        var link = new ScriptedLink(_time, request =>
            [(Ms(4), Encoding.ASCII.GetBytes(Encoding.ASCII.GetString(request).StartsWith("*IDN?", StringComparison.Ordinal) ? "Other,Thing,0,1\n" : "1.0\n"))]);
        InstrumentDefinition meter = new()
        {
            Id = "meter",
            Profile = "meter",
            Connection = new ConnectionDefinition { Kind = ConnectionKind.Tcp, Host = "localhost", TcpPort = 5025 },
        };
        InstrumentProfile profile = new()
        {
            Name = "meter",
            Title = "Meter",
            Protocol = InstrumentProtocol.Scpi,
            Scpi = new ScpiFormat { IdentityContains = "Meter" },
            Inputs = [new ProfileInput { Name = "a", RawUnit = "V", Query = "A?" }],
        };
        RunPolled(() => link, 5, [(meter, profile)], [Channels.Volts("a", 1, 0.5, "meter", "a")]);
        Assert.All(_sink.Of(1), r => Assert.Equal("!instrument-error", r));
        Assert.Contains(_sink.Notices, n => n.Reason.Contains("Other,Thing", StringComparison.Ordinal));
    }

    [Fact]
    public void A_stream_gives_its_values_then_one_missing_a_period_then_values_again()
    {
        var link = new ScriptedLink(_time);
        link.Send(Ms(50), "x\n"u8.ToArray());
        for (int i = 1; i <= 300; i++)
        {
            if (i is <= 100 or > 150)
            {
                link.Send(Ms(100 * i), Encoding.ASCII.GetBytes($"{i},{i * 2}\n"));
            }
        }

        RunLines(() => link, 30.05, new LineFormat { FieldCount = 2 });
        var a = _sink.Readings.Where(r => r.Channel == 1).ToList();
        Assert.Equal(Enumerable.Range(1, 100).Concat(Enumerable.Range(151, 150)).Select(i => (double)i), a.Where(r => !r.Reading.IsFault).Select(r => r.Reading.Raw));
        var faults = a.Where(r => r.Reading.IsFault).ToList();
        Assert.All(faults, f => Assert.Equal(FaultCode.Missing, f.Reading.Fault));
        Assert.InRange(faults.Count, 48, 50);
        AssertRising();
    }

    [Fact]
    public void Garbage_in_a_stream_costs_the_lines_it_touches_and_says_so()
    {
        var link = new ScriptedLink(_time);
        link.Send(Ms(50), "x\n"u8.ToArray());
        for (int i = 1; i <= 100; i++)
        {
            string line = i is > 40 and <= 60 ? $"{i},\u00FF{i * 2}\n" : $"{i},{i * 2}\n";
            link.Send(Ms(100 * i), Encoding.Latin1.GetBytes(line));
        }

        RunLines(() => link, 10.05, new LineFormat { FieldCount = 2 });
        Assert.Equal(80, _sink.Readings.Count(r => r.Channel == 1 && !r.Reading.IsFault));
        var faults = _sink.Readings.Where(r => r.Channel == 1 && r.Reading.IsFault).ToList();
        Assert.InRange(faults.Count, 18, 20);
        Assert.All(faults, f => Assert.Equal(FaultCode.Garbled, f.Reading.Fault));
    }

    [Fact]
    public void A_half_line_expires_and_never_joins_the_next()
    {
        var link = new ScriptedLink(_time);
        link.Send(Ms(50), "x\n"u8.ToArray());
        link.Send(Ms(100), "1,2\n"u8.ToArray());
        link.Send(Ms(200), "3"u8.ToArray());
        link.Send(Ms(2000), "4,5\n6,7\n"u8.ToArray());
        LinesOwner owner = RunLines(() => link, 3, new LineFormat { FieldCount = 2 });
        Assert.Equal([1.0, 6.0], _sink.Readings.Where(r => r.Channel == 1 && !r.Reading.IsFault).Select(r => r.Reading.Raw));
        Assert.Equal(1, owner.Counts.RejectedFor(LineReject.PartExpired));
        InstrumentTally tally = Assert.Single(owner.Tallies);
        Assert.Null(tally.MissedTicks);
        Assert.Equal(2, tally.Lines!.Valid);
        Assert.Equal(1, tally.Lines.Rejects[LineReject.PartExpired]);
    }

    [Fact]
    public void Lines_that_waited_out_a_stall_pass_one_by_one()
    {
        var link = new ScriptedLink(_time);
        link.Send(Ms(50), "x\n"u8.ToArray());
        for (int i = 1; i <= 60; i++)
        {
            // At the channel's own rate, but for half a second in which the computer was busy elsewhere.
            int due = 100 * i;
            link.Send(Ms(due is > 3000 and < 3500 ? 3460 + i : due), Encoding.ASCII.GetBytes($"{i},{i}\n"));
        }

        RunLines(() => link, 6.5, new LineFormat { FieldCount = 2 });
        List<Reading> values = [.. _sink.Readings.Where(r => r.Channel == 1 && !r.Reading.IsFault).Select(r => r.Reading)];
        Assert.Equal(Enumerable.Range(1, 60).Select(i => (double)i), values.Select(v => v.Raw));
        Assert.DoesNotContain(values, v => v.HasExtremes);
        AssertRising();
    }

    [Fact]
    public void Lines_reach_the_sink_within_their_promise()
    {
        var link = new ScriptedLink(_time);
        link.Send(Ms(50), "x\n"u8.ToArray());
        for (int i = 1; i <= 100; i++)
        {
            link.Send(Ms(20 * i), Encoding.ASCII.GetBytes($"{i},{i}\n"));
        }

        RunLines(() => link, 3, new LineFormat { FieldCount = 2 });
        Assert.InRange(_sink.Readings.Count(r => r.Channel == 1 && !r.Reading.IsFault), 33, 36); // sixteen one by one, then one in five
        Assert.NotEmpty(_sink.Promises);
        AssertRising();
    }

    private DateTimeOffset _start;

    private void RunPolled(
        IByteLink link, double seconds, (InstrumentDefinition, InstrumentProfile)[] instruments, ChannelDefinition[] channels) =>
        RunPolled(() => link, seconds, instruments, channels);

    private void RunPolled(
        Func<IByteLink> open, double seconds, (InstrumentDefinition Definition, InstrumentProfile Profile)[] instruments, ChannelDefinition[] channels)
    {
        _start = _time.GetUtcNow();
        var clock = new EngineClock(_time, new EngineTime(0));
        BenchDefinition bench = Bench(instruments.Select(i => i.Definition), channels);
        using var stop = new CancellationTokenSource(TimeSpan.FromSeconds(seconds), _time);
        LineOwners.Polled(
            bench,
            instruments.ToDictionary(i => i.Definition.Profile, i => i.Profile),
            bench.Instruments,
            isLocal: true,
            clock,
            _sink,
            NullLogger.Instance,
            _ => open(),
            ScriptedLink.PauseOn(_time)).Run(stop.Token);
    }

    private LinesOwner RunLines(Func<IByteLink> open, double seconds, LineFormat format)
    {
        _start = _time.GetUtcNow();
        var clock = new EngineClock(_time, new EngineTime(0));
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
            Lines = format,
            Inputs = [new ProfileInput { Name = "a", RawUnit = "V", Field = 1 }, new ProfileInput { Name = "b", RawUnit = "V", Field = 2 }],
        };
        ChannelDefinition[] channels = [Channels.Volts("a", 1, 0.1, "board", "a"), Channels.Volts("b", 2, 0.1, "board", "b")];
        using var stop = new CancellationTokenSource(TimeSpan.FromSeconds(seconds), _time);
        var owner = new LinesOwner(
            board, profile, channels, open, clock, _sink, Backoff.For(isLocal: true, "board"), NullLogger.Instance, ScriptedLink.PauseOn(_time));
        owner.Run(stop.Token);
        return owner;
    }

    private void AssertRising()
    {
        foreach (var channel in _sink.Readings.GroupBy(r => r.Channel))
        {
            long last = long.MinValue;
            foreach ((_, EngineTime at, _) in channel)
            {
                Assert.True(at.Nanoseconds > last, $"channel {channel.Key} runs back at {at}");
                Assert.Equal(0, at.Nanoseconds % 1_000_000);
                last = at.Nanoseconds;
            }
        }
    }

    private static BenchDefinition Bench(IEnumerable<InstrumentDefinition> instruments, ChannelDefinition[] channels) => new()
    {
        Id = "bench",
        Label = "Bench",
        SourceHash = "",
        Machine = new MachineDefinition { Label = "Machine" },
        Instruments = [.. instruments],
        Channels = channels,
    };

    private static (InstrumentDefinition, InstrumentProfile) Modbus(string id, int unit, ProfileInput[]? inputs = null) => (
        new InstrumentDefinition
        {
            Id = id,
            Profile = id,
            Connection = new ConnectionDefinition { Kind = ConnectionKind.Serial, Port = "x", Address = unit, Baud = 19200, ReplyTimeout = Ms(100) },
        },
        new InstrumentProfile
        {
            Name = id,
            Title = id,
            Protocol = InstrumentProtocol.ModbusRtu,
            Modbus = new ModbusFormat(),
            Inputs = inputs ?? [Register("p", 0)],
        });

    private static ProfileInput Register(string name, int register) =>
        new() { Name = name, RawUnit = "bar", Register = register, Type = "float32" };

    private static TimeSpan Ms(int milliseconds) => TimeSpan.FromMilliseconds(milliseconds);

    private static byte[] FloatReply(int unit, float value)
    {
        byte[] bytes = BitConverter.GetBytes(value);
        Array.Reverse(bytes);
        return WithCrc([(byte)unit, 4, 4, .. bytes]);
    }

    private static byte[] WithCrc(byte[] body)
    {
        ushort crc = Checksums.Crc16(body);
        return [.. body, (byte)crc, (byte)(crc >> 8)];
    }
}
