using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Mirror;
using DriftWatch.Storage.Mirror;
using DriftWatch.Watch.Drifts;
using DriftWatch.Watch.Transfers;
using Xunit;

namespace DriftWatch.Tests.Mirror;

/// <summary>The schema's README against what is written: numbers that others read must never change their meaning.</summary>
public sealed class EventLineTests
{
    private static readonly string Readme = File.ReadAllText(Path.Combine(Support.Checkout.Root, "src", "DriftWatch", "Mirror", "README.md"));

    [Fact]
    public void How_a_bench_stands_is_one_line()
    {
        var text = new LineText();
        EventLines.Write(new BenchStanding(MachineState.Locked, 2, 1, 0.25, 0), "west", [("site", "annex")], text, 5);
        EventLines.Write(new BenchStanding(MachineState.NoAir, 0, 0, null, 3), "west", [], text, 6);
        Assert.Equal("driftwatch_bench,bench=west,site=annex state=5i,alarms=2i,unanswered=1i,worst_use=0.25,silent=0i,utc=0.005 5\ndriftwatch_bench,bench=west state=1i,alarms=0i,unanswered=0i,silent=3i,utc=0.006 6\n", text.Take());
    }

    [Fact]
    public void What_drifts_is_a_line_for_each_whose_drift_can_be_told()
    {
        var text = new LineText();
        var standing = new BenchStanding(MachineState.Locked, 0, 0, 0.5, 0)
        {
            Drifts =
            [
                new ChannelDrift
                {
                    Id = "regulated-air", Label = "Regulated air", Unit = "psi", Baseline = 50, Value = 48.5, Limit = 47, UsedShare = 0.5, SlopePerHour = -1.5, SlopePerHourLow = -1.75, SlopePerHourHigh = -1.25,
                    MinutesLeft = 60, MinutesLeftLow = 51.5, MinutesLeftHigh = 72,
                },
                new ChannelDrift { Id = "rf-1", Label = "RF 1", Unit = "dB", Baseline = 0, Value = 0.25, SlopePerHour = 0.125, Untold = "no-limit-that-way" },
                new ChannelDrift { Id = "rf-2", Label = "RF 2", Unit = "dB", Untold = "no-baseline" },
            ],
        };
        EventLines.WriteDrifts(standing, "west", [("site", "annex")], text, 5000);
        Assert.Equal(
            """
            driftwatch_drift,bench=west,of=regulated-air,unit=psi,site=annex value=48.5,baseline=50,limit=47,use=0.5,slope=-1.5,slope_low=-1.75,slope_high=-1.25,leaves=1i,minutes_left=60,minutes_left_low=51.5,minutes_left_high=72,utc=5 5000
            driftwatch_drift,bench=west,of=rf-1,unit=dB,site=annex value=0.25,baseline=0,slope=0.125,leaves=0i,utc=5 5000
            driftwatch_nearest,bench=west,of=regulated-air,unit=psi,site=annex value=48.5,baseline=50,limit=47,use=0.5,slope=-1.5,slope_low=-1.75,slope_high=-1.25,leaves=1i,minutes_left=60,minutes_left_low=51.5,minutes_left_high=72,utc=5 5000

            """.ReplaceLineEndings("\n"),
            text.Take());
        EventLines.WriteDrifts(standing, "west", [("site", "annex")], text, 5000, all: false);
        Assert.StartsWith("driftwatch_nearest,bench=west,of=regulated-air,", text.Take(), StringComparison.Ordinal); // alone, where means of a minute are kept
    }

