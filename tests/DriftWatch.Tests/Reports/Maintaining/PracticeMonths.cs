using System.Globalization;
using System.Runtime.InteropServices;
using DriftWatch.Acquisition.PracticeRig;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Calibrating;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Tests.Support;
using Microsoft.Extensions.Logging.Abstractions;
using BenchReader = DriftWatch.Storage.Queries.BenchReader;

namespace DriftWatch.Tests.Reports.Maintaining;

/// <summary>
/// Sixteen weeks of one practice machine, a tape each Monday: the rig's readings, what people enter and calibrations, through the inputs
/// that a live bench journals, into a store that is judged. What the weeks hold is known by how they are made: head 2 wears, the gauge of
/// the regulated air moves, each tape has a geometry of its own, the air sags in two weeks and the compressor wears towards the end.
/// </summary>
internal sealed class PracticeMonths : IReadingSink
{
    public const int Weeks = 16;

    /// <summary>What head 2 loses in a week.</summary>
    public const double WearDb = 0.06;

    public const double FirstHours = 402;

    public const double HoursAWeek = 9.25;

    /// <summary>How much too high the gauge of the regulated air reads at its second and third calibration.</summary>
    public const double GaugePsi = 0.15;

    private const ulong Seed = 77;
    private const double LineUpAt = 255;
    private static readonly TimeSpan Tick = TimeSpan.FromMilliseconds(100);

    private readonly List<EngineInput> _due = [];
    private readonly List<EngineInput> _batch = [];
    private readonly BenchStore _store;
    private readonly BenchDefinition _bench;
    private EngineTime _now;
    private long _number;
    private int _made;

    private PracticeMonths(BenchStore store)
    {
        _store = store;
        _bench = BenchFile.Load(Path.Combine(Checkout.Root, "device-profiles", "practice-rig", "bench.toml"), ProfileFolders.Default).Bench!.Definition;
        foreach (ChannelDefinition channel in _bench.Channels.OrderBy(c => c.Key))
        {
            if (store.KeyFor(channel.Id) != channel.Key)
            {
                throw new InvalidOperationException($"The store gives '{channel.Id}' another key than the bench.");
            }
        }
    }

    /// <summary>Nine o'clock of the first Monday.</summary>
    public static DateTimeOffset Begin { get; } = new(2026, 3, 2, 9, 0, 0, TimeSpan.Zero);

    public static DateTimeOffset End => Begin.AddDays(7 * Weeks);

    /// <summary>The weeks whose calibration of the regulated air follows the tape.</summary>
    public static int[] CalibratedAfter { get; } = [1, 7, 14];

    /// <summary>What the rig puts on in a week.</summary>
    public static RigTape TapeOf(int week)
    {
        RigRandom tapes = RigRandom.Stream(SeedOf(week), "tapes");
        return RigTape.Draw(tapes);
    }

    public static RigParameters Machine { get; } = RigParameters.From(Seed);

    public static string Identifier(int week) => string.Create(CultureInfo.InvariantCulture, $"MC-{201 + week:0000}");

    public static void Make(string folder)
    {
        using BenchStore store = BenchStore.Open(folder, new BenchStoreOptions());
        new PracticeMonths(store).Fill();
        EngineStart.CatchUp(store, NullLogger.Instance, long.MaxValue);
    }

    public void Post(int channel, EngineTime at, in Reading reading) => _due.Add(EngineInput.OfReading(at, channel, reading));

    public void Post(int channel, EngineTime at, Frame frame) => _due.Add(EngineInput.OfFrame(at, channel, frame));

    public void Promise(int channel, EngineTime nothingBefore)
    {
        // Nobody waits: all periods are multiples of the tick, and everything of an instant is there when the rig has been stepped to it.
    }

    public void Report(InstrumentNotice notice)
    {
        // For logs.
    }

    private static ulong SeedOf(int week) => Seed + (7919UL * (ulong)week);

