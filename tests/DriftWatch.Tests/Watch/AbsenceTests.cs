using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Tests.Watch.Support;
using Xunit;

namespace DriftWatch.Tests.Watch;

public class AbsenceTests
{
    private static EngineTime T(double seconds) => EngineTime.FromSeconds(seconds);

    [Fact]
    public void A_silent_channel_is_stale_after_5_s_and_an_alarm_after_10()
    {
        List<FindingLine> lines = new Night(TestBench.Of(TestBench.SupplyChannel()))
            .Series(TestBench.Supply, 0, 10, 90).Series(TestBench.Supply, 30, 31, 90).Judge().FindAll(l => l.Kind == FindingKinds.Stale);
        Assert.Equal([(FindingPhase.Raised, Severity.Advisory), (FindingPhase.Updated, Severity.Alarm), (FindingPhase.Ended, Severity.Alarm)], lines.Select(l => (l.Phase, l.Severity)));
        Assert.Equal((T(9.9), T(14.9)), (lines[0].Start, lines[0].RaisedAt));
        Assert.Equal(19.9, lines[1].Details[0].Number!.Value + 9.9, 1e-9);
        Assert.Equal(T(30), lines[2].End);
    }

    [Fact]
    public void A_channel_never_seen_is_stale_from_the_bench_on() =>
        Assert.Equal(T(5), new Night(TestBench.Of(TestBench.SupplyChannel())).Until(8).Judge().Single(l => l.Kind == FindingKinds.Stale).RaisedAt);

    [Theory]
    [InlineData(FaultCode.OpenLoop, 10.0)]
    [InlineData(FaultCode.BadChecksum, 11.0)]
    public void A_fault_of_the_sensor_is_raised_at_once_one_of_the_line_after_a_second(FaultCode code, double raised)
    {
        Night night = new Night(TestBench.Of(TestBench.SupplyChannel())).Series(TestBench.Supply, 0, 10, 90).Series(TestBench.Supply, 13, 14, 90);
        for (int i = 0; i < 30; i++)
        {
            night.Fault(10 + (i * 0.1), TestBench.Supply, code);
        }

        List<FindingLine> lines = night.Judge().FindAll(l => l.Kind == FindingKinds.SensorFault);
        Assert.Equal(2, lines.Count);
        Assert.Equal((T(10), T(raised), code.ToSlug()), (lines[0].Start, lines[0].RaisedAt, lines[0].Cause));
        Assert.Equal(T(13), lines[1].End);
    }

    [Fact]
    public void One_bad_line_is_no_news() =>
        Assert.DoesNotContain(
            new Night(TestBench.Of(TestBench.SupplyChannel())).Series(TestBench.Supply, 0, 10, 90)
                .Fault(10, TestBench.Supply, FaultCode.BadChecksum).Series(TestBench.Supply, 10.1, 20, 90).Judge(),
            l => l.Kind is FindingKinds.SensorFault or FindingKinds.Stale);

    [Fact]
    public void An_instrument_that_falls_silent_is_one_finding_with_its_name()
    {
        Night night = new(TestBench.Full(c => c.Instrument != "board"));
        foreach (int channel in (int[])[TestBench.Air, TestBench.Supply, TestBench.Vacuum])
        {
            night.Series(channel, 0, 10, 50);
        }

        List<FindingLine> lines = night.Series(TestBench.Air, 30, 45, 50).Judge();
        List<FindingLine> silent = lines.FindAll(l => l.Kind == FindingKinds.InstrumentSilent);
        Assert.Equal([FindingPhase.Raised, FindingPhase.Updated, FindingPhase.Ended], silent.Select(l => l.Phase));
        Assert.Contains("regulated-air supply-air guide-vacuum", silent[0].Text, StringComparison.Ordinal);
        Assert.Equal(T(14.9), silent[0].RaisedAt);
        Assert.Equal(T(30), silent[2].End);

        // Only what stays away when the instrument is back speaks for itself.
        Assert.Equal(["guide-vacuum", "supply-air"], lines.Where(l => l.Kind == FindingKinds.Stale && l.Phase == FindingPhase.Raised).Select(l => l.Channel).Order());
    }
}
