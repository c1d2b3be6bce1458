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
        bench.Hold("regulated-air", 44.1);
        bench.Fail("room-humidity", FaultCode.NoAnswer);
        bench.Silence("room-temperature", TimeSpan.FromSeconds(95));
    }
}