    private void Fill()
    {
        for (int week = 0; week < Weeks; week++)
        {
            long utc = UtcText.ToNanoseconds(Begin.AddDays(7 * week));
            var anchor = new TimeAnchor(_now, utc);
            Add(EngineInput.OfClock(_now, new ClockEvent(ClockEventKind.Started, anchor)));
            Add(EngineInput.OfBench(_now, _bench));
            Play(week, anchor);
            Flush();
            if (Array.IndexOf(CalibratedAfter, week) is >= 0 and int time)
            {
                Calibrate("regulated-air", AirSheet(time), anchor);
                Calibrate("guide-vacuum", VacuumSheet(time), anchor);
            }

            Add(EngineInput.OfClock(_now, new ClockEvent(ClockEventKind.Stopped, anchor)));
            _now += TimeSpan.FromSeconds(1);
        }

        Flush();
    }

    private void Play(int week, TimeAnchor anchor)
    {
        EngineTime begins = _now;
        var rig = new RigSimulation(SeedOf(week), RigScriptText.Parse("week", "week", ScriptOf(week)), Machine);
        var feed = new RigFeed(rig, _bench.Channels, _now, this);
        Queue<(double Second, EntryCommand Entry)> entries = new(EntriesOf(week, anchor));
        for (int ticks = (int)(rig.Script.LengthSeconds / Tick.TotalSeconds); ticks > 0; ticks--)
        {
            _now += Tick;
            feed.AdvanceTo(_now);
            while (entries.TryPeek(out (double Second, EntryCommand Entry) entry) && begins + TimeSpan.FromSeconds(entry.Second) <= _now)
            {
                _due.Add(EngineInput.OfCommand(_now, entries.Dequeue().Entry));
            }

            _due.Sort(static (left, right) => EngineInput.CompareForJudging(left, right));
            _due.ForEach(i => Add(i));
            _due.Clear();
            Add(EngineInput.OfTick(_now));
        }
    }

    private static string ScriptOf(int week)
    {
        string wear = week == 0 ? "" : string.Create(CultureInfo.InvariantCulture, $"at 0.5 fault head-wear head 2 by {week * WearDb} over 0.1\n");
        string sag = week is 3 or 9 ? "at 5:20 fault regulator-sag by 4 over 1 for 20 back 1\n" : "";
        string worn = week >= 12 ? string.Create(CultureInfo.InvariantCulture, $"at 0.5 fault compressor-failing by {0.25 + (0.05 * (week - 12))} over 1\n") : "";
        string clog = week == 6 ? "at 6:00 fault head-clog head 3 by 9 over 2 for 30 back 1\n" : "";
        return $"""
            length 7:30
            nuisances off
            at 0.3 next tape
            {wear}{sag}{worn}{clog}at 1 air on
            at 4 wheel on
            at 8 thread
            at 12 run
            at 40 programme
            at 7:05 bars
            at 7:15 stop
            at 7:25 unthread
            """;
    }

    private IEnumerable<(double Second, EntryCommand Entry)> EntriesOf(int week, TimeAnchor anchor)
    {
        Guid tape = Id(1, week), transfer = Id(2, week), pass = Id(3, week);
        string by = week % 3 == 2 ? "Tom Ashby" : "Ida Wren";
        double height = 188 * (Machine.Timing.HeightMil + TapeOf(week).HeightMil);
        return
        [
            Of(1, new TapeDescribed { Tape = tape, Identifier = Identifier(week), Standard = "525/60", Band = TapeBand.HighBand, SpeedInchesPerSecond = 15 }),
            Of(2, new TransferOpened { Tape = tape }),
            Of(3, new PassOpened()),
            Of(4, new CheckSigned { Check = "tape-inspected", Answer = CheckAnswer.Done, ListHash = "aa" }),
            Of(5, new CheckSigned { Check = "head-hours", Answer = CheckAnswer.Done, Value = FirstHours + (HoursAWeek * week), ListHash = "aa" }),
            Of(200, Step("tracking", new LineUpReading(-0.6 - (0.02 * week), "rf-common"), new LineUpReading(-0.2, "rf-common"), "dB", "tracking, a quarter turn")),
            Of(210, Step("guide-height", new LineUpReading(Math.Round(height + 25, 1), null), new LineUpReading(Math.Round(height, 1), null), "ns", "height, two marks up")),
            Of(220, Step("head-matching", new LineUpReading(0.3 + (0.05 * week), "rf-matching"), new LineUpReading(0.3 + (0.05 * week), "rf-matching"), "dB", null)),
            Of(LineUpAt, new LineUpEnded()),
            Of(262, new RunBegan { Cue = RunCue.Hand, Basis = PositionBasis.ElapsedTime }),
            Of(430, new RunEnded { Cue = RunCue.Hand }),
            Of(440, new VerdictGiven { Verdict = Verdict.Sound, ByRules = Verdict.Sound, Reasons = [], RulesHash = "cc" }),
        ];

        (double, EntryCommand) Of(double second, EntryBody body)
        {
            long utc = anchor.UtcNanoseconds + (long)(second * 1e9);
            return (second, new EntryCommand
            {
                Id = Id(9, ++_made),
                By = by,
                EnteredUtc = utc,
                AboutUtc = utc,
                Transfer = body is TapeDescribed ? null : transfer,
                Pass = body is TapeDescribed or TransferOpened ? null : pass,
                Body = body,
            });
        }
    }

