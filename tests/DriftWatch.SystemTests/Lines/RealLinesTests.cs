using System.Globalization;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using Microsoft.Extensions.Logging.Abstractions;
using Xunit.Abstractions;

namespace DriftWatch.SystemTests.Lines;

/// <summary>
/// Three instruments that speak published protocols, on pseudo-terminals and loopback TCP: Debian's python3-pymodbus
/// slave, a SCPI responder, and a line emitter at 115200. Each is killed, garbled and brought back while the others go on.
/// </summary>
public sealed class RealLinesTests(ITestOutputHelper output) : IDisposable
{
    private const int Pressure = 1;
    private const int Volts = 2;
    private const int Milliamps = 3;
    private const int FirstField = 4;
    private const int Port = 45025;

    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-lines-").FullName;
    private readonly CollectingSink _sink = new();
    private readonly EngineClock _clock = new(TimeProvider.System, new EngineTime(0));
    private int _firstSequence = 1;

    [Fact]
    public async Task Each_of_three_real_instruments_is_killed_garbled_and_brought_back_while_the_others_go_on()
    {
        Companion modbusWire = await Companion.Wire(At("gauge"), At("gauge-far"));
        Companion emitterWire = await Companion.Wire(At("board"), At("board-far"));
        Companion slave = await StartSlave();
        Companion meter = await StartMeter();
        Companion emitter = await StartEmitter();
        BenchDefinition bench = Bench();
        using var sampler = new BenchSampler(bench, Profiles, _clock, _sink, NullLoggerFactory.Instance);
        try
        {
            sampler.Start();
            await AllTalk();
            await Run(3);

            // The transmitter loses its power: silence on a line that stays.
            EngineTime from = _clock.Now;
            slave.Dispose();
            await Run(4);
            EngineTime to = _clock.Now;
            Down("transmitter silent", Pressure, from, to, FaultCode.NoAnswer, 0.2);
            await NeighboursWentOn(from, to, Volts, Milliamps, FirstField);
            slave = await StartSlave();
            await Recovered("transmitter after silence", Pressure);

            // Its adapter is pulled: the port itself vanishes.
            from = _clock.Now;
            slave.Dispose();
            modbusWire.Dispose();
            await Run(4);
            to = _clock.Now;
            Down("transmitter's port gone", Pressure, from, to, FaultCode.LineDown, 0.2);
            await NeighboursWentOn(from, to, Volts, Milliamps, FirstField);
            modbusWire = await Companion.Wire(At("gauge"), At("gauge-far"));
            slave = await StartSlave();
            await Recovered("transmitter after its port was gone", Pressure);

            // The meter's network service dies.
            from = _clock.Now;
            meter.Dispose();
            await Run(4);
            to = _clock.Now;
            Down("meter gone", Volts, from, to, FaultCode.LineDown, 0.5);
            Down("meter gone", Milliamps, from, to, FaultCode.LineDown, 0.5);
            await NeighboursWentOn(from, to, Pressure, FirstField);
            meter = await StartMeter();
            await Recovered("meter", Volts);

            // The board falls silent, then its port vanishes.
            from = _clock.Now;
            emitter.Dispose();
            await Run(3);
            to = _clock.Now;
            Down("board silent", FirstField, from, to, FaultCode.Missing, 0.1);
            await NeighboursWentOn(from, to, Pressure, Volts, Milliamps);
            from = _clock.Now;
            emitterWire.Dispose();
            await Run(3);
            to = _clock.Now;
            Down("board's port gone", FirstField, from, to, FaultCode.LineDown, 0.1);
            await NeighboursWentOn(from, to, Pressure, Volts, Milliamps);
            emitterWire = await Companion.Wire(At("board"), At("board-far"));
            emitter = await StartEmitter();
            await Recovered("board", FirstField);

            // Noise on both wires, and a meter that answers late, torn and with noise before.
            from = _clock.Now;
            await File.WriteAllTextAsync(At("meter.log.garble"), "");
            for (int i = 0; i < 12; i++)
            {
                await Noise(At("gauge-far"), [0xFF, 0x00, 0x11, 0x04, 0x04, (byte)i]);
                await Noise(At("board-far"), [.. "12,3"u8, 0xFF, .. "9.9,\n7"u8]);
                await Run(0.45);
            }

            File.Delete(At("meter.log.garble"));
            to = _clock.Now;
            foreach (int channel in new[] { Pressure, Volts, FirstField })
            {
                var during = _sink.Of(channel, from, to);
                output.WriteLine($"garbled, channel {channel}: {during.Count(r => !r.Reading.IsFault)} values, {during.Count(r => r.Reading.IsFault)} faults"
                    + $" ({string.Join(", ", during.Where(r => r.Reading.IsFault).Select(r => r.Reading.ToString()).Distinct())})");
            }

            await Recovered("transmitter after noise", Pressure);
            await Recovered("meter after noise", Volts);
            await Recovered("board after noise", FirstField);
            await Run(2);
        }
        finally
        {
            await sampler.StopAsync(TimeSpan.FromSeconds(3));
            foreach (Companion companion in new[] { slave, meter, emitter, modbusWire, emitterWire })
            {
                companion.Dispose();
            }
        }

        EverythingTakenWasSent();
    }

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    private static IReadOnlyDictionary<string, InstrumentProfile> Profiles { get; } = new[]
    {
        new InstrumentProfile
        {
            Name = "transmitter",
            Title = "Pressure transmitter",
            Protocol = InstrumentProtocol.ModbusRtu,
            Modbus = new ModbusFormat(),
            Inputs = [new ProfileInput { Name = "pressure", RawUnit = "bar", Register = 0, Type = "float32" }],
        },
        new InstrumentProfile
        {
            Name = "meter",
            Title = "Multimeter",
            Protocol = InstrumentProtocol.Scpi,
            Scpi = new ScpiFormat { IdentityContains = "DMM" },
            Inputs =
            [
                new ProfileInput { Name = "volts", RawUnit = "V", Query = "MEAS:VOLT:DC?" },
                new ProfileInput { Name = "current", RawUnit = "mA", Query = "MEAS:CURR:DC?" },
            ],
        },
        new InstrumentProfile
        {
            Name = "board",
            Title = "Board",
            Protocol = InstrumentProtocol.Lines,
            Lines = new LineFormat { FieldCount = 4, HasSequence = true, Checksum = "crc16" },
            Inputs = [.. Enumerable.Range(1, 4).Select(i => new ProfileInput { Name = "v" + i, RawUnit = "V", Field = i })],
        },
    }.ToDictionary(p => p.Name);

