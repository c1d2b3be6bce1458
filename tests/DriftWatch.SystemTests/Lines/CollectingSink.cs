using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.SystemTests.Lines;

/// <summary>Keeps everything that instruments post.</summary>
internal sealed class CollectingSink : IReadingSink
{
    private readonly Lock _gate = new();
    private readonly List<(int Channel, EngineTime At, Reading Reading)> _readings = [];
    private readonly List<InstrumentNotice> _notices = [];
    private readonly List<Frame> _frames = [];

    public IReadOnlyList<Frame> Frames
    {
        get
        {
            lock (_gate)
            {
                return [.. _frames];
            }
        }
    }

    public IReadOnlyList<InstrumentNotice> Notices
    {
        get
        {
            lock (_gate)
            {
                return [.. _notices];
            }
        }
    }

    public IReadOnlyList<(EngineTime At, Reading Reading)> Of(int channel, EngineTime? from = null, EngineTime? to = null)
    {
        lock (_gate)
        {
            return [.. _readings
                .Where(r => r.Channel == channel && !(r.At < from) && !(r.At > to))
                .Select(r => (r.At, r.Reading))];
        }
    }

    public void Post(int channel, EngineTime at, in Reading reading)
    {
        lock (_gate)
        {
            _readings.Add((channel, at, reading));
        }
    }

    public void Post(int channel, EngineTime at, Frame frame)
    {
        lock (_gate)
        {
            _frames.Add(frame);
        }
    }

    public void Promise(int channel, EngineTime nothingBefore)
    {
    }

    public void Report(InstrumentNotice notice)
    {
        lock (_gate)
        {
            _notices.Add(notice);
        }
    }
}
