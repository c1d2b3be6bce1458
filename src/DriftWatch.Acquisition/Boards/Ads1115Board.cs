using System.Device.I2c;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Samples;
using Iot.Device.Ads1115;

namespace DriftWatch.Acquisition.Boards;

/// <summary>
/// 16-bit converter with a multiplexer and programmable gain: one conversion an input, at 860 a second. The codes at
/// both ends mean 'here or beyond' and are faults. Data sheet: SBAS444.
/// </summary>
internal sealed class Ads1115Board(InstrumentDefinition definition, InstrumentProfile profile, IBoardDevices devices, TimeProvider time)
    : BoardInstrument(definition, profile, time)
{
    private readonly (InputMultiplexer Pins, MeasuringRange Range)[] _inputs = [.. profile.Inputs.Select(i => (PinsOf(i), RangeOf(i)))];
    private I2cDevice? _device;
    private Ads1115? _adc;

    protected override void Open()
    {
        _device = devices.I2c(Connection.Bus ?? 1, Connection.Address ?? 0x48);
        _adc = new Ads1115(_device, _inputs[0].Pins, _inputs[0].Range, DataRate.SPS860, DeviceMode.PowerDown);
    }

    protected override void Close()
    {
        // Only the device: disposing of the binding talks to the chip, and throws where there is none any more.
        _device?.Dispose();
        _adc = null;
        _device = null;
    }

    protected override void Read(ReadOnlySpan<int> inputs, Span<PolledReading> results)
    {
        Ads1115 adc = _adc ?? throw new InvalidOperationException("the board is not open");
        for (int i = 0; i < inputs.Length; i++)
        {
            (InputMultiplexer pins, MeasuringRange range) = _inputs[inputs[i]];
            results[i] = Timed(() => ToReading(adc, adc.ReadRaw(pins, range, DataRate.SPS860)));
        }
    }

    private static Reading ToReading(Ads1115 adc, short code) => code switch
    {
        short.MaxValue => Reading.Failed(FaultCode.OverRange),
        short.MinValue => Reading.Failed(FaultCode.UnderRange),
        _ => Reading.Of(adc.RawToVoltage(code).Volts),
    };

    private static InputMultiplexer PinsOf(ProfileInput input) => input.Pin switch
    {
        "a0" => InputMultiplexer.AIN0,
        "a1" => InputMultiplexer.AIN1,
        "a2" => InputMultiplexer.AIN2,
        "a3" => InputMultiplexer.AIN3,
        "a0-a1" => InputMultiplexer.AIN0_AIN1,
        "a0-a3" => InputMultiplexer.AIN0_AIN3,
        "a1-a3" => InputMultiplexer.AIN1_AIN3,
        "a2-a3" => InputMultiplexer.AIN2_AIN3,
        _ => throw new ArgumentException($"Input '{input.Name}' names pin '{input.Pin}', which the ads1115 does not have.", nameof(input)),
    };

    private static MeasuringRange RangeOf(ProfileInput input) => input.FullScaleVolts switch
    {
        null or 6.144 => MeasuringRange.FS6144,
        4.096 => MeasuringRange.FS4096,
        2.048 => MeasuringRange.FS2048,
        1.024 => MeasuringRange.FS1024,
        0.512 => MeasuringRange.FS0512,
        0.256 => MeasuringRange.FS0256,
        _ => throw new ArgumentException($"Input '{input.Name}' names a full scale of {input.FullScaleVolts} V, which the ads1115 does not have.", nameof(input)),
    };
}
