using System.Device.I2c;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Samples;
using Iot.Device.Bmxx80;
using Iot.Device.Bmxx80.ReadResult;

namespace DriftWatch.Acquisition.Boards;

/// <summary>
/// Temperature, humidity and air pressure by one forced measurement of all three, however many are asked for. The
/// binding clips humidity at 0 and 100 %; a value at either end is a fault, for it stands for 'here or beyond'.
/// Data sheet: BST-BME280-DS002.
/// </summary>
internal sealed class Bme280Board(InstrumentDefinition definition, InstrumentProfile profile, IBoardDevices devices, TimeProvider time)
    : BoardInstrument(definition, profile, time)
{
    private readonly string[] _quantities = [.. profile.Inputs.Select(i => i.Pin ?? "")];
    private I2cDevice? _device;
    private Bme280? _board;

    protected override void Open()
    {
        _device = devices.I2c(Connection.Bus ?? 1, Connection.Address ?? Bmx280Base.SecondaryI2cAddress);
        _board = new Bme280(_device);
    }

    protected override void Close()
    {
        _device?.Dispose();
        _board = null;
        _device = null;
    }

    protected override void Read(ReadOnlySpan<int> inputs, Span<PolledReading> results)
    {
        Bme280 board = _board ?? throw new InvalidOperationException("the board is not open");
        long asked = Time.GetTimestamp();
        Bme280ReadResult result = board.Read();
        long answered = Time.GetTimestamp();
        for (int i = 0; i < inputs.Length; i++)
        {
            results[i] = new PolledReading(ToReading(_quantities[inputs[i]], result), asked, answered);
        }
    }

    private static Reading ToReading(string quantity, Bme280ReadResult result)
    {
        double? value = quantity switch
        {
            // To the chip's own resolution; further digits are arithmetic.
            "temperature" => Rounded(result.Temperature?.DegreesCelsius, 2),
            "humidity" => Rounded(result.Humidity?.Percent, 2),
            "pressure" => Rounded(result.Pressure?.Hectopascals, 3),
            _ => null,
        };
        if (value is null)
        {
            return Reading.Failed(FaultCode.InstrumentError);
        }

        if (quantity == "humidity" && value is (<= 0 or >= 100))
        {
            return Reading.Failed(value <= 0 ? FaultCode.UnderRange : FaultCode.OverRange);
        }

        return ReadingRules.FromNumber(value.Value);
    }

    private static double? Rounded(double? value, int digits) =>
        value is { } v && double.IsFinite(v) ? Math.Round(v, digits) : value;
}
