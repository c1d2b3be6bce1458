using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Units;

namespace DriftWatch.Acquisition.PracticeRig;

/// <summary>
/// Steps a rig and posts what its instruments say on each channel's grid (n · period of engine time). The live owner
/// and the recorder drive the same feed, so that a practice night and its recording are one thing. One thread.
/// </summary>
public sealed class RigFeed
{
    private const long StepNanoseconds = (long)(RigSimulation.StepSeconds * 1e9);

    private readonly IReadingSink _sink;
    private readonly EngineTime _start;
    private readonly List<Tap> _taps = [];
    private readonly List<Ratio> _ratios = [];
    private long _steps;

    /// <param name="simulation">Not yet stepped.</param>
    /// <param name="channels">The instrument's channels, with the ratios formed from them.</param>
    /// <param name="start">The engine time at which the rig is switched on; a whole millisecond.</param>
    /// <param name="sink">Where readings go.</param>
    /// <exception cref="ArgumentException">A channel names an input the rig has not, or asks for it in a unit it can't be had in.</exception>
    public RigFeed(RigSimulation simulation, IReadOnlyList<ChannelDefinition> channels, EngineTime start, IReadingSink sink)
    {
        Simulation = simulation;
        _sink = sink;
        _start = start;
        foreach (ChannelDefinition channel in channels.Where(channel => channel.Ratio is null))
        {
            if (!RigInputs.TryParse(channel.Input, out RigInput input))
            {
                throw new ArgumentException(
                    $"Channel '{channel.Id}': the practice rig has no input '{channel.Input}'; write one of {string.Join(", ", RigInputs.All)}.",
                    nameof(channels));
            }

            _taps.Add(new Tap(new ChannelFeed(channel, sink), input, start));
        }

        foreach (ChannelDefinition channel in channels.Where(channel => channel.Ratio is not null))
        {
            Tap? of = _taps.Find(tap => tap.Channel.Id == channel.Ratio!.Of);
            Tap? over = _taps.Find(tap => tap.Channel.Id == channel.Ratio!.Over);
            if (of is not null && over is not null)
            {
                _ratios.Add(new Ratio(new RatioFeed(new ChannelFeed(channel, sink), of.Channel, over.Channel), of, over));
            }
        }
    }

    public RigSimulation Simulation { get; }

    /// <summary>Engine time of the last step.</summary>
    public EngineTime Reached => new(_start.Nanoseconds + (_steps * StepNanoseconds));

    /// <summary>The earliest instant at which a channel is due.</summary>
    public EngineTime NextDue => _taps.Count == 0 ? EngineTime.MaxValue : StepThatReaches(_taps.Min(tap => tap.NextNanoseconds));

    /// <summary>True while the script keeps the instrument silent.</summary>
    public bool IsSilent => Simulation.Conditions[RigFaultKind.InstrumentSilence] > 0;

    /// <summary>Steps up to an instant and posts everything due by then.</summary>
    public void AdvanceTo(EngineTime now)
    {
        while (Reached.Nanoseconds + StepNanoseconds <= now.Nanoseconds)
        {
            Simulation.Step();
            _steps++;
            Measure(Reached.Nanoseconds);
        }

        // Steps are ten milliseconds apart and instants whole milliseconds: whatever comes next comes later than this.
        var promise = new EngineTime(Reached.Nanoseconds + EngineTime.NanosecondsPerMillisecond);
        foreach (Tap tap in _taps)
        {
            tap.Feed.Promise(promise);
        }

        foreach (Ratio ratio in _ratios)
        {
            ratio.Feed.Feed.Promise(promise);
        }
    }

    /// <summary>Passes over a stretch nobody saw (the computer slept): the rig stands still meanwhile.</summary>
    public RigFeed Resumed(EngineTime at) => new(Simulation, [.. _taps.Select(t => t.Channel), .. _ratios.Select(r => r.Feed.Feed.Channel)], at, _sink);

    /// <summary>
    /// The end of the step in which an instant falls: only then is it measured. Waking at the instant itself would find
    /// nothing to do, again and again, until the step is over.
    /// </summary>
    private EngineTime StepThatReaches(long nanoseconds)
    {
        long ahead = Math.Max(1, nanoseconds - Reached.Nanoseconds);
        long steps = (ahead + StepNanoseconds - 1) / StepNanoseconds;
        return new EngineTime(Reached.Nanoseconds + (steps * StepNanoseconds));
    }

