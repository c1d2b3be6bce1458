using System.Device.I2c;
using System.Device.Spi;
using DriftWatch.Acquisition.Lines;

namespace DriftWatch.Acquisition.Boards;

/// <summary>Where boards get their bus devices from: the system's, or simulated ones with registers in a test.</summary>
public interface IBoardDevices
{
    /// <exception cref="LinkException">The bus is not there or may not be opened.</exception>
    I2cDevice I2c(int bus, int address);

    /// <exception cref="LinkException">The bus or its chip-select is not there or may not be opened.</exception>
    SpiDevice Spi(int bus, int chipSelect);
}

/// <summary>The buses of this computer.</summary>
public sealed class SystemBoardDevices : IBoardDevices
{
    /// <summary>SPI clock. Source: data sheet of the 12-bit converters, 1 MHz at 2.7 V, the least of their range.</summary>
    private const int SpiClockHz = 1_000_000;

    public I2cDevice I2c(int bus, int address) => Open(
        $"/dev/i2c-{bus}", "i2c", () => I2cDevice.Create(new I2cConnectionSettings(bus, address)));

    public SpiDevice Spi(int bus, int chipSelect) => Open(
        $"/dev/spidev{bus}.{chipSelect}",
        "spi",
        () => SpiDevice.Create(new SpiConnectionSettings(bus, chipSelect) { ClockFrequency = SpiClockHz, Mode = SpiMode.Mode0 }));

    private static T Open<T>(string path, string group, Func<T> create)
    {
        if (OperatingSystem.IsLinux() && !File.Exists(path))
        {
            throw new LinkException($"there is no {path}", $"switch the {group.ToUpperInvariant()} bus on in the system's settings, or write the right bus in the bench file");
        }

        try
        {
            return create();
        }
        catch (PlatformNotSupportedException error)
        {
            throw new LinkException($"this system has no {group.ToUpperInvariant()} bus for programs", "run the bench with boards on a Linux computer that has one", error);
        }
        catch (UnauthorizedAccessException error)
        {
            throw Denied(error);
        }
        catch (IOException error)
        {
            throw error.Message.Contains("ermission", StringComparison.Ordinal)
                ? Denied(error)
                : new LinkException($"{path} can't be opened: {error.Message}", "check the bus in the bench file and the system's settings", error);
        }

        LinkException Denied(Exception error) =>
            new($"no permission to open {path}", $"add the user to the group {group} (sudo usermod -aG {group} NAME), then log in again", error);
    }
}
