using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Acquisition.PracticeRig;

/// <summary>
/// Runs a bench of practice instruments faster than real time and yields the numbered inputs that a live run with the
/// same seed would have journaled: the clock, the bench, readings, frames and ticks in the order of judging. Pure but
/// for the reading of a script file; the same arguments give the same inputs.
/// </summary>
public sealed class RigRecorder
{
    /// <summary>How far the rig is stepped between two releases of the merge.</summary>
    private static readonly TimeSpan Stride = TimeSpan.FromSeconds(1);

    private readonly BenchDefinition _bench;
    private readonly long _startUtcNanoseconds;
    private readonly Collector _collector = new();
    private readonly List<RigFeed> _feeds = [];
    private readonly RigScript _script;

    /// <param name="bench">Instruments that are not practice ones give nothing.</param>
    /// <param name="script">What all of them play; null: what each names in the bench file.</param>
    /// <param name="seed">For all of them; null: the one each names in the bench file.</param>
    /// <param name="startUtcNanoseconds">UTC of the first instant, since 1970.</param>
    /// <exception cref="RigScriptException">A script can't be read.</exception>
    /// <exception cref="ArgumentException">A channel asks for what the rig has not, or the bench has no practice instrument.</exception>
    public RigRecorder(BenchDefinition bench, RigScript? script, ulong? seed, long startUtcNanoseconds)
    {
        _bench = bench;
        _startUtcNanoseconds = startUtcNanoseconds;
        foreach (InstrumentDefinition instrument in bench.Instruments.Where(i => i.Connection.Kind == ConnectionKind.Practice))
        {
            RigScript plays = script ?? RigScripts.Load(instrument.Connection.Script);
            IReadOnlyList<ChannelDefinition> channels = [.. LineOwners.ChannelsOf(bench, instrument)];
            var simulation = new RigSimulation(seed ?? instrument.Connection.Seed, plays, PracticeRigOwner.Is625(channels));
            _feeds.Add(new RigFeed(simulation, channels, default, _collector));
        }

        _script = _feeds.Count > 0
            ? _feeds[0].Simulation.Script
            : throw new ArgumentException($"Bench '{bench.Id}' has no practice instrument; write 'practice = {{ seed = 1 }}' in one of its instruments.", nameof(bench));
    }

    /// <summary>The script of the first practice instrument; steps of the clock are taken from it.</summary>
    public RigScript Script => _script;

    /// <summary>Inputs of so much of the rig's time.</summary>
    public IEnumerable<EngineInput> Record(TimeSpan length)
    {
        var end = new EngineTime(length.Ticks * TimeSpan.NanosecondsPerTick);
        var merge = new InputMerge(0, default, _bench.LatenessBound);
        merge.SetChannels(_bench.Channels.Select(channel => channel.Key));
        var anchor = new TimeAnchor(default, _startUtcNanoseconds);
        merge.Offer(EngineInput.OfClock(default, new ClockEvent(ClockEventKind.Started, anchor)));
        merge.Offer(EngineInput.OfBench(default, _bench));

        Queue<EngineInput> steps = ClockSteps(anchor, end);
        var released = new List<EngineInput>();
        for (EngineTime now = default; now < end;)
        {
            now = now + Stride < end ? now + Stride : end;
            foreach (RigFeed feed in _feeds)
            {
                feed.AdvanceTo(now);
            }

            while (steps.TryPeek(out EngineInput step) && step.Time <= now)
            {
                merge.Offer(steps.Dequeue());
            }

            _collector.MoveTo(merge);
            if (now < end)
            {
                merge.Release(now, released);
            }
            else
            {
                merge.ReleaseAll(end, released);
            }

            foreach (EngineInput input in released)
            {
                yield return input;
            }

            released.Clear();
        }
    }

    private Queue<EngineInput> ClockSteps(TimeAnchor anchor, EngineTime end)
    {
        var steps = new Queue<EngineInput>();
        foreach (RigFault fault in _script.Faults.Where(f => f.Kind == RigFaultKind.ClockStep).OrderBy(f => f.StartSeconds))
        {
            EngineTime at = EngineTime.FromSeconds(fault.StartSeconds);
            if (at > end)
            {
                break;
            }

            long step = (long)Math.Round(fault.Magnitude * 1e9);
            anchor = new TimeAnchor(at, anchor.UtcNanoseconds + (at.Nanoseconds - anchor.Engine.Nanoseconds) + step);
            steps.Enqueue(EngineInput.OfClock(at, new ClockEvent(ClockEventKind.WallStep, anchor) { StepNanoseconds = step }));
        }

        return steps;
    }

    /// <summary>Takes what the feeds post and hands it to the merge.</summary>
    private sealed class Collector : IReadingSink
    {
        private readonly List<EngineInput> _posted = [];
        private readonly Dictionary<int, EngineTime> _promised = [];

        public void Post(int channel, EngineTime at, in Reading reading) => _posted.Add(EngineInput.OfReading(at, channel, reading));

        public void Post(int channel, EngineTime at, Frame frame) => _posted.Add(EngineInput.OfFrame(at, channel, frame));

        public void Promise(int channel, EngineTime nothingBefore) => _promised[channel] = nothingBefore;

        public void Report(InstrumentNotice notice)
        {
            // A recording keeps readings; what happened to a line is for the live log.
        }

        public void MoveTo(InputMerge merge)
        {
            foreach (EngineInput input in _posted)
            {
                merge.Offer(input);
            }

            foreach ((int channel, EngineTime nothingBefore) in _promised)
            {
                merge.Promise(channel, nothingBefore);
            }

            _posted.Clear();
            _promised.Clear();
        }
    }
}
