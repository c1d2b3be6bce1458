using System.Device.Spi;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Samples;
using Iot.Device.Adc;

namespace DriftWatch.Acquisition.Boards;

/// <summary>
/// 12-bit converter with eight inputs against ground. The codes at both ends mean 'here or beyond' and are faults.
/// SPI knows no acknowledgement: a board that is not there reads as all zeros or all ones, which are those codes.
/// Data sheet: DS21298, code = 4096 · input / reference.
/// </summary>
internal sealed class Mcp3208Board(InstrumentDefinition definition, InstrumentProfile profile, IBoardDevices devices, TimeProvider time)
    : BoardInstrument(definition, profile, time)
{
    private const int Codes = 4096;

    private readonly (int Channel, double VoltsPerCode)[] _inputs = [.. profile.Inputs.Select(i => (ChannelOf(i), (i.FullScaleVolts ?? 5) / Codes))];
    private SpiDevice? _device;
    private Mcp3208? _adc;

    protected override void Open()
    {
        _device = devices.Spi(Connection.Bus ?? 0, Connection.Address ?? 0);
        _adc = new Mcp3208(_device);
    }

    protected override void Close()
    {
        _device?.Dispose();
        _adc = null;
        _device = null;
    }

    protected override void Read(ReadOnlySpan<int> inputs, Span<PolledReading> results)
    {
        Mcp3208 adc = _adc ?? throw new InvalidOperationException("the board is not open");
        for (int i = 0; i < inputs.Length; i++)
        {
            (int channel, double voltsPerCode) = _inputs[inputs[i]];
            results[i] = Timed(() => ToReading(adc.Read(channel), voltsPerCode));
        }
    }

    private static Reading ToReading(int code, double voltsPerCode) => code switch
    {
        <= 0 => Reading.Failed(FaultCode.UnderRange),
        >= Codes - 1 => Reading.Failed(FaultCode.OverRange),
        _ => Reading.Of(code * voltsPerCode),
    };

    private static int ChannelOf(ProfileInput input) =>
        input.Pin is ['c', 'h', >= '0' and <= '7'] pin
            ? pin[2] - '0'
            : throw new ArgumentException($"Input '{input.Name}' names pin '{input.Pin}', which the mcp3208 does not have.", nameof(input));
}