    [Fact]
    public void An_alarm_and_a_finding_are_a_line_for_each_thing_that_befell_them()
    {
        var text = new LineText();
        AlarmTransition alarm = Storage.AlarmStoreTests.Line(5, 0) with
        {
            Bench = "west", Tag = "below-limit.supply-air", Channel = "supply-air", Unit = "psi", To = AlarmState.Acknowledged, Step = AlarmStep.Acknowledged, Priority = AlarmPriority.High, IsActive = true, Value = 59.5, Limit = 60, AtUtc = 7_250_000_000,
        };
        EventLines.Write(alarm, [("site", "annex")], text);
        EventLines.Write(alarm with { Channel = null, Unit = null, Value = null, Limit = null, IsActive = false, To = AlarmState.Normal, Step = AlarmStep.Returned }, [], text);
        Assert.Equal(
            """
            driftwatch_alarm,bench=west,alarm=below-limit.supply-air,channel=supply-air,unit=psi,site=annex state=2i,step=5i,priority=2i,active=1i,value=59.5,limit=60,utc=7.25 7250
            driftwatch_alarm,bench=west,alarm=below-limit.supply-air state=0i,step=4i,priority=2i,active=0i,utc=7.25 7250

            """.ReplaceLineEndings("\n"),
            text.Take());

        FindingLine finding = new()
        {
            Id = "west.drift.rf-2.9", Phase = FindingPhase.Raised, Input = 9, Bench = "west", BenchHash = "ab", Kind = "drift", Channel = "rf-2", Severity = Severity.Advisory, Start = default, RaisedAt = default,
            StartUtc = 1_000_000_000, RaisedUtc = 9_500_000_000, Value = -3.25, Limit = -6, Unit = "dB", Cause = "none", State = MachineState.Locked, Text = "It drifts.", Details = [],
        };
        EventLines.Write(finding, [("site", "annex")], text);
        EventLines.Write(finding with { Phase = FindingPhase.Ended, Value = null, Limit = null }, [], text);
        Assert.Equal(
            "driftwatch_finding,bench=west,kind=drift,channel=rf-2,severity=advisory,unit=dB,site=annex open=1i,value=-3.25,limit=-6 9500\ndriftwatch_finding,bench=west,kind=drift,channel=rf-2,severity=advisory,unit=dB open=0i 9500\n",
            text.Take());
    }

    /// <summary>A tape's way, entry by entry; what the book refuses and what is of no pass writes nothing.</summary>
    [Fact]
    public void A_pass_is_a_line_for_each_entry_of_it()
    {
        Guid tape = Guid.Parse("0190a6f0-0001-7000-8000-000000000001"), transfer = Guid.Parse("0190a6f0-0002-7000-8000-000000000001"), pass = Guid.Parse("0190a6f0-0003-7000-8000-000000000001");
        EntryCommand[] entries =
        [
            Entry(1, new TapeDescribed { Tape = tape, Identifier = "MC 0117", Standard = "525/60", SpeedInchesPerSecond = 15 }, null, null),
            Entry(2, new TransferOpened { Tape = tape }, transfer, null),
            Entry(3, new PassOpened(), transfer, pass),
            Entry(4, new RunEnded { Cue = RunCue.Hand }, transfer, pass), // it never began
            Entry(5, new NoteWritten(), null, null),
            Entry(6, new PassGivenUp(), transfer, pass),
        ];
        var text = new LineText();
        TransferBook book = TransferBook.Empty;
        foreach (EntryCommand entry in entries)
        {
            if (book.Add(entry, out book) is null)
            {
                EventLines.Write(entry, book, "west", [("site", "annex")], text);
            }
        }

        const string head = """driftwatch_pass,bench=west,pass=1,standard=525/60,tape=MC\ 0117,transfer=0190a6f0-0002-7000-8000-000000000001,site=annex""";
        Assert.Equal($"{head} stage=0i,utc=3 3000\n{head} stage=6i,utc=6 6000\n", text.Take());

        static EntryCommand Entry(int second, EntryBody body, Guid? transfer, Guid? pass) => new()
        {
            Id = new Guid(second, 0, 0x7000, 0x80, 0, 0, 0, 0, 0, 0, 1), By = "Ida Wren", Note = "why", EnteredUtc = second * 1_000_000_000L, AboutUtc = second * 1_000_000_000L, Transfer = transfer, Pass = pass, Body = body,
        };
    }

    [Fact]
    public void Every_number_stands_in_the_readme()
    {
        Check(Enum.GetValues<MachineState>().Select(s => ((int)s, Slugs.Of(s).Replace("tape-on-guide", "tape on the guide", StringComparison.Ordinal))));
        Check(Enum.GetValues<AlarmState>().Select(s => ((int)s, Slugs.Of(s))));
        Check(Enum.GetValues<AlarmStep>().Select(s => ((int)s, Slugs.Of(s).Replace("put-back-in-service", "put back", StringComparison.Ordinal))));
        Check(Enum.GetValues<AlarmPriority>().Select(s => ((int)s, Slugs.Of(s))));
        Check(Enum.GetValues<PassStage>().Select(s => ((int)s, Slugs.Of(s))));
        Check(Enum.GetValues<Verdict>().Select(s => ((int)s, Slugs.Of(s))));
        Check(Measurement.Samples.FaultCodes.All.Select((slug, i) => (i + 1, slug)));

        static void Check(IEnumerable<(int Number, string Slug)> all) =>
            Assert.All(all, one => Assert.Contains($"{one.Number} {one.Slug.Replace('-', ' ')}", Readme, StringComparison.Ordinal));
    }
}
