using DriftWatch.Acquisition.PracticeRig;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Benchmarks.Bed;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch;

namespace DriftWatch.Benchmarks.Nights;

/// <summary>A finding line and the second of the night at which it was given.</summary>
internal readonly record struct NightLine(double Seconds, FindingLine Line);

/// <summary>
/// Plays a night into the engine by the shortest way: no files, no threads, no merge. All periods are multiples of the
/// tick's 100 ms, so whatever is due at a tick is one instant: in the order of kind and channel it is what the merge
/// would have given (the smoke holds one night against the recorder's way).
/// </summary>
internal sealed class NightRun : IReadingSink
{
    private static readonly TimeSpan Tick = TimeSpan.FromMilliseconds(100);

    private readonly WatchEngine _engine = new();
    private readonly List<EngineInput> _due = [];
    private readonly List<FindingLine> _lines = [];
    private readonly List<NightLine> _told = [];
    private readonly BenchDefinition _bench;
    private long _number;
    private EngineTime _now;

    private NightRun(BenchDefinition bench)
    {
        _bench = bench;
    }

    /// <summary>The practice bench as it comes, and the inputs of the rig that it leaves out.</summary>
    public static BenchDefinition Bench { get; } = MakeBench();

    /// <summary>Every finding line of a night, in the order in which they were given.</summary>
    public static IReadOnlyList<NightLine> Lines(NightPlan plan)
    {
        var run = new NightRun(Bench);
        run.Play(plan);
        return run._told;
    }

    public void Post(int channel, EngineTime at, in Reading reading) => _due.Add(EngineInput.OfReading(at, channel, reading));

    public void Post(int channel, EngineTime at, Frame frame) => _due.Add(EngineInput.OfFrame(at, channel, frame));

    public void Promise(int channel, EngineTime nothingBefore)
    {
        // Nobody waits: everything of an instant is there when the rig has been stepped to it.
    }

    public void Report(InstrumentNotice notice)
    {
        // For logs.
    }

    private void Play(NightPlan plan)
    {
        long utc = UtcText.ToNanoseconds(QuantisedBench.Begin);
        RigParameters machine = RigParameters.From(plan.Seed);
        for (int i = 0; i < plan.Sessions.Count; i++)
        {
            NightSession session = plan.Sessions[i];
            utc += session.AwayBefore.Ticks * TimeSpan.NanosecondsPerTick;
            if (i > 0)
            {
                Apply(EngineInput.OfClock(_now, new ClockEvent(ClockEventKind.Stopped, _engine.Anchors.Anchors[^1])));
            }

            Apply(EngineInput.OfClock(_now, new ClockEvent(ClockEventKind.Started, new TimeAnchor(_now, utc))));
            if (i == 0)
            {
                Apply(EngineInput.OfBench(_now, _bench));
            }

            EngineTime begins = _now;
            PlaySession(new RigSimulation(plan.Seed + (7919UL * (ulong)i), session.Script, machine), session.Script.LengthSeconds);
            utc += _now.Nanoseconds - begins.Nanoseconds;
        }
    }

    private void PlaySession(RigSimulation rig, double length)
    {
        var feed = new RigFeed(rig, _bench.Channels, _now, this);
        for (int ticks = (int)Math.Round(length / Tick.TotalSeconds); ticks > 0; ticks--)
        {
            _now += Tick;
            feed.AdvanceTo(_now);
            _due.Sort(static (left, right) => EngineInput.CompareForJudging(left, right));
            foreach (EngineInput input in _due)
            {
                Apply(input);
            }

            _due.Clear();
            Apply(EngineInput.OfTick(_now));
        }
    }

    private void Apply(in EngineInput input)
    {
        _engine.Apply(input with { Number = ++_number }, _lines);
        if (_lines.Count > 0)
        {
            _told.AddRange(_lines.Select(line => new NightLine(_now.Seconds, line)));
            _lines.Clear();
        }
    }

    private static BenchDefinition MakeBench()
    {
        BenchDefinition bench = PracticeBench.WithInputs(RigInput.ControlTrackPhase, RigInput.RfTilt);
        return bench.Channels.FirstOrDefault(c => c.Period.Ticks % Tick.Ticks != 0) is { } odd
            ? throw new InvalidOperationException($"The period of '{odd.Id}' is no multiple of the tick, so the night would need a merge.")
            : bench;
    }
}
