using DriftWatch.Measurement.Transfers;
using DriftWatch.Watch.Transfers;
using Xunit;

namespace DriftWatch.Tests.Watch.Transfers;

/// <summary>What readings prove of the pre-flight, contradict, or can't tell.</summary>
public sealed class CheckProofTests
{
    private const long Day = 86_400 * Acts.Second;

    private static readonly ProofReadings Nothing = new() { AtUtc = Acts.Begin };

    [Fact]
    public void Without_readings_nothing_is_proved_and_that_is_said()
    {
        foreach (ProofKind kind in Enum.GetValues<ProofKind>().Where(k => k != ProofKind.None))
        {
            TelemetryProof proof = CheckProofs.Of(Item(kind), null, Nothing)!;
            Assert.Equal(ProofStanding.CannotTell, proof.Standing);
            Assert.NotEmpty(proof.Text);
        }

        Assert.Null(CheckProofs.Of(Item(ProofKind.None), null, Nothing));
    }

    [Theory]
    [InlineData(50.0, ProofStanding.Proved)]
    [InlineData(48.1, ProofStanding.Proved)]
    [InlineData(47.9, ProofStanding.Contradicted)]
    [InlineData(52.1, ProofStanding.Contradicted)]
    public void The_setpoint_is_held_within_its_percent(double air, ProofStanding standing) =>
        Assert.Equal(standing, Of(ProofKind.Setpoint, 4, Nothing with { Air = air, AirSetpoint = 50 }));

    [Fact]
    public void The_setpoint_is_told_in_its_unit() => Assert.Equal(
        "Regulated air is 49 psi, -2 % off its setpoint of 50 psi; allowed are 4 %.",
        CheckProofs.Of(Item(ProofKind.Setpoint) with { Limit = 4 }, null, Nothing with { Air = 49, AirSetpoint = 50, AirUnit = "psi" })!.Text);

    [Theory]
    [InlineData(-20.0, ProofStanding.Proved)]
    [InlineData(-19.9, ProofStanding.Contradicted)]
    public void The_dew_point_is_below_its_limit(double point, ProofStanding standing) =>
        Assert.Equal(standing, Of(ProofKind.DewPoint, -20, Nothing with { DewPointCelsius = point }));

    [Theory]
    [InlineData(0.81, ProofStanding.Proved)]
    [InlineData(0.4, ProofStanding.Contradicted)]
    public void Air_was_up_before_the_wheel_turned(double share, ProofStanding standing) =>
        Assert.Equal(standing, Of(ProofKind.AirBeforeWheel, null, Nothing with { WheelBegan = (Acts.Begin, share), AirUpShare = 0.8 }));

    [Fact]
    public void An_overdue_calibration_is_named()
    {
        TelemetryProof proof = CheckProofs.Of(Item(ProofKind.CalibrationInDate), null, Nothing with { CalibrationsDated = 3, CalibrationsOverdue = ["rf-head-2"] })!;
        Assert.Equal(ProofStanding.Contradicted, proof.Standing);
        Assert.Contains("rf-head-2", proof.Text, StringComparison.Ordinal);
        Assert.Equal(ProofStanding.Proved, Of(ProofKind.CalibrationInDate, null, Nothing with { CalibrationsDated = 3 }));
    }

    [Fact]
    public void A_leak_down_is_due_after_its_days_unless_it_is_done_now()
    {
        Assert.Equal(ProofStanding.Proved, Of(ProofKind.LeakDown, 90, Nothing with { LeakDownUtc = Acts.Begin - (90 * Day) }));
        Assert.Equal(ProofStanding.Contradicted, Of(ProofKind.LeakDown, 90, Nothing with { LeakDownUtc = Acts.Begin - (91 * Day) }));
        TelemetryProof now = CheckProofs.Of(Item(ProofKind.LeakDown, 90), 0.4, Nothing with { LeakDownUtc = Acts.Begin - (91 * Day) })!;
        Assert.Equal((ProofStanding.CannotTell, "Tested now, 0.4 l/min as written down."), (now.Standing, now.Text));
    }

    [Theory]
    [InlineData(415.0, ProofStanding.Proved)]
    [InlineData(414.5, ProofStanding.Proved)]
    [InlineData(414.3, ProofStanding.Contradicted)]
    [InlineData(501.0, ProofStanding.Contradicted)]
    public void The_hour_meter_has_gone_on_with_the_tape(double hours, ProofStanding standing)
    {
        ProofReadings readings = Nothing with { HeadHours = (Acts.Begin - Day, 412), RanHours = 3.4 };
        Assert.Equal(standing, CheckProofs.Of(Item(ProofKind.HeadHours, 500), hours, readings)!.Standing);
    }

    private static ProofStanding Of(ProofKind kind, double? limit, ProofReadings readings) => CheckProofs.Of(Item(kind, limit), null, readings)!.Standing;

    private static CheckDefinition Item(ProofKind kind, double? limit = 1) =>
        new() { Key = "k", Text = "K", Proof = kind, Limit = limit, Unit = "l/min", Source = "test" };
}
