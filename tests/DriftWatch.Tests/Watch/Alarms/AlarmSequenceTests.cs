using System.Globalization;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Tests.Watch.Support;
using DriftWatch.Watch;
using Xunit;

namespace DriftWatch.Tests.Watch.Alarms;

/// <summary>
/// Short nights, ten thousand with <c>DRIFTWATCH_LONG=1</c>, each from a seed that reproduces it (<c>DRIFTWATCH_SEED=4711</c> plays that one alone): signals that flap about their limits, clock steps,
/// restarts and sleeps, reloads, and people who do all they can, sensible or not. Restored from a snapshot at any input
/// the book is the same, and what must hold of every book holds.
/// </summary>
public class AlarmSequenceTests
{
    private static readonly int? OneSeed = int.TryParse(Environment.GetEnvironmentVariable("DRIFTWATCH_SEED"), NumberStyles.None, CultureInfo.InvariantCulture, out int seed) ? seed : null;
    private static readonly IEnumerable<int> Seeds = OneSeed is { } one ? [one] : Enumerable.Range(1, Environment.GetEnvironmentVariable("DRIFTWATCH_LONG") == "1" ? 10_000 : 1000);

    private static readonly BenchDefinition[] Benches =
    [
        TestBench.Of(Fast(TestBench.AirChannel()), Fast(Supply()), Fast(Of(TestBench.Lock)), Fast(Of(TestBench.Control)) with { Limits = [] }, Fast(Of(TestBench.Corrector))),
        TestBench.Of(Fast(TestBench.AirChannel())) with { SourceHash = "without the supply" },
    ];

    [Fact]
    public void Sequences_keep_the_book_s_rules_and_are_the_same_after_any_restart()
    {
        var steps = new HashSet<AlarmStep>();
        var states = new HashSet<AlarmState>();
        foreach (int seed in Seeds)
        {
            List<EngineInput> inputs = Make(seed);
            List<AlarmTransition> book = Play(seed, inputs, restarts: false);
            List<AlarmTransition> again = Play(seed, inputs, restarts: true);
            Assert.True(Text(book) == Text(again), $"seed {seed}: the book differs after restarts");
            Check(seed, book);
            steps.UnionWith(book.Select(a => a.Step));
            states.UnionWith(book.Select(a => a.To));
        }

        if (OneSeed is not null)
        {
            return; // one of them need not reach everything
        }

        // The sequences are worth something only if they reach everything.
        Assert.Equal(Enum.GetValues<AlarmStep>().Order(), steps.Order());
        Assert.Equal(Enum.GetValues<AlarmState>().Order(), states.Order());
    }

    [Fact]
    public void A_signal_that_flaps_all_night_is_one_alarm_and_grows_nothing()
    {
        var engine = new WatchEngine();
        var lines = new List<FindingLine>();
        var book = new List<AlarmTransition>();
        var night = new Night(Benches[1]);
        int early = 0;
        foreach (EngineInput input in night.Series(TestBench.Air, 0, 3600, t => t % 8 < 4 ? 50 : 43).Inputs())
        {
            engine.Apply(input, lines, book);
            if (input.Kind == InputKind.Tick && input.Time == EngineTime.FromSeconds(600))
            {
                early = engine.Snapshot().Length;
            }
        }

        Assert.True(lines.Count(l => l.Phase == FindingPhase.Raised && l.Severity > Severity.Note) > 300, "It did not flap.");
        Assert.Single(book, a => a.Calls);
        Assert.InRange(book.Count, 1, 20);
        Assert.InRange(engine.Snapshot().Length, 0, early * 1.5);
    }

