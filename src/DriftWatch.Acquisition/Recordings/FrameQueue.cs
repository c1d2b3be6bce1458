using DriftWatch.Measurement.Time;

namespace DriftWatch.Acquisition.Recordings;

/// <summary>A side file, one frame ahead.</summary>
internal sealed class FrameQueue(FrameCsvReader reader, int channel)
{
    public FrameCsvReader Reader { get; } = reader;

    public int Channel { get; } = channel;

    public bool HasFrame { get; private set; }

    /// <summary>How often this file's clock has run back so far.</summary>
    public int Stretch { get; private set; }

    public EngineTime LastTime { get; set; } = new(-EngineTime.NanosecondsPerMillisecond);

    public void Advance()
    {
        long before = HasFrame ? Reader.UtcNanoseconds : long.MinValue;
        HasFrame = Reader.Read();
        if (HasFrame && Reader.UtcNanoseconds < before)
        {
            Stretch++;
        }
    }
}