    private BenchDefinition Bench() => new()
    {
        Id = "real-lines",
        Label = "Real lines",
        SourceHash = "",
        Machine = new MachineDefinition { Label = "Machine" },
        Instruments =
        [
            Instrument("transmitter", new ConnectionDefinition { Kind = ConnectionKind.Serial, Port = At("gauge"), Baud = 19200, Address = 17, ReplyTimeout = TimeSpan.FromMilliseconds(300) }),
            Instrument("meter", new ConnectionDefinition { Kind = ConnectionKind.Tcp, Host = "127.0.0.1", TcpPort = Port, ReplyTimeout = TimeSpan.FromMilliseconds(400) }),
            Instrument("board", new ConnectionDefinition { Kind = ConnectionKind.Serial, Port = At("board"), Baud = 115200 }),
        ],
        Channels =
        [
            Channel("pressure", Pressure, "bar", "transmitter", 0.2),
            Channel("volts", Volts, "V", "meter", 0.5),
            Channel("current", Milliamps, "mA", "meter", 0.5),
            .. Enumerable.Range(1, 4).Select(i => Channel("v" + i, FirstField + i - 1, "V", "board", 0.1)),
        ],
    };

    private static InstrumentDefinition Instrument(string id, ConnectionDefinition connection) =>
        new() { Id = id, Profile = id, Connection = connection };

    private static ChannelDefinition Channel(string input, int key, string unit, string instrument, double periodSeconds) => new()
    {
        Id = input,
        Key = key,
        Label = input,
        Unit = unit,
        RawUnit = unit,
        Instrument = instrument,
        Input = input,
        Period = TimeSpan.FromSeconds(periodSeconds),
        Calibration = LineCalibration.Identity,
    };

    private string At(string file) => Path.Combine(_folder, file);

    private Task<Companion> StartSlave() => Companion.Script("modbus_slave.py", At("gauge-far"), At("slave.log"));

    private Task<Companion> StartMeter() =>
        Companion.Script("scpi_responder.py", Port.ToString(CultureInfo.InvariantCulture), At("meter.log"));