    private static List<EngineInput> Make(int seed)
    {
        var random = new Random(seed);
        var night = new Night(Benches[0]);
        double length = 15 + (random.NextDouble() * 100);
        foreach ((int key, double level) in ((int, double)[])[(TestBench.Air, 50), (TestBench.Supply, 90), (TestBench.Corrector, 90)])
        {
            double value = level;
            for (double t = 0; t < length; t = Math.Round(t + 0.5, 6))
            {
                value = random.Next(12) == 0 ? level * (0.4 + (0.7 * random.NextDouble())) : random.Next(6) == 0 ? level : value;
                if (random.Next(40) == 0)
                {
                    night.Fault(t, key, (FaultCode)random.Next(14));
                }
                else if (random.Next(50) != 0)
                {
                    night.Sample(t, key, value + (0.1 * random.NextDouble()));
                }
            }
        }

        bool runs = true; // and is locked: what the corrector is judged in
        for (double t = 0; t < length; t = Math.Round(t + 0.5, 6))
        {
            runs ^= random.Next(50) == 0;
            night.Sample(t, TestBench.Lock, runs ? 1 : 0).Sample(t, TestBench.Control, runs ? -10 : -60);
        }

        double ahead = 0;
        string[] names = ["air-below-setpoint.regulated-air", "below-limit.supply-air", "pressure-sag.regulated-air", "nobody-watching.bench", "above-limit.corrector-use", "store-failing.bench", "mirror-failing.annex", "regulated-air", "supply-air", "none"];
        for (int i = random.Next(14); i > 0; i--)
        {
            double t = Math.Round(1 + (random.NextDouble() * (length - 1)), 3);
            string name = names[random.Next(names.Length)];
            switch (random.Next(10))
            {
                case 0:
                    ahead += random.Next(-3600, 3601);
                    night.At(t, EngineInput.OfClock(default, new ClockEvent((ClockEventKind)random.Next(5), Night.Anchor(t, ahead)) { StepNanoseconds = random.Next() }));
                    break;
                case 1:
                    night.At(t, EngineInput.OfBench(default, Benches[random.Next(2)]));
                    break;
                case 2 or 3:
                    night.At(t, new AcknowledgeCommand { Id = Guid.Empty, By = "Ada", Finding = name });
                    break;
                case 4 or 5:
                    night.At(t, new ShelveCommand { Id = Guid.Empty, By = "Ada", Note = "known", Finding = name, For = TimeSpan.FromSeconds(random.Next(40)), UntilOver = random.Next(2) == 0 });
                    break;
                case 6:
                    night.At(t, new UnshelveCommand { Id = Guid.Empty, By = "Ben", Finding = name });
                    break;
                case 7 or 8:
                    night.At(t, new OutOfServiceCommand { Id = Guid.Empty, By = "Ben", Note = "repair", Subject = name });
                    break;
                default:
                    night.At(t, new InServiceCommand { Id = Guid.Empty, By = "Ben", Subject = name });
                    break;
            }
        }

        for (double t = random.NextDouble() * 2 * length; t < length; t += 1 + (random.NextDouble() * 60))
        {
            night.At(Math.Round(t, 3), random.Next(2) == 0
                ? new StoreFailsCommand { Id = Guid.Empty, By = "DriftWatch", For = TimeSpan.FromSeconds(5), Trouble = "disk-full", Text = "The disk is full." }
                : new StoreTakesCommand { Id = Guid.Empty, By = "DriftWatch", Held = 3, Lost = 0 });
        }

        for (double t = random.NextDouble() * 2 * length; t < length; t += 1 + (random.NextDouble() * 60))
        {
            night.At(Math.Round(t, 3), RandomNights.MirrorSays(random));
        }

        return night.Until(length + (random.Next(2) * 75)).Inputs();
    }

