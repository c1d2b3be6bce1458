using DriftWatch.Acquisition.Lines;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Samples;

namespace DriftWatch.Acquisition.Boards;

/// <summary>
/// A converter or sensor board as a polled instrument. Its binding is made anew by every greeting: a board that lost
/// its power has forgotten its registers. Whatever a bus or binding throws becomes a failed scan, never more.
/// </summary>
public abstract class BoardInstrument(InstrumentDefinition definition, InstrumentProfile profile, TimeProvider time)
    : IPolledInstrument, IDisposable
{
    /// <summary>The profile that describes the board's inputs.</summary>
    protected InstrumentProfile Profile { get; } = profile;

    protected ConnectionDefinition Connection { get; } = definition.Connection;

    protected TimeProvider Time { get; } = time;

    /// <summary>Where it sits, for messages.</summary>
    protected string Place { get; } = definition.Connection.Kind == ConnectionKind.Spi
        ? $"SPI bus {definition.Connection.Bus}, chip-select {definition.Connection.Address}"
        : $"I2C bus {definition.Connection.Bus}, address 0x{definition.Connection.Address:x2}";

    public static BoardInstrument Make(InstrumentDefinition definition, InstrumentProfile profile, IBoardDevices devices, TimeProvider time) =>
        profile.Board switch
        {
            "ads1115" => new Ads1115Board(definition, profile, devices, time),
            "mcp3208" => new Mcp3208Board(definition, profile, devices, time),
            "bme280" => new Bme280Board(definition, profile, devices, time),
            _ => throw new ArgumentException($"Profile '{profile.Name}' names board '{profile.Board}', for which there is no driver.", nameof(profile)),
        };

    public string Greet()
    {
        try
        {
            Close();
            Open();
            return $"{Profile.Board} on {Place}";
        }
        catch (LinkException)
        {
            throw;
        }
        catch (Exception error) when (IsBusTrouble(error))
        {
            throw Silent(error);
        }
    }

    public void Scan(ReadOnlySpan<int> inputs, Span<PolledReading> results)
    {
        try
        {
            Read(inputs, results);
        }
        catch (Exception error) when (IsBusTrouble(error))
        {
            throw Silent(error);
        }
    }

    public void Dispose()
    {
        Dispose(true);
        GC.SuppressFinalize(this);
    }

    protected virtual void Dispose(bool disposing) => Close();

    /// <summary>Makes device and binding, and sets the board up.</summary>
    protected abstract void Open();

    protected abstract void Close();

    protected abstract void Read(ReadOnlySpan<int> inputs, Span<PolledReading> results);

    /// <summary>One reading with its stamps.</summary>
    protected PolledReading Timed(Func<Reading> read)
    {
        long asked = Time.GetTimestamp();
        Reading reading = read();
        return new PolledReading(reading, asked, Time.GetTimestamp());
    }

    /// <summary>What buses and bindings throw when a board does not play along; anything else is a mistake of ours.</summary>
    private static bool IsBusTrouble(Exception error) =>
        error is IOException or TimeoutException or UnauthorizedAccessException or InvalidOperationException;

    private PollException Silent(Exception error) => new(
        FaultCode.NoAnswer,
        $"the board on {Place} does not answer ({error.Message.TrimEnd('.')})",
        "check its supply, wiring and address");
}