    private void Measure(long now)
    {
        bool silent = IsSilent;
        foreach (Tap tap in _taps)
        {
            tap.Taken = null;
            bool due = now >= tap.NextNanoseconds;
            if (tap.IsWatched)
            {
                tap.Watch(Simulation.Sense(tap.Input));
            }

            if (!due)
            {
                continue;
            }

            EngineTime at = tap.TakeInstant();
            if (tap.Channel.Kind == ChannelKind.Frame)
            {
                PostFrame(tap, at, silent);
                continue;
            }

            Reading reading = tap.IsWatched ? tap.Collect() : tap.Scale(Simulation.Sense(tap.Input));
            if (!silent)
            {
                tap.Taken = tap.Feed.Post(at, reading);
                tap.TakenAt = at;
            }
        }

        foreach (Ratio ratio in _ratios)
        {
            if (ratio.Of.Taken is { } of && ratio.Over.Taken is { } over && ratio.Of.TakenAt == ratio.Over.TakenAt)
            {
                ratio.Feed.Post(ratio.Of.TakenAt, of, over);
            }
        }
    }

    private void PostFrame(Tap tap, EngineTime at, bool silent)
    {
        Frame? frame = Simulation.Frame(tap.Axis!);
        if (silent)
        {
            return;
        }

        if (frame is null)
        {
            tap.Feed.Fail(at, FaultCode.NoAnswer);
        }
        else
        {
            tap.Feed.Post(at, frame);
        }
    }

    private sealed record Ratio(RatioFeed Feed, Tap Of, Tap Over);

    /// <summary>One channel on one input: its grid, its unit, and the extremes of the period that runs.</summary>
    private sealed class Tap
    {
        private readonly long _period;
        private readonly double _gain;
        private readonly double _offset;
        private double _sum;
        private double _least;
        private double _greatest;
        private int _count;
        private FaultCode? _fault;

        public Tap(ChannelFeed feed, RigInput input, EngineTime start)
        {
            Feed = feed;
            ChannelDefinition channel = feed.Channel;
            Input = input;
            bool isFrame = channel.Kind == ChannelKind.Frame;
            if (isFrame != (input == RigInput.TimingError))
            {
                throw new ArgumentException($"Channel '{channel.Id}': only 'timing-error' is a frame.", nameof(feed));
            }

            IsWatched = !isFrame && RigInputs.HasExtremes(input);
            Axis = isFrame ? channel.Axis ?? FrameAxis.Even(RigInputs.FramePointsPerHead) : null;
            (_gain, _offset) = isFrame ? FrameLine(channel) : RigInputs.LineTo(input, channel.RawUnit);
            _period = channel.Period.Ticks * TimeSpan.NanosecondsPerTick;
            long remainder = ((start.Nanoseconds % _period) + _period) % _period;
            NextNanoseconds = start.Nanoseconds - remainder + _period;
        }

        public ChannelFeed Feed { get; }

        public ChannelDefinition Channel => Feed.Channel;

        public RigInput Input { get; }

        public FrameAxis? Axis { get; }

        /// <summary>Sensed at every step, for its extremes.</summary>
        public bool IsWatched { get; }

        public long NextNanoseconds { get; private set; }

        /// <summary>The reading posted at this step, for ratios.</summary>
        public Reading? Taken { get; set; }

        public EngineTime TakenAt { get; set; }

        public EngineTime TakeInstant()
        {
            var at = new EngineTime(NextNanoseconds);
            NextNanoseconds += _period;
            return at.FloorToMillisecond();
        }

        public void Watch(in Reading reading)
        {
            if (reading.IsFault)
            {
                _fault = reading.Fault;
                return;
            }

            double value = reading.Raw;
            _least = _count == 0 ? value : Math.Min(_least, value);
            _greatest = _count == 0 ? value : Math.Max(_greatest, value);
            _sum += value;
            _count++;
        }

        /// <summary>Mean and extremes of the period, as a firmware that averages gives them; a fault inside it makes it a fault.</summary>
        public Reading Collect()
        {
            Reading reading = _fault is { } fault ? Reading.Failed(fault)
                : _count == 0 ? Reading.Failed(FaultCode.Missing)
                : Reading.Of(Line(Math.Clamp(_sum / _count, _least, _greatest)), Line(_least), Line(_greatest)); // a sum of equal codes may miss them by a last place, and then round to the other side
            _sum = 0;
            _count = 0;
            _fault = null;
            return reading;
        }

        public Reading Scale(in Reading reading) => reading.IsFault ? reading : Reading.Of(Line(reading.Raw));

        /// <summary>Into the channel's raw unit, with as many places as instruments print.</summary>
        private double Line(double native) => Math.Round((native * _gain) + _offset, 4, MidpointRounding.ToEven);

        private static (double Gain, double Offset) FrameLine(ChannelDefinition channel) =>
            channel.RawUnit == "ns"
                ? (1, 0)
                : throw new ArgumentException(
                    $"Channel '{channel.Id}': the practice rig gives 'timing-error' in ns; it can't be had in {Unit.Parse(channel.RawUnit)}.",
                    nameof(channel));
    }
}