    private static LineUpStepRecorded Step(string key, LineUpReading before, LineUpReading after, string unit, string? turned) => new()
    {
        Step = key, Before = before, After = after, Tolerance = new LineUpTolerance(-20, 20, unit, "site"), Turned = turned, ListHash = "bb",
    };

    private void Calibrate(string channel, CalibrationSheet sheet, TimeAnchor anchor)
    {
        long utc = anchor.UtcNanoseconds + (_now.Nanoseconds - anchor.Engine.Nanoseconds);
        CalibrationDocument document;
        int key;
        using (BenchReader reader = _store.OpenReader())
        {
            document = CalibrationEntry.Make(_bench, CalibrationTable.Of(reader), channel, sheet, new CalibrationSigner("Ida Wren", "declared", null), utc, out key);
        }

        Add(EngineInput.OfCalibration(_now, key, document.ToCalibration()));
        Flush();
    }

    /// <summary>A gauge that reads a tenth to nine tenths of its rail over 100 psi.</summary>
    public static CalibrationSheet AirSheet(int time) => Sheet("psi", 0.05, time, [0, 25, 50, 75, 100], psi => 0.1 + (0.008 * (psi + (time * GaugePsi))), 0.0001);

    /// <summary>Half a volt to four and a half over 25 inches of water; at the third time it has come to read 1 % too much.</summary>
    public static CalibrationSheet VacuumSheet(int time) => Sheet("inH2O", 0.02, time, [0, 5, 10, 15, 20, 25], inches => 0.5 + (0.16 * inches * (time == 2 ? 1.01 : 1)), 0.0004);

    /// <summary>Up and down; each reading is off by up to the scatter, in a way of its own.</summary>
    private static CalibrationSheet Sheet(string unit, double uncertainty, int time, double[] nominals, Func<double, double> reads, double scatter) => new()
    {
        Reference = new ReferenceSheet { Name = "test gauge", Serial = "G-7", Certificate = "2026-0143", Unit = unit, Uncertainty = uncertainty, Due = "2027-01-31" },
        Tolerance = 0.5,
        IntervalMonths = 3,
        Points =
        [
            .. nominals.Concat(nominals.Reverse()).Select((n, point) => new PointSheet
            {
                Nominal = n, Reference = n, Settled = true, Raw = [.. Enumerable.Range(0, 4).Select(k => reads(n) + (scatter * Math.Sin((37 * point) + (11 * k) + (5 * time))))],
            }),
        ],
    };

    private static Guid Id(int kind, int number) => Guid.Parse($"0190a6f0-{kind:x4}-7000-8000-{number + 1:d12}");

    private void Add(in EngineInput input)
    {
        _batch.Add(input with { Number = ++_number });
        if (_batch.Count >= 20_000)
        {
            Flush();
        }
    }

    private void Flush()
    {
        _store.Append(CollectionsMarshal.AsSpan(_batch));
        _batch.Clear();
    }
}
