using DriftWatch.Analysis.RfHeads;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Tests.Watch.Support;
using DriftWatch.Watch;
using DriftWatch.Watch.Wear;
using Xunit;

namespace DriftWatch.Tests.Watch.Wear;

/// <summary>Sessions of two minutes, the recorder off between them: engine time goes on, and the wall clock is days ahead.</summary>
public class HeadWearTests
{
    private const double Session = 120;
    private const long Day = 86_400L * EngineTime.NanosecondsPerSecond;
    private static readonly int[] Heads = [TestBench.Head1, TestBench.Head1 + 1, TestBench.Head1 + 2, TestBench.Head1 + 3];

    [Fact]
    public void A_head_that_is_lower_in_every_session_is_named_with_its_rate_and_when_it_is_at_the_limit()
    {
        // 0.5 dB a week, −0.35 to start with by its nature; tapes differ by a decibel and more.
        List<FindingLine> lines = Wear(7, week => -0.5 * week);
        FindingLine raised = lines[0];
        Assert.Equal((FindingPhase.Raised, Severity.Advisory, "rf-3", "head-worn"), (raised.Phase, raised.Severity, raised.Channel, raised.Cause));
        Assert.InRange(raised.RaisedAt.Seconds, 3 * Session, 5 * Session);
        double Of(string name) => raised.Details.Single(d => d.Name == name).Number!.Value;
        double month = 365.25 / 12 / 7;
        Assert.InRange(-0.5 * month, Of("dbPerMonthLow"), Of("dbPerMonthHigh"));
        Assert.Equal(-0.5 * month, Of("dbPerMonth"), 0.2);
        double days = Of("days");
        Assert.Equal(0.5 * days / 7, Of("fallDb"), 0.15);

        // From −0.35 the limit of −3 dB is reached on day 37.1.
        Assert.Equal(37.1 - days, Of("daysLeft"), 4.0);
        Assert.InRange(Of("daysLeftEarliest"), 0, Of("daysLeft"));
        Assert.Contains("plan the exchange of the wheel", raised.Text, StringComparison.Ordinal);
        Assert.All(lines, l => Assert.Equal("rf-3", l.Channel));
        Assert.Equal(FindingPhase.Updated, lines[^1].Phase); // it grows, and lasts
    }

    [Fact]
    public void Sound_heads_a_step_few_sessions_and_a_few_days_say_nothing()
    {
        Assert.Empty(Wear(8, _ => 0));
        Assert.Empty(Wear(8, week => week < 4 ? 0 : -2));
        Assert.Empty(Wear(8, week => -0.1 * week)); // 0.7 dB in all
        Assert.Empty(Wear(3, week => -week));
        Assert.Empty(Wear(8, day => -0.4 * day, daysApart: 1.5));
    }

    [Fact]
    public void It_ends_when_the_wheel_has_been_exchanged()
    {
        List<FindingLine> lines = Wear(9, week => week < 7 ? -0.5 * week : 0.2);
        Assert.Equal((FindingPhase.Ended, "recovered"), (lines[^1].Phase, lines[^1].Details.Single(d => d.Name == "endedBy").Word));
        Assert.InRange(lines[^1].End!.Value.Seconds, 7 * Session, 8 * Session); // at the first line-up after it
    }

    [Fact]
    public void Another_calibration_of_a_detector_ends_it_because_levels_can_no_longer_be_compared()
    {
        List<EngineInput> inputs = Sessions(6, week => -0.5 * week, 7).At((6 * Session) - 5.05, EngineInput.OfCalibration(default, TestBench.Head1, new LineCalibration(1, 0.5) { Version = 2 })).Inputs();
        FindingLine ended = Of(Night.Judge(inputs))[^1];
        Assert.Equal((FindingPhase.Ended, "out-of-service"), (ended.Phase, ended.Cause));
    }

    [Fact]
    public void A_persons_line_up_is_kept_as_well_and_one_on_a_sick_machine_is_not()
    {
        Assert.NotEmpty(Of(Persons(airPsi: 50)));
        Assert.Empty(Of(Persons(airPsi: 47)));

        static List<FindingLine> Persons(double airPsi)
        {
            Night night = Sessions(7, week => -0.5 * week, 7, baselineAfter: TimeSpan.FromHours(2), airPsi);
            for (int week = 0; week < 7; week++)
            {
                night.At((week * Session) + 90.05, new BaselineCommand { Id = Guid.Empty, By = "Ada" });
            }

            return night.Judge();
        }
    }

