using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using DriftWatch.Tests.Support;
using DriftWatch.Watch;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Time.Testing;

namespace DriftWatch.Tests.Running;

/// <summary>A bench of one air channel with one limit at 40 psi, its pipeline over a real store, and a clock turned by hand.</summary>
internal sealed class PipelineBench : IDisposable
{
    public const long Roomy = 1L << 40;

    private readonly Action<FindingLine>? _onTold;

    public PipelineBench(int heldBound = 10_000, int maximumPages = 0, Action<FindingLine>? onTold = null)
    {
        _onTold = onTold;
        Intake = new ReadingIntake(heldBound);
        Options = new BenchStoreOptions
        {
            TimeProvider = Time, BallastBytes = 0, FreeSpace = _ => Free, MaximumPages = maximumPages,
        };
    }

    public string Folder { get; } = Directory.CreateTempSubdirectory("driftwatch-pipeline-").FullName;

    public FakeTimeProvider Time { get; } = new(new DateTimeOffset(2026, 11, 3, 20, 0, 0, TimeSpan.Zero));

    public BenchStoreOptions Options { get; }

    /// <summary>Free bytes of the disk, as the store sees them.</summary>
    public long Free { get; set; } = Roomy;

    public ReadingIntake Intake { get; }

    public List<FindingLine> Told { get; } = [];

    /// <summary>Lines of the alarm book that were told as stored.</summary>
    public List<AlarmTransition> Book { get; } = [];

    /// <summary>What the store had not taken of the alarm book when it refused last.</summary>
    public IReadOnlyList<AlarmTransition> Unstored { get; private set; } = [];

    public List<int> Commits { get; } = [];

    public EngineClock Clock { get; private set; } = null!;

    public WatchEngine Engine { get; private set; } = null!;

    public static BenchDefinition Definition()
    {
        BenchDefinition bench = SampleBench.Create();
        ChannelDefinition air = bench.Channels[SampleBench.Air] with
        {
            Limits =
            [
                new LimitDefinition { Side = LimitSide.Low, Severity = Severity.Alarm, Value = 40, Deadband = 1, Source = "bench file" },
            ],
        };
        return bench with { Channels = [air] };
    }

    public BenchStore Open() => BenchStore.Open(Folder, Options);

    /// <summary>A process begins: judgement catches up, engine time goes on from the store, clock and bench are entered.</summary>
    public BenchPipeline Begin(BenchStore store, BenchDefinition? definition = null, TimeSpan slowStart = default)
    {
        BenchDefinition bench = definition ?? Definition();
        Engine = EngineStart.CatchUp(store, NullLogger.Instance);
        Clock = new EngineClock(Time, EngineStart.TimeOf(store, Time));
        Intake.SetBench(bench);
        var pipeline = new BenchPipeline(store, Engine, Intake, Clock, bench.LatenessBound, NullLogger.Instance)
        {
            Told = (lines, alarms) =>
            {
                Told.AddRange(lines);
                Book.AddRange(alarms);
                lines.ToList().ForEach(line => _onTold?.Invoke(line));
            },
            Unstored = alarms => Unstored = alarms,
            Committed = (inputs, _) => Commits.Add(inputs),
        };
        pipeline.SetChannels([SampleBench.Air]);
        Time.Advance(slowStart); // lines are prepared, a thread is made
        pipeline.Begin(bench);
        Time.Advance(TimeSpan.FromMilliseconds(1));
        return pipeline;
    }

    /// <summary>100 ms pass, a reading arrives and the pipeline takes a turn; repeated.</summary>
    public void Turn(BenchPipeline pipeline, double air, int times = 1)
    {
        for (int i = 0; i < times; i++)
        {
            Time.Advance(TimeSpan.FromMilliseconds(100));
            EngineTime now = Clock.Now.FloorToMillisecond();
            Intake.Post(SampleBench.Air, now, Reading.Of(air));
            Intake.Promise(SampleBench.Air, new EngineTime(now.Nanoseconds + 1));
            pipeline.Step();
        }
    }

    /// <summary>Every line that the journal gives rise to when it is judged in one go, and every line that is stored: they must be the same bytes.</summary>
    public static (string[] Judged, string[] Stored) LinesOf(BenchStore store)
    {
        var lines = new List<FindingLine>();
        var engine = new WatchEngine();
        foreach (EngineInput input in store.ReadInputs(0))
        {
            engine.Apply(input, lines);
        }

        using BenchReader reader = store.OpenReader();
        return ([.. lines.Select(Text)], [.. reader.Findings(0, 10_000).Select(r => Text(r.Line))]);
    }

    /// <summary>The same of the alarm book.</summary>
    public static (string[] Judged, string[] Stored) BookOf(BenchStore store)
    {
        var book = new List<AlarmTransition>();
        var engine = new WatchEngine();
        foreach (EngineInput input in store.ReadInputs(0))
        {
            engine.Apply(input, [], book);
        }

        using BenchReader reader = store.OpenReader();
        return ([.. book.Select(Text)], [.. reader.Alarms(0, 10_000).Select(a => Text(a.Line))]);
    }

    public static string Text(AlarmTransition line) => System.Text.Encoding.UTF8.GetString(AlarmJson.ToUtf8(line));

    public static string Text(FindingLine line) => System.Text.Encoding.UTF8.GetString(FindingJson.ToUtf8(line));

    public void Dispose() => Directory.Delete(Folder, recursive: true);
}