    private static List<AlarmTransition> Play(int seed, List<EngineInput> inputs, bool restarts)
    {
        var random = new Random(seed);
        var engine = new WatchEngine();
        var lines = new List<FindingLine>();
        var book = new List<AlarmTransition>();
        foreach (EngineInput input in inputs)
        {
            int before = book.Count;
            engine.Apply(input, lines, book);
            if (restarts && random.Next(400) == 0)
            {
                Assert.True(WatchEngine.TryRestore(engine.Snapshot(), out engine, out string whyNot), $"seed {seed}: {whyNot}");
            }

            if (!restarts && input.Kind == InputKind.Tick && (book.Count > before || random.Next(100) == 0))
            {
                // Whatever tells of trouble now is in an alarm that is not normal.
                string[] quiet = [.. engine.OpenAlarms.Where(a => a.IsActive).Select(a => a.Tag)];
                bool trouble = engine.OpenFindings.Any(f => f.Severity > Severity.Note && f.Kind != FindingKinds.Cause);
                Assert.True(!trouble || quiet.Length > 0, $"seed {seed} at {input.Time}: trouble without an alarm");
            }
        }

        return book;
    }

    private static void Check(int seed, List<AlarmTransition> book)
    {
        var last = new Dictionary<string, AlarmTransition>(StringComparer.Ordinal);
        var shelvedAs = new Dictionary<string, AlarmPriority>(StringComparer.Ordinal);
        foreach (AlarmTransition line in book)
        {
            string where = $"seed {seed}, {line.At} {line.Tag} {line.Step} {line.From} > {line.To}, after {last.GetValueOrDefault(line.Tag)}";
            AlarmTransition? before = last.GetValueOrDefault(line.Tag);
            bool wasDropped = before is { Why: "bench-reloaded" } or { To: AlarmState.Normal }; // what is normal is forgotten
            Assert.True(before is null || (wasDropped && line.From == AlarmState.Normal) || line.From == before.To || (line.Step == AlarmStep.Raised && !before.IsActive), where);
            Assert.True(line.Calls == (line.To == AlarmState.Unacknowledged && line.Step is not (AlarmStep.Joined or AlarmStep.CauseNamed)), where);
            Assert.True(line.To != AlarmState.Shelved || line.ShelvedUntilUtc is not null, where);
            Assert.True(line.Step is not (AlarmStep.Acknowledged or AlarmStep.Shelved or AlarmStep.PutBackInService) || line.By is not null, where);
            Assert.True(line.Step != AlarmStep.Raised || line is { IsActive: true, IsAcknowledged: false }, where);
            Assert.True(line.Step != AlarmStep.Returned || !line.IsActive, where);
            Assert.True(before is null || wasDropped || line.Step == AlarmStep.Raised || line.Id == before.Id, where);
            if (line.Step == AlarmStep.Shelved)
            {
                shelvedAs[line.Tag] = line.Priority;
            }

            Assert.True(line.To != AlarmState.Shelved || line.Priority <= shelvedAs[line.Tag], $"shelved for less: {where}");
            Assert.True(line.Step != AlarmStep.Suppressed || line.IsAcknowledged, $"quietened with nobody having answered: {where}");
            last[line.Tag] = line;
        }

        Assert.True(book.DistinctBy(a => (a.Id, a.Input, a.Place)).Count() == book.Count, $"seed {seed}: a line would be kept once only");
    }

    private static string Text(IEnumerable<AlarmTransition> book) => string.Join('\n', book.Select(a => System.Text.Encoding.UTF8.GetString(AlarmJson.ToUtf8(a))));

    private static ChannelDefinition Of(int key) => TestBench.AllChannels().Single(c => c.Key == key);

    private static ChannelDefinition Fast(ChannelDefinition channel) => channel with { Period = TimeSpan.FromMilliseconds(500) };

    private static ChannelDefinition Supply() => TestBench.SupplyChannel() with
    {
        Limits =
        [
            new LimitDefinition { Side = LimitSide.Low, Severity = Severity.Advisory, Value = 70, Deadband = 1, OnDelay = TimeSpan.FromSeconds(2), Source = "common practice" },
            new LimitDefinition { Side = LimitSide.Low, Severity = Severity.Alarm, Value = 55, Deadband = 1, OnDelay = TimeSpan.FromSeconds(1), Source = "common practice" },
        ],
    };
}
