using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Acquisition.Sampling;

/// <summary>One channel of a streaming instrument: reads its fields, reduces them to its period, and notices silence.</summary>
internal sealed class StreamChannel(ChannelFeed feed, ProfileInput? input, int inputIndex, EngineTime start)
{
    /// <summary>On top of one and a half periods: what a USB adapter and the scheduler may hold a line back. Common practice, no source.</summary>
    private static readonly TimeSpan Grace = TimeSpan.FromMilliseconds(50);

    private readonly StreamReducer _reducer = new(feed.Channel.Period);
    private EngineTime? _lastFault;
    private bool _silent;

    public ChannelFeed Feed => feed;

    public ProfileInput? Input => input;

    public int InputIndex => inputIndex;

    public string Id => feed.Channel.Id;

    /// <summary>What the last line said, before reduction: ratios are formed of it.</summary>
    public Reading LastLine { get; private set; }

    public Reading Read(ReadOnlySpan<double> fields)
    {
        double raw = Field(fields, input!.Field);
        bool hasExtremes = input.MinimumField is not null && input.MaximumField is not null;
        LastLine = hasExtremes
            ? ReadingRules.FromNumbers(raw, Field(fields, input.MinimumField), Field(fields, input.MaximumField))
            : ReadingRules.FromNumber(raw);
        return LastLine;
    }

    public void Take(EngineTime at, in Reading reading)
    {
        if (reading.IsFault)
        {
            Flush();

            // A field that stays faulty is a fault a period, not one a line.
            bool isOld = !_silent && feed.LastReading.IsFault && feed.LastReading.Fault == reading.Fault;
            if (!isOld || _lastFault is not EngineTime last || at - last >= feed.Channel.Period * 0.75)
            {
                _lastFault = at;
                feed.Post(at, reading);
            }
        }
        else if (_reducer.Add(at, reading, out Reading reduced))
        {
            feed.Post(at, reduced);
        }

        _silent = false;
    }

    /// <summary>A frame, or a fault that stands in a frame's place.</summary>
    public void TakeFrame(EngineTime at, Frame? frame)
    {
        _silent = false;
        if (frame is null)
        {
            feed.Fail(at, FaultCode.NotANumber);
        }
        else
        {
            feed.Post(at, frame);
        }
    }

    /// <summary>
    /// A channel that has got nothing for a period and a half (a period, when the line is known to be down) posts
    /// a fault, and from then on one a period. Returns the instant at which the next would be due.
    /// </summary>
    public EngineTime WatchSilence(EngineTime now, bool lineIsDown, FaultCode why)
    {
        EngineTime due = Due(lineIsDown);
        if (due > now)
        {
            return due;
        }

        if (Flush())
        {
            due = Due(lineIsDown);
        }

        while (due <= now)
        {
            // After a long stall of the whole process only the newest period is worth a fault.
            EngineTime at = now - due > TimeSpan.FromMilliseconds(150) ? now : due;
            feed.Fail(at, why);
            _silent = true;
            due = Due(lineIsDown);
        }

        return due;
    }

    public void Promise(EngineTime now) => feed.Promise(_reducer.HeldSince is EngineTime held && held < now ? held : now);

    private EngineTime Due(bool lineIsDown)
    {
        TimeSpan period = feed.Channel.Period;
        EngineTime last = feed.Last ?? start;
        if (_reducer.HeldSince is EngineTime held && held > last)
        {
            last = held;
        }

        return last + (lineIsDown || _silent ? period : (period * 1.5) + Grace);
    }

    private bool Flush()
    {
        EngineTime? at = _reducer.HeldSince;
        if (!_reducer.Flush(out Reading reduced))
        {
            return false;
        }

        feed.Post(at!.Value, reduced);
        return true;
    }

    private static double Field(ReadOnlySpan<double> fields, int? oneBased) => fields[oneBased!.Value - 1];
}
