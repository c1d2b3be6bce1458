using System.Device.I2c;
using System.Device.Spi;
using System.Globalization;
using DriftWatch.Acquisition.Boards;
using DriftWatch.Acquisition.Lines;

namespace DriftWatch.Tests.Acquisition.Boards;

/// <summary>Buses with simulated chips on them: the bindings above are the real ones.</summary>
internal sealed class SimulatedBoards : IBoardDevices
{
    public Dictionary<(int Bus, int Address), SimulatedChip> I2cChips { get; } = [];

    public Dictionary<(int Bus, int ChipSelect), SimulatedMcp3208> SpiChips { get; } = [];

    public bool BusIsMissing { get; set; }

    public I2cDevice I2c(int bus, int address) => BusIsMissing
        ? throw new LinkException("there is no /dev/i2c-1", "switch the bus on")
        : new SimulatedI2cDevice(new I2cConnectionSettings(bus, address), I2cChips.GetValueOrDefault((bus, address)));

    public SpiDevice Spi(int bus, int chipSelect) => BusIsMissing
        ? throw new LinkException("there is no /dev/spidev0.0", "switch the bus on")
        : new SimulatedSpiDevice(new SpiConnectionSettings(bus, chipSelect), SpiChips.GetValueOrDefault((bus, chipSelect)));
}

/// <summary>A chip on I²C: what it is told and what it says, with a record of both.</summary>
internal abstract class SimulatedChip
{
    /// <summary>Each transfer: '&gt;' or '&lt;' and its bytes in hex, as in transcripts.</summary>
    public List<string> Traffic { get; } = [];

    /// <summary>Not powered, not wired: no acknowledgement.</summary>
    public bool Silent { get; set; }

    public void Tell(ReadOnlySpan<byte> bytes)
    {
        Acknowledge();
        Traffic.Add(">x " + Hex(bytes));
        Write(bytes);
    }

    public void Ask(Span<byte> bytes)
    {
        Acknowledge();
        Read(bytes);
        Traffic.Add("<x " + Hex(bytes));
    }

    public static string Hex(ReadOnlySpan<byte> bytes)
    {
        var parts = new string[bytes.Length];
        for (int i = 0; i < parts.Length; i++)
        {
            parts[i] = bytes[i].ToString("X2", CultureInfo.InvariantCulture);
        }

        return string.Join(' ', parts);
    }

    protected abstract void Write(ReadOnlySpan<byte> bytes);

    protected abstract void Read(Span<byte> bytes);

    private void Acknowledge()
    {
        if (Silent)
        {
            throw new IOException("Error 121 performing I2C data transfer.");
        }
    }
}

internal sealed class SimulatedI2cDevice(I2cConnectionSettings settings, SimulatedChip? chip) : I2cDevice
{
    public override I2cConnectionSettings ConnectionSettings => settings;

    public override void Read(Span<byte> buffer) => Chip.Ask(buffer);

    public override void Write(ReadOnlySpan<byte> buffer) => Chip.Tell(buffer);

    public override void WriteRead(ReadOnlySpan<byte> writeBuffer, Span<byte> readBuffer)
    {
        Chip.Tell(writeBuffer);
        Chip.Ask(readBuffer);
    }

    private bool _disposed;

    private SimulatedChip Chip
    {
        get
        {
            ObjectDisposedException.ThrowIf(_disposed, this);
            return chip ?? throw new IOException("Error 121 performing I2C data transfer.");
        }
    }

    protected override void Dispose(bool disposing)
    {
        _disposed = true;
        base.Dispose(disposing);
    }
}

/// <summary>
/// The 16-bit converter by its data sheet (SBAS444): pointer register, conversion, configuration and two thresholds,
/// big-endian. Writing OS = 1 converts; reading OS gives 0 while busy.
/// </summary>
internal sealed class SimulatedAds1115 : SimulatedChip
{
    private static readonly double[] FullScales = [6.144, 4.096, 2.048, 1.024, 0.512, 0.256, 0.256, 0.256];
    private readonly ushort[] _registers = [0, 0x8583, 0x8000, 0x7FFF];
    private int _pointer;
    private int _busy;

    /// <summary>Volts at pins 0 to 3 against ground.</summary>
    public double[] PinVolts { get; } = new double[4];

    /// <summary>How often the status must be read before a conversion is done; int.MaxValue never.</summary>
    public int BusyReads { get; set; }

    protected override void Write(ReadOnlySpan<byte> bytes)
    {
        _pointer = bytes[0] & 3;
        if (bytes.Length < 3)
        {
            return;
        }

        _registers[_pointer] = (ushort)((bytes[1] << 8) | bytes[2]);
        if (_pointer == 1 && (bytes[1] & 0x80) != 0)
        {
            _busy = BusyReads;
            Convert();
        }
    }

    protected override void Read(Span<byte> bytes)
    {
        ushort value = _registers[_pointer];
        if (_pointer == 1)
        {
            value = (ushort)((value & 0x7FFF) | (_busy > 0 ? 0 : 0x8000));
            _busy -= _busy > 0 && _busy < int.MaxValue ? 1 : 0;
        }

        bytes[0] = (byte)(value >> 8);
        if (bytes.Length > 1)
        {
            bytes[1] = (byte)value;
        }
    }