    private Task<Companion> StartEmitter(int linesPerSecond = 10)
    {
        // Each run of the emitter counts from a thousand of its own.
        _firstSequence += 1000;
        return Companion.Script(
            "line_emitter.py",
            At("board-far"),
            At("board.log"),
            linesPerSecond.ToString(CultureInfo.InvariantCulture),
            _firstSequence.ToString(CultureInfo.InvariantCulture));
    }

    private static Task Run(double seconds) => Task.Delay(TimeSpan.FromSeconds(seconds), TimeProvider.System);

    private static async Task Noise(string port, byte[] bytes)
    {
        await using var stream = new FileStream(port, FileMode.Open, FileAccess.Write, FileShare.ReadWrite, bufferSize: 0);
        await stream.WriteAsync(bytes);
    }

    private async Task AllTalk()
    {
        foreach (int channel in new[] { Pressure, Volts, FirstField })
        {
            await Recovered("first reading", channel, fresh: false);
        }
    }

    /// <summary>Waits for the next value; prints how long after now it was measured.</summary>
    private async Task Recovered(string what, int channel, bool fresh = true)
    {
        EngineTime from = fresh ? _clock.Now : new EngineTime(0);
        for (int i = 0; i < 400; i++)
        {
            var value = _sink.Of(channel, from).FirstOrDefault(r => !r.Reading.IsFault);
            if (!value.Reading.IsFault)
            {
                output.WriteLine($"{what}: a value {(value.At - from).TotalSeconds:0.00} s after its return");
                return;
            }

            await Run(0.025);
        }

        Assert.Fail($"{what}: no value within 10 s; {string.Join("\n", _sink.Notices)}");
    }

    private void Down(string what, int channel, EngineTime from, EngineTime to, FaultCode fault, double periodSeconds)
    {
        // What was under way when it died, and the first silence, may still be something else.
        EngineTime settled = from + TimeSpan.FromSeconds(1.5);
        var readings = _sink.Of(channel, settled, to);
        double due = (to - settled).TotalSeconds / periodSeconds;
        output.WriteLine($"{what}: {readings.Count} faults of {due:0} due, {string.Join(", ", readings.Select(r => r.Reading.ToString()).Distinct())}");
        Assert.All(readings, r => Assert.True(r.Reading.IsFault, $"{what}: a value {r.Reading} while it was down"));
        Assert.Contains(readings, r => r.Reading.Fault == fault);
        Assert.InRange(readings.Count, due * 0.7, (due * 1.1) + 1);
    }

    private async Task NeighboursWentOn(EngineTime from, EngineTime to, params int[] channels)
    {
        await Run(0.1);
        foreach (int channel in channels)
        {
            var readings = _sink.Of(channel, from, to);
            double due = (to - from).TotalSeconds / Bench().Channels.Single(c => c.Key == channel).Period.TotalSeconds;
            Assert.InRange(readings.Count(r => !r.Reading.IsFault), due * 0.7, (due * 1.2) + 1);
        }
    }

    /// <summary>Every value taken is one that was sent, to its last digit; of the board's lines, those that came whole came with all four.</summary>
    private void EverythingTakenWasSent()
    {
        HashSet<double> pressures = [.. File.ReadLines(At("slave.log")).Select(Number)];
        HashSet<double> volts = [.. File.ReadLines(At("meter.log")).Where(l => l.StartsWith('V')).Select(l => Number(l[2..]))];
        HashSet<double> currents = [.. File.ReadLines(At("meter.log")).Where(l => l.StartsWith('I')).Select(l => Number(l[2..]))];
        AllSent(Pressure, pressures);
        AllSent(Volts, volts);
        AllSent(Milliamps, currents);
        string[][] lines = [.. File.ReadLines(At("board.log")).Select(l => l.Split(' '))];
        for (int i = 0; i < 4; i++)
        {
            AllSent(FirstField + i, [.. lines.Select(l => Number(l[i + 1]))]);
        }

        int taken = _sink.Of(FirstField).Count(r => !r.Reading.IsFault);
        output.WriteLine($"board: {lines.Length} lines sent, {taken} taken");

        static double Number(string text) => double.Parse(text, NumberStyles.Float, CultureInfo.InvariantCulture);
    }

    private void AllSent(int channel, HashSet<double> sent)
    {
        var values = _sink.Of(channel).Where(r => !r.Reading.IsFault).ToList();
        Assert.NotEmpty(values);
        Assert.All(values, v => Assert.True(sent.Contains(v.Reading.Raw), $"channel {channel} took {v.Reading.Raw:R}, which nobody sent"));
    }
}
