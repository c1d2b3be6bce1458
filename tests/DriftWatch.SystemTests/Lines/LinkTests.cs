using System.Globalization;
using System.Net;
using System.Net.Sockets;
using System.Text;
using DriftWatch.Acquisition.Lines;
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

/// <summary>The links themselves on pseudo-terminals and loopback TCP: what they carry, how they fail, what they say.</summary>
public sealed class LinkTests(ITestOutputHelper output) : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-links-").FullName;

    [Theory]
    [InlineData(SerialDriver.Automatic)]
    [InlineData(SerialDriver.Portable)]
    public async Task Every_byte_arrives_whatever_the_timeouts_do(SerialDriver driver)
    {
        using Companion wire = await Companion.Wire(At("a"), At("b"));
        using IByteLink ours = Open("a", driver);
        using IByteLink theirs = Open("b", driver);
        byte[] sent = [.. Enumerable.Range(0, 3000).Select(i => (byte)i)];
        var sending = Task.Run(async () =>
        {
            // Pieces about as far apart as the reader's timeout: the case in which a cancelled read loses bytes.
            for (int i = 0; i < sent.Length; i += 20)
            {
                theirs.Write(sent.AsSpan(i, 20));
                await Task.Delay(TimeSpan.FromMilliseconds(5), TimeProvider.System);
            }
        });
        var got = new List<byte>();
        var buffer = new byte[64];
        int quiet = 0;
        while (got.Count < sent.Length && quiet < 2000)
        {
            int count = ours.Read(buffer, TimeSpan.FromMilliseconds(5));
            got.AddRange(buffer.AsSpan(0, count));
            quiet = count == 0 ? quiet + 1 : 0;
        }

        await sending;
        Assert.Equal(sent, got);
    }

    [Theory]
    [InlineData(SerialDriver.Automatic)]
    [InlineData(SerialDriver.Portable)]
    public async Task A_line_whose_far_end_dies_says_so_and_closes_at_once(SerialDriver driver)
    {
        Companion wire = await Companion.Wire(At("a"), At("b"));
        IByteLink link = Open("a", driver);
        Assert.Equal(0, link.Read(new byte[8], TimeSpan.FromMilliseconds(10)));
        wire.Dispose();
        LinkException error = Assert.Throws<LinkException>(() =>
        {
            for (int i = 0; i < 200; i++)
            {
                link.Read(new byte[8], TimeSpan.FromMilliseconds(50));
            }
        });
        Assert.Contains("went down", error.Message, StringComparison.Ordinal);
        Assert.NotEmpty(error.Remedy);
        await Task.Run(link.Dispose).WaitAsync(TimeSpan.FromSeconds(20), TimeProvider.System);

        // What is left behind is a link that points nowhere, and the message says where to.
        LinkException again = Assert.Throws<LinkException>(() => Open("a", driver));
        Assert.Contains(At("a"), again.Message, StringComparison.Ordinal);
        Assert.Contains("does not exist", again.Message, StringComparison.Ordinal);
        output.WriteLine(again.Message);
    }

    [Theory]
    [InlineData(SerialDriver.Automatic)]
    [InlineData(SerialDriver.Portable)]
    public async Task A_wait_is_ended_by_wake_and_by_dispose(SerialDriver driver)
    {
        using Companion wire = await Companion.Wire(At("a"), At("b"));
        IByteLink link = Open("a", driver);
        Task<int> woken = Task.Run(() => link.Read(new byte[8], Timeout.InfiniteTimeSpan));
        await Task.Delay(TimeSpan.FromMilliseconds(100), TimeProvider.System);
        link.Wake();
        Assert.Equal(0, await woken.WaitAsync(TimeSpan.FromSeconds(20), TimeProvider.System));

        Task<Exception?> closed = Task.Run<Exception?>(() => Record.Exception(() => link.Read(new byte[8], Timeout.InfiniteTimeSpan)));
        await Task.Delay(TimeSpan.FromMilliseconds(100), TimeProvider.System);
        link.Dispose();
        Exception? ended = await closed.WaitAsync(TimeSpan.FromSeconds(20), TimeProvider.System);
        Assert.True(ended is null or LinkException, ended?.ToString());
    }

    [Fact]
    public async Task A_port_in_use_is_told_apart_from_one_that_is_missing_or_no_serial_port()
    {
        if (!OperatingSystem.IsLinux())
        {
            return;
        }

        using Companion wire = await Companion.Wire(At("a"), At("b"));
        using IByteLink first = Open("a", SerialDriver.Automatic);
        Assert.Contains("in use", Assert.Throws<LinkException>(() => Open("a", SerialDriver.Automatic)).Message, StringComparison.Ordinal);
        Assert.Contains("does not exist", Assert.Throws<LinkException>(() => Open("none", SerialDriver.Automatic)).Message, StringComparison.Ordinal);
        await File.WriteAllTextAsync(At("file"), "");
        Assert.Contains("not a serial port", Assert.Throws<LinkException>(() => Open("file", SerialDriver.Automatic)).Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(12345, "8N1")]
    [InlineData(250000, "8N2")]
    [InlineData(115200, "8E1")]
    public async Task Unusual_baud_rates_and_framings_open(int baud, string framing)
    {
        using Companion wire = await Companion.Wire(At("a"), At("b"));
        using IByteLink link = ByteLinks.Open(
            new ConnectionDefinition { Kind = ConnectionKind.Serial, Port = At("a"), Baud = baud, Framing = framing }, TimeProvider.System);
        using IByteLink far = Open("b", SerialDriver.Automatic);
        far.Write([0x00, 0xFF, 0x0A, 0x0D, 0x11, 0x13, 0x7F]);
        var got = new List<byte>();
        var buffer = new byte[16];
        while (got.Count < 7)
        {
            int count = link.Read(buffer, TimeSpan.FromSeconds(10));
            Assert.True(count > 0, "bytes are missing");
            got.AddRange(buffer.AsSpan(0, count));
        }

        Assert.Equal([0x00, 0xFF, 0x0A, 0x0D, 0x11, 0x13, 0x7F], got);
    }

    [Fact]
    public async Task A_frame_of_64_points_crosses_a_serial_wire_bit_for_bit_and_a_torn_one_never_arrives()
    {
        const int seed = 64;
        var random = new Random(seed);
        using Companion wire = await Companion.Wire(At("a"), At("b"));
        InstrumentProfile profile = new()
        {
            Name = "board",
            Title = "Board",
            Protocol = InstrumentProtocol.Lines,
            Lines = new LineFormat { FieldCount = 1 },
            Inputs = [new ProfileInput { Name = "timing", Kind = ChannelKind.Frame, RawUnit = "ns", Points = 64, Tag = "T" }],
        };
        ChannelDefinition timing = new()
        {
            Id = "timing",
            Key = 1,
            Label = "Timing",
            Kind = ChannelKind.Frame,
            Unit = "ns",
            RawUnit = "ns",
            Instrument = "board",
            Input = "timing",
            Period = TimeSpan.FromMilliseconds(250),
            Calibration = LineCalibration.Identity,
            Axis = FrameAxis.Even(16),
        };
        BenchDefinition bench = new()
        {
            Id = "frames",
            Label = "Frames",
            SourceHash = "",
            Machine = new MachineDefinition { Label = "Machine" },
            Instruments = [new InstrumentDefinition { Id = "board", Profile = "board", Connection = new ConnectionDefinition { Kind = ConnectionKind.Serial, Port = At("a"), Baud = 115200 } }],
            Channels = [timing],
        };
        var sink = new CollectingSink();
        using var sampler = new BenchSampler(
            bench, new Dictionary<string, InstrumentProfile> { ["board"] = profile }, new EngineClock(TimeProvider.System, default), sink, NullLoggerFactory.Instance);
        using IByteLink board = Open("b", SerialDriver.Automatic);
        sampler.Start();
        for (int i = 0; i < 400 && !sink.Notices.Any(n => n.State == LinkState.Talking); i++)
        {
            // Lines of another kind until the owner listens; the first after opening is dropped.
            board.Write("1\n"u8);
            await Task.Delay(TimeSpan.FromMilliseconds(25), TimeProvider.System);
        }

        var sent = new List<Frame>();
        for (uint i = 0; i < 20; i++)
        {
            double[] values = [.. Enumerable.Range(0, 64).Select(_ => (random.NextDouble() - 0.5) * 2000)];
            double angle = random.NextDouble() * 360;
            string body = string.Create(CultureInfo.InvariantCulture, $"T,{i},{angle:R},{string.Join(',', values.Select(v => v.ToString("R", CultureInfo.InvariantCulture)))}");
            byte[] line = Encoding.ASCII.GetBytes($"{body}*{Checksums.Crc16(Encoding.ASCII.GetBytes(body)):X4}\r\n");
            if (i % 5 == 4)
            {
                // A digit lost on the way.
                line = [.. line[..200], .. line[201..]];
            }
            else
            {
                sent.Add(new Frame(i, angle, values));
            }

            board.Write(line);
        }

        for (int i = 0; i < 400 && sink.Frames.Count < sent.Count; i++)
        {
            await Task.Delay(TimeSpan.FromMilliseconds(25), TimeProvider.System);
        }

        await sampler.StopAsync(TimeSpan.FromSeconds(3));
        Assert.True(sent.SequenceEqual(sink.Frames), $"seed {seed}: {sink.Frames.Count} of {sent.Count} frames");
    }

    [Fact]
    public void A_peer_that_refuses_and_one_that_closes_are_told_in_words()
    {
        using var listener = new TcpListener(IPAddress.Loopback, 0);
        listener.Start();
        int port = ((IPEndPoint)listener.LocalEndpoint).Port;
        using (IByteLink link = OpenTcp(port))
        {
            using (Socket peer = listener.AcceptSocket())
            {
                peer.Send("1.5\n"u8);
            }

            var buffer = new byte[16];
            Assert.Equal(4, link.Read(buffer, TimeSpan.FromSeconds(10)));
            LinkException closed = Assert.Throws<LinkException>(() => link.Read(buffer, TimeSpan.FromSeconds(10)));
            Assert.Contains("closed the connection", closed.Message, StringComparison.Ordinal);
        }

        listener.Stop();
        LinkException refused = Assert.Throws<LinkException>(() => OpenTcp(port));
        Assert.Contains("refuses the connection", refused.Message, StringComparison.Ordinal);
        Assert.NotEmpty(refused.Remedy);
    }

    [Fact]
    public async Task A_probe_tells_who_talks_and_who_is_silent_and_what_to_do()
    {
        using Companion meter = await Companion.Script("scpi_responder.py", "45026", At("meter.log"));
        InstrumentProfile profile = new()
        {
            Name = "meter",
            Title = "Multimeter",
            Protocol = InstrumentProtocol.Scpi,
            Scpi = new ScpiFormat(),
            Inputs = [new ProfileInput { Name = "volts", RawUnit = "V", Query = "MEAS:VOLT:DC?" }],
        };
        ChannelDefinition volts = new()
        {
            Id = "volts",
            Key = 1,
            Label = "Volts",
            Unit = "psi",
            RawUnit = "V",
            Instrument = "here",
            Input = "volts",
            Period = TimeSpan.FromMilliseconds(200),
            Calibration = new LineCalibration(10, -5),
        };
        BenchDefinition bench = new()
        {
            Id = "probed",
            Label = "Probed",
            SourceHash = "",
            Machine = new MachineDefinition { Label = "Machine" },
            Instruments =
            [
                new InstrumentDefinition { Id = "here", Profile = "meter", Connection = new ConnectionDefinition { Kind = ConnectionKind.Tcp, Host = "127.0.0.1", TcpPort = 45026 } },
                new InstrumentDefinition { Id = "gone", Profile = "meter", Connection = new ConnectionDefinition { Kind = ConnectionKind.Serial, Port = At("none") } },
            ],
            Channels = [volts, volts with { Id = "lost", Key = 2, Instrument = "gone" }],
        };
        IReadOnlyList<ProbedInstrument> probed = await ProbeRun.RunAsync(
            bench, new Dictionary<string, InstrumentProfile> { ["meter"] = profile }, 2, TimeProvider.System, NullLoggerFactory.Instance, default);
        Assert.True(probed[0].Talks);
        Assert.Equal("ARCHIVE BENCH,DMM,0,1.0", probed[0].Words);
        Assert.All(probed[0].Channels[0].Readings, r => Assert.InRange(r.Raw, 1, 2));
        Assert.False(probed[1].Talks);
        Assert.Contains("does not exist", probed[1].Words, StringComparison.Ordinal);
        Assert.Contains("bench file", probed[1].Words, StringComparison.Ordinal);
        Assert.All(probed[1].Channels[0].Readings, r => Assert.True(r.IsFault));
    }

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    private string At(string file) => Path.Combine(_folder, file);

    private IByteLink Open(string port, SerialDriver driver) => ByteLinks.Open(
        new ConnectionDefinition { Kind = ConnectionKind.Serial, Port = At(port), Baud = 115200 }, TimeProvider.System, driver);

    private static IByteLink OpenTcp(int port) => ByteLinks.Open(
        new ConnectionDefinition { Kind = ConnectionKind.Tcp, Host = "127.0.0.1", TcpPort = port }, TimeProvider.System);
}