    private void Convert()
    {
        int mux = (_registers[1] >> 12) & 7;
        double volts = mux switch
        {
            0 => PinVolts[0] - PinVolts[1],
            1 => PinVolts[0] - PinVolts[3],
            2 => PinVolts[1] - PinVolts[3],
            3 => PinVolts[2] - PinVolts[3],
            _ => PinVolts[mux - 4],
        };
        double code = Math.Round(volts / FullScales[(_registers[1] >> 9) & 7] * 32768);
        _registers[0] = (ushort)(short)Math.Clamp(code, short.MinValue, short.MaxValue);
    }
}

/// <summary>
/// The climate sensor by its data sheet (BST-BME280-DS002): byte registers that count up as they are read. A forced
/// measurement is done at once and puts the chip back to sleep. Trimming and raw values of temperature and pressure are
/// those of the calculation example in the data sheet of its sister (BST-BMP280-DS001, section 3.12).
/// </summary>
internal sealed class SimulatedBme280 : SimulatedChip
{
    private readonly byte[] _registers = new byte[256];
    private int _pointer;

    public SimulatedBme280()
    {
        _registers[0xD0] = 0x60;
        Little(0x88, 27504);
        Little(0x8A, 26435);
        Little(0x8C, -1000);
        Little(0x8E, 36477);
        Little(0x90, -10685);
        Little(0x92, 3024);
        Little(0x94, 2855);
        Little(0x96, 140);
        Little(0x98, -7);
        Little(0x9A, 15500);
        Little(0x9C, -14600);
        Little(0x9E, 6000);

        // Humidity trimming of an ordinary chip: H1 75, H2 370, H3 0, H4 313, H5 50, H6 30.
        _registers[0xA1] = 75;
        Little(0xE1, 370);
        _registers[0xE3] = 0;
        _registers[0xE4] = 313 >> 4;
        _registers[0xE5] = (313 & 0x0F) | ((50 & 0x0F) << 4);
        _registers[0xE6] = 50 >> 4;
        _registers[0xE7] = 30;
        RawTemperature = 519888;
        RawPressure = 415148;
        RawHumidity = 30000;
    }

    public int RawTemperature { set => Data20(0xFA, value); }

    public int RawPressure { set => Data20(0xF7, value); }

    public int RawHumidity
    {
        set
        {
            _registers[0xFD] = (byte)(value >> 8);
            _registers[0xFE] = (byte)value;
        }
    }

    public byte ChipId { set => _registers[0xD0] = value; }

    protected override void Write(ReadOnlySpan<byte> bytes)
    {
        _pointer = bytes[0];
        for (int i = 1; i < bytes.Length; i += 2)
        {
            int register = bytes[i - 1];
            byte value = bytes[i];
            _registers[register] = register == 0xF4 && (value & 3) is 1 or 2 ? (byte)(value & 0xFC) : value;
        }
    }

    protected override void Read(Span<byte> bytes)
    {
        for (int i = 0; i < bytes.Length; i++)
        {
            bytes[i] = _registers[_pointer++ & 0xFF];
        }
    }

    private void Little(int register, int value)
    {
        _registers[register] = (byte)value;
        _registers[register + 1] = (byte)(value >> 8);
    }

    private void Data20(int register, int value)
    {
        _registers[register] = (byte)(value >> 12);
        _registers[register + 1] = (byte)(value >> 4);
        _registers[register + 2] = (byte)(value << 4);
    }
}

/// <summary>
/// The 12-bit converter by its data sheet (DS21298): after the start bit a bit for single-ended, three for the
/// input, one clock to sample, a null bit, then twelve bits, highest first.
/// </summary>
internal sealed class SimulatedMcp3208
{
    public List<string> Traffic { get; } = [];

    /// <summary>Codes at inputs 0 to 7.</summary>
    public int[] Codes { get; } = new int[8];

    public void Transfer(ReadOnlySpan<byte> told, Span<byte> said)
    {
        Traffic.Add(">x " + SimulatedChip.Hex(told));
        said.Clear();
        int start = 0;
        while (start < told.Length * 8 && !Bit(told, start))
        {
            start++;
        }

        if (start + 18 < said.Length * 8)
        {
            int channel = (Bit(told, start + 2) ? 4 : 0) | (Bit(told, start + 3) ? 2 : 0) | (Bit(told, start + 4) ? 1 : 0);
            for (int i = 0; i < 12; i++)
            {
                int at = start + 7 + i;
                said[at / 8] |= (byte)(((Codes[channel] >> (11 - i)) & 1) << (7 - (at % 8)));
            }
        }

        Traffic.Add("<x " + SimulatedChip.Hex(said));
    }

    private static bool Bit(ReadOnlySpan<byte> bytes, int index) => (bytes[index / 8] & (0x80 >> (index % 8))) != 0;
}

internal sealed class SimulatedSpiDevice(SpiConnectionSettings settings, SimulatedMcp3208? chip) : SpiDevice
{
    public override SpiConnectionSettings ConnectionSettings => settings;

    public override void Read(Span<byte> buffer) => TransferFullDuplex(new byte[buffer.Length], buffer);

    public override void Write(ReadOnlySpan<byte> buffer) => TransferFullDuplex(buffer, new byte[buffer.Length]);

    public override void TransferFullDuplex(ReadOnlySpan<byte> writeBuffer, Span<byte> readBuffer)
    {
        if (chip is null)
        {
            // Nobody drives the line: it reads as zeros.
            readBuffer.Clear();
            return;
        }

        chip.Transfer(writeBuffer, readBuffer);
    }
}