    [Fact]
    public void What_is_remembered_survives_a_restart_in_every_session()
    {
        List<EngineInput> inputs = Sessions(7, week => -0.5 * week, 7).Inputs();
        List<FindingLine> whole = Of(Night.Judge(inputs));
        Assert.NotEmpty(whole);
        var engine = new WatchEngine();
        var lines = new List<FindingLine>();
        for (int i = 0; i < inputs.Count; i++)
        {
            if (i % 6007 == 0)
            {
                Assert.True(WatchEngine.TryRestore(engine.Snapshot(), out engine, out string whyNot), whyNot);
            }

            engine.Apply(inputs[i], lines);
        }

        Assert.Equal(whole.Select(l => l.Text), Of(lines).Select(l => l.Text));
    }

    [Fact]
    public void One_line_up_a_day_is_kept_and_what_a_wrong_clock_has_dated_is_dropped()
    {
        var record = new LineUpRecord();
        record.Keep(At(0, 0));
        record.Keep(At(0.2, 0.2));
        Assert.Equal(1, record.Count);
        record.Keep(At(1.1, 7.1)); // off for days: only the wall clock went on
        Assert.Equal(2, record.Count);
        record.Keep(At(1.3, 4000)); // a clock put far forward
        record.Keep(At(1.4, 8.4)); // and back
        Assert.Equal([0.2, 7.1, 8.4], record.Dates.Select(d => Math.Round((d - DateTimeOffset.UnixEpoch).TotalDays, 6)));
        record.Keep(At(30, 9)); // the engine has run for a month while the clock says a day
        Assert.Equal(1, record.Count);
        for (int day = 0; day < 100; day++)
        {
            record.Keep(At(40 + day, 40 + day));
        }

        Assert.Equal(LineUpRecord.Most, record.Count);

        static LineUp At(double engineDays, double utcDays) => new(new EngineTime((long)(engineDays * Day)), (long)(utcDays * Day), new FourHeads(0, 0, 0, 0));
    }

    private static List<FindingLine> Wear(int sessions, Func<int, double> headThree, double daysApart = 7) => Of(Sessions(sessions, headThree, daysApart).Judge());

    private static List<FindingLine> Of(List<FindingLine> lines) => lines.FindAll(l => l.Kind == FindingKinds.Wear);

    private static Night Sessions(int sessions, Func<int, double> headThree, double daysApart, TimeSpan? baselineAfter = null, double airPsi = 50)
    {
        BenchDefinition bench = TestBench.Full();
        var night = new Night(bench with
        {
            Quantities = DefaultQuantities.For(bench.Channels),
            Judgement = new JudgementSettings { BaselineAfter = baselineAfter ?? TimeSpan.FromSeconds(60) },
        });
        var random = new Random(20260701);
        for (int session = 0; session < sessions; session++)
        {
            double begins = session * Session;
            if (session > 0)
            {
                long ahead = (long)(session * daysApart * Day);
                night.At(begins, EngineInput.OfClock(default, new ClockEvent(
                    ClockEventKind.Started, new TimeAnchor(EngineTime.FromSeconds(begins), Night.Midnight + EngineTime.FromSeconds(begins).Nanoseconds + ahead))));
            }

            night.Shows(MachineState.NoAir, begins, begins + 10).Shows(MachineState.Locked, begins + 10, begins + Session, [TestBench.Air, .. Heads]);
            night.Series(TestBench.Air, begins + 10, begins + Session, airPsi);
            double tape = -10 + (2 * (random.NextDouble() - 0.5));
            for (int head = 0; head < 4; head++)
            {
                double level = tape + (head == 2 ? headThree(session) - 0.35 : 0.1 * head) + (0.1 * (random.NextDouble() - 0.5));
                night.Series(Heads[head], begins + 10, begins + Session, _ => level + (0.1 * (random.NextDouble() - 0.5)));
            }
        }

        return night;
    }
}
