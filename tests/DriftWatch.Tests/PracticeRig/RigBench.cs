using DriftWatch.Acquisition.PracticeRig;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Tests.PracticeRig;

internal readonly record struct Posted(int Channel, EngineTime At, Reading Reading, Frame? Frame);

/// <summary>A sink that keeps what it is given; safe from any thread.</summary>
internal sealed class CollectingSink : IReadingSink
{
    private readonly Lock _lock = new();
    private readonly List<Posted> _posted = [];

    public List<InstrumentNotice> Notices { get; } = [];

    public int CountOf(int channel)
    {
        lock (_lock)
        {
            return _posted.Count(p => p.Channel == channel);
        }
    }

    public List<Posted> Of(int channel)
    {
        lock (_lock)
        {
            return [.. _posted.Where(p => p.Channel == channel)];
        }
    }

    public void Post(int channel, EngineTime at, in Reading reading)
    {
        lock (_lock)
        {
            _posted.Add(new Posted(channel, at, reading, null));
        }
    }

    public void Post(int channel, EngineTime at, Frame frame)
    {
        lock (_lock)
        {
            _posted.Add(new Posted(channel, at, default, frame));
        }
    }

    public void Promise(int channel, EngineTime nothingBefore)
    {
        // What is promised is the merge's affair.
    }

    public void Report(InstrumentNotice notice)
    {
        lock (_lock)
        {
            Notices.Add(notice);
        }
    }
}

/// <summary>Channels on the rig as a bench file would declare them.</summary>
internal static class RigBench
{
    public static InstrumentDefinition Instrument(string? script, ulong seed) => new()
    {
        Id = "practice",
        Profile = "practice-rig",
        Connection = new ConnectionDefinition { Kind = ConnectionKind.Practice, Script = script, Seed = seed },
    };

    public static ChannelDefinition Series(string id, int key, RigInput input, string rawUnit, double seconds) => new()
    {
        Id = id,
        Key = key,
        Label = id,
        Unit = rawUnit,
        RawUnit = rawUnit,
        Instrument = "practice",
        Input = RigInputs.NameOf(input),
        Period = TimeSpan.FromSeconds(seconds),
        Calibration = LineCalibration.Identity,
    };

    public static ChannelDefinition TimingFrame(string id, int key, double seconds) =>
        Series(id, key, RigInput.TimingError, "ns", seconds) with { Kind = ChannelKind.Frame, Axis = FrameAxis.Even(16) };

    public static ChannelDefinition RatioOf(string id, int key, string of, string over, double seconds) => new()
    {
        Id = id,
        Key = key,
        Label = id,
        Unit = "psi",
        RawUnit = "1",
        Ratio = new RatioDefinition(of, over),
        Period = TimeSpan.FromSeconds(seconds),
        Calibration = LineCalibration.Through(0.1, 0, 0.9, RigInputs.RegulatedFullScalePsi),
    };
}
