using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Samples;
using DriftWatch.Tests.Web;

namespace DriftWatch.SystemTests.Page;

/// <summary>A bench with everything on it that the page must be able to show at once.</summary>
internal static class FakeScene
{
    public static void Set(FakeBench bench)
    {
        FindingLine early = bench.Say(bench.MakeFinding(
            "f0", "pressure-sag", "regulated-air", "Regulated air sagged by 2.80 psi for 1.9 s and came back.", Severity.Advisory, 47.2, 48));
        bench.End(early);
        bench.Say(bench.MakeFinding("m1", "mark", null, "Ida Wren: splice before reel change.", Severity.Note));
        bench.Say(bench.MakeFinding(
            "f1", "air-below-setpoint", "regulated-air", "Regulated air is 44.10 psi, below 45 psi, while supply air falls.", value: 44.1, limit: 45));
        bench.Say(bench.MakeFinding(
            "f2", "rf-low", "rf-3", "RF of head 3 is 2.4 dB under its baseline.", Severity.Advisory, -6.6, -6.2));
        bench.Book(Alarm(bench, "air-below-setpoint.regulated-air", AlarmPriority.High) with { Cause = "compressor-failing", FirstOut = "practice.supply-changed.supply-air.3" });
        bench.Book(Alarm(bench, "stale.room-temperature", AlarmPriority.Low, AlarmState.ReturnedUnacknowledged) with { IsActive = false });
        bench.Book(Alarm(bench, "below-limit.rf-3", AlarmPriority.Medium, AlarmState.Shelved) with
        {
            Step = AlarmStep.Shelved, By = "Ida Wren", Why = "new head comes on Tuesday", ShelvedUntilUtc = bench.ToUtcNanoseconds(bench.Now) + 1_800_000_000_000,
        });
        bench.Hold("regulated-air", 44.1);
        bench.Fail("room-humidity", FaultCode.NoAnswer);
        bench.Silence("room-temperature", TimeSpan.FromSeconds(95));
    }

    /// <summary>A line of the book, raised just now.</summary>
    public static AlarmTransition Alarm(FakeBench bench, string tag, AlarmPriority priority, AlarmState to = AlarmState.Unacknowledged)
    {
        long now = bench.ToUtcNanoseconds(bench.Now);
        string channel = tag[(tag.IndexOf('.', StringComparison.Ordinal) + 1)..];
        int input = (int)bench.LatestAlarms(1).NextCursor + 7;
        return new AlarmTransition
        {
            Id = $"practice.alarm.{tag}.{input}",
            Tag = tag,
            Input = input,
            Place = 0,
            Bench = "practice",
            BenchHash = bench.Bench.SourceHash,
            Step = AlarmStep.Raised,
            From = AlarmState.Normal,
            To = to,
            IsActive = true,
            IsAcknowledged = false,
            Priority = priority,
            At = bench.Now,
            AtUtc = now,
            RaisedUtc = now - 95_000_000_000,
            StartUtc = now - 96_000_000_000,
            State = MachineState.Locked,
            FirstOut = $"practice.{tag}.{input}",
            Finding = $"practice.{tag}.{input}",
            Findings = 1,
            Channel = channel,
            Value = 44.1,
            Limit = 45,
            Unit = "psi",
            LimitSource = "common practice, no source",
            Text = $"What {channel} says is beyond its limit.",
        };
    }
}
