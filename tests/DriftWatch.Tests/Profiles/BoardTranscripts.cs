using System.Device.I2c;
using System.Device.Spi;
using System.Globalization;
using System.Text;
using DriftWatch.Acquisition.Boards;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Tests.Acquisition.Boards;
using Xunit;

namespace DriftWatch.Tests.Profiles;

/// <summary>Bus devices that hold every transfer against a transcript.</summary>
internal sealed class TranscriptDevices(IReadOnlyList<TranscriptEntry> entries) : IBoardDevices
{
    private int _next;

    public bool IsThrough => _next == entries.Count;

    public I2cDevice I2c(int bus, int address) => new ScriptedI2c(this, new I2cConnectionSettings(bus, address));

    public SpiDevice Spi(int bus, int chipSelect) => new ScriptedSpi(this, new SpiConnectionSettings(bus, chipSelect));

    private void Tell(ReadOnlySpan<byte> bytes)
    {
        TranscriptEntry due = Next('>');
        Assert.True(bytes.SequenceEqual(due.Bytes), $"line {due.Line}: told {SimulatedChip.Hex(bytes)}");
    }

    private void Ask(Span<byte> bytes)
    {
        TranscriptEntry due = Next('<');
        Assert.True(bytes.Length == due.Bytes.Length, $"line {due.Line}: asked for {bytes.Length} bytes");
        due.Bytes.CopyTo(bytes);
    }

    private TranscriptEntry Next(char kind)
    {
        Assert.True(_next < entries.Count, "the transcript is over");
        TranscriptEntry due = entries[_next++];
        Assert.True(due.Kind == kind, $"line {due.Line} should be '{kind}'");
        return due;
    }

    private sealed class ScriptedI2c(TranscriptDevices owner, I2cConnectionSettings settings) : I2cDevice
    {
        public override I2cConnectionSettings ConnectionSettings => settings;

        public override void Read(Span<byte> buffer) => owner.Ask(buffer);

        public override void Write(ReadOnlySpan<byte> buffer) => owner.Tell(buffer);

        public override void WriteRead(ReadOnlySpan<byte> writeBuffer, Span<byte> readBuffer)
        {
            owner.Tell(writeBuffer);
            owner.Ask(readBuffer);
        }
    }

    private sealed class ScriptedSpi(TranscriptDevices owner, SpiConnectionSettings settings) : SpiDevice
    {
        public override SpiConnectionSettings ConnectionSettings => settings;

        public override void Read(Span<byte> buffer) => owner.Ask(buffer);

        public override void Write(ReadOnlySpan<byte> buffer) => owner.Tell(buffer);

        public override void TransferFullDuplex(ReadOnlySpan<byte> writeBuffer, Span<byte> readBuffer)
        {
            owner.Tell(writeBuffer);
            owner.Ask(readBuffer);
        }
    }
}

/// <summary>Writes the transcripts of boards from their simulated chips, whose registers follow the data sheets.</summary>
internal static class BoardTranscripts
{
    private const string Head =
        """
        # Transcript of the bus: register traffic of one greeting and some scans.
        #   >x 01 02  the computer writes       <x 01 02  the chip answers (SPI: both at once)
        #   = input value                       what must come of it: the raw value, or !fault

        """;

    public static void RewriteIfAsked(string name)
    {
        if (Environment.GetEnvironmentVariable("DRIFTWATCH_REWRITE") != "1")
        {
            return;
        }

        string folder = AppContext.BaseDirectory;
        while (!File.Exists(Path.Combine(folder, "DriftWatch.sln")))
        {
            folder = Path.GetDirectoryName(folder)!;
        }

        string text = Write(name);
        File.WriteAllText(Path.Combine(folder, "device-profiles", name, "transcript.txt"), text);
        File.WriteAllText(Transcript.PathOf(name), text);
    }

    private static string Write(string name)
    {
        var ads = new SimulatedAds1115();
        var bme = new SimulatedBme280();
        var mcp = new SimulatedMcp3208();
        var boards = new SimulatedBoards();
        boards.I2cChips[(1, 0x48)] = ads;
        boards.I2cChips[(1, 0x76)] = bme;
        boards.SpiChips[(0, 0)] = mcp;
        List<string> traffic = name switch { "adc-16bit-i2c" => ads.Traffic, "adc-12bit-spi" => mcp.Traffic, _ => bme.Traffic };
        InstrumentProfile profile = BoardBench.Profile(name);
        var page = new StringBuilder(Head.ReplaceLineEndings("\n"));
        using BoardInstrument board = BoardInstrument.Make(BoardBench.Definition(name), profile, boards, TimeProvider.System);
        Take("Greeting", () => board.Greet());
        switch (name)
        {
            case "adc-16bit-i2c":
                new[] { 0.6, 1.8, 3.0, 4.2 }.CopyTo(ads.PinVolts, 0);
                Scan("Four pins in turn, 6.144 V full scale", "a0", "a1", "a2", "a3");
                Scan("A pair: the difference", "a2-a3");
                ads.PinVolts[0] = 7;
                Scan("Over the end of the range: code 7FFF", "a0");
                ads.PinVolts[0] = -7;
                Scan("Under it: code 8000", "a0");
                break;
            case "adc-12bit-spi":
                new[] { 410, 2048, 3686, 1517, 0, 4095, 1, 4094 }.CopyTo(mcp.Codes, 0);
                Scan("Eight inputs of a 5 V reference; ch4 and ch5 are at the ends", [.. profile.Inputs.Select(i => i.Name)]);
                break;
            default:
                Scan("Raw values of the calculation example in BST-BMP280-DS001, section 3.12: 25.08 °C, 1006.53 hPa", "temperature", "humidity", "pressure");
                bme.RawHumidity = 65000;
                Scan("Wet: the binding clips at 100 %", "humidity");
                break;
        }

        return page.ToString();

        void Take(string what, Action act)
        {
            traffic.Clear();
            act();
            page.Append(CultureInfo.InvariantCulture, $"\n# {what}.\n{string.Join('\n', traffic)}\n");
        }

        void Scan(string what, params string[] inputs)
        {
            var results = new PolledReading[inputs.Length];
            Take(what, () => board.Scan([.. inputs.Select(n => Array.FindIndex([.. profile.Inputs], i => i.Name == n))], results));
            for (int i = 0; i < inputs.Length; i++)
            {
                page.Append(CultureInfo.InvariantCulture, $"= {inputs[i]} {results[i].Reading}\n");
            }
        }
    }
}
