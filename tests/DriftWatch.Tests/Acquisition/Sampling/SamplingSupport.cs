using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Tests.Acquisition.Sampling;

internal sealed class RecordingSink : IReadingSink
{
    private readonly Lock _gate = new();

    public List<(int Channel, EngineTime At, Reading Reading)> Readings { get; } = [];

    public List<(int Channel, EngineTime At, Frame Frame)> Frames { get; } = [];

    public List<(int Channel, EngineTime At)> Promises { get; } = [];

    public List<InstrumentNotice> Notices { get; } = [];

    public void Post(int channel, EngineTime at, in Reading reading)
    {
        lock (_gate)
        {
            Readings.Add((channel, at, reading));
        }
    }

    public void Post(int channel, EngineTime at, Frame frame)
    {
        lock (_gate)
        {
            Frames.Add((channel, at, frame));
        }
    }

    public void Promise(int channel, EngineTime nothingBefore)
    {
        lock (_gate)
        {
            Promises.Add((channel, nothingBefore));
        }
    }

    public void Report(InstrumentNotice notice)
    {
        lock (_gate)
        {
            Notices.Add(notice);
        }
    }

    /// <summary>One letter a reading of a channel: a dot for a value, else the fault's first letters.</summary>
    public IReadOnlyList<string> Of(int channel) =>
        [.. Readings.Where(r => r.Channel == channel).Select(r => r.Reading.ToString())];
}

internal static class Channels
{
    public static ChannelDefinition Volts(string id, int key, double periodSeconds = 0.1, string? instrument = null, string? input = null) => new()
    {
        Id = id,
        Key = key,
        Label = id,
        Unit = "V",
        RawUnit = "V",
        Instrument = instrument,
        Input = input ?? id,
        Period = TimeSpan.FromSeconds(periodSeconds),
        Calibration = LineCalibration.Identity,
    };
}
