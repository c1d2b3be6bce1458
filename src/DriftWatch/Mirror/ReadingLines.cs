using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Storage.Mirror;
using DriftWatch.Storage.Queries;

namespace DriftWatch.Mirror;

/// <summary>Makes lines of a log that is followed from a number on.</summary>
internal interface ILogLines
{
    /// <summary>Takes what a stretch from the middle of the log needs to be read.</summary>
    void BeginAt(in EngineInput first, BenchReader reader);

    /// <summary>Takes one input, in the order of the log, and writes the lines that it completes.</summary>
    /// <param name="input">The next.</param>
    /// <param name="text">Takes the lines.</param>
    /// <param name="each">Told of each reading that has a line: number of its input and milliseconds since 1970.</param>
    void Write(in EngineInput input, LineText text, Action<long, long>? each);

    /// <summary>Milliseconds since 1970 of the last line written.</summary>
    long LastUtcMilliseconds { get; }

    /// <summary>Where whoever begins anew has to begin, so that no line is missing or of a part of its readings; what was read last, for lines of one reading each.</summary>
    long Resume(long read);

    /// <summary>What follows is read only to complete lines of before: those of later readings are somebody else's.</summary>
    /// <param name="input">The first beyond.</param>
    void Close(in EngineInput input);

    /// <summary>Whether what was read may have lines that wait for what follows.</summary>
    bool Waits { get; }

    /// <summary>Whether every line of before <see cref="Close"/> is written.</summary>
    bool IsClosed { get; }
}

/// <summary>
/// Writes each reading as a line: <c>driftwatch_reading</c> with the tags bench, channel, unit and site, the fields value, min, max and
/// quality, in engineering units by the calibration of its day. The README beside this is the schema; it only grows.
/// </summary>
/// <param name="tags">Tags of the site.</param>
internal sealed class ReadingLines(IReadOnlyList<(string Name, string? Value)> tags) : ILogLines
{
    public const string Measurement = "driftwatch_reading";
    public const string Quality = "quality";

    /// <summary>Added to the quality of what came after its instant was judged.</summary>
    public const int Late = 100;

    private readonly FollowedLog _log = new(Measurement, tags);

    public long LastUtcMilliseconds { get; private set; }

    public bool IsClosed { get; private set; }

    public bool Waits => false;

    public void BeginAt(in EngineInput first, BenchReader reader) => _log.BeginAt(first, reader);

    public void Write(in EngineInput input, LineText text, Action<long, long>? each)
    {
        _log.Follow(input);
        if (input.Kind is not (InputKind.Sample or InputKind.Fault) || _log.HeadOf(input.Channel) is not { } head)
        {
            return; // frames stay in the local store
        }

        int quality = input.Reading.IsFault ? (int)input.Reading.Fault + 1 : 0;
        text.Begin(head);
        if (_log.TryConvert(input.Channel, input.Reading, out double value, out double minimum, out double maximum))
        {
            text.Field("value", value);
            if (input.Reading.HasExtremes)
            {
                text.Field("min", minimum);
                text.Field("max", maximum);
            }
        }
        else if (quality == 0)
        {
            quality = (int)FaultCode.NotANumber + 1; // converts to nothing finite
        }

        text.Field(Quality, quality + (input.IsLate ? Late : 0));
        LastUtcMilliseconds = _log.UtcMillisecondsOf(input.Time);
        text.End(LastUtcMilliseconds);
        each?.Invoke(input.Number, LastUtcMilliseconds);
    }

    public long Resume(long read) => read;

    public void Close(in EngineInput input) => IsClosed = true;
}
