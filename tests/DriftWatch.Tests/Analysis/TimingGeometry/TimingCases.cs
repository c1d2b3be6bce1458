using System.Text.Json;
using DriftWatch.Analysis.TimingGeometry;
using DriftWatch.Measurement.Channels;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.TimingGeometry;

/// <summary>Records to take apart: those of the independent simulation, and noisy ones made from the first-order terms.</summary>
internal static class TimingCases
{
    public static FrameAxis Axis { get; } = FrameAxis.Even(16);

    public static TimingStandard Standard(string name) => name switch
    {
        "525" => TimingStandard.Mono525,
        "525c" => TimingStandard.Colour525,
        _ => TimingStandard.Line625,
    };

    public static IEnumerable<JsonElement> Fixtures => Golden.Json("timing/timing-fixtures").EnumerateArray();

    public static IEnumerable<JsonElement> Grids => Golden.Json("timing/timing-line-grids").GetProperty("grids").EnumerateArray();

    public static TimingSamples Frame(JsonElement fixture) =>
        TimingSamples.FromFrame(Standard(fixture.GetProperty("std").GetString()!), Axis, fixture.GetProperty("e_ns").Doubles());

    public static HeadMark[] Marks(JsonElement grid) =>
        [.. grid.GetProperty("marks").EnumerateArray().Select(m => new HeadMark(m.Number("line"), 1 + m.GetProperty("head").GetInt32()))];

    /// <summary>One revolution on the even axis: p and h in mil, steps in ns, and noise xₜ = ρ·xₜ₋₁ + e of this deviation.</summary>
    public static double[] Noisy(Random random, double pMil, double hMil, double[] stepsNs, double sigmaNs, double rho = 0)
    {
        var e = new double[Axis.Count];
        double noise = sigmaNs * Gauss(random);
        for (int i = 0; i < e.Length; i++)
        {
            double angle = Axis.AnglesDegrees[i] * Math.PI / 180;
            e[i] = ((hMil * Math.Cos(angle)) - (pMil * Math.Sin(angle))) * TimingStandard.Mono525.NsPerMil + stepsNs[Axis.Heads[i] - 1] + noise;
            noise = (rho * noise) + (sigmaNs * Math.Sqrt(1 - (rho * rho)) * Gauss(random));
        }

        return e;
    }

    public static double Gauss(Random random) => MathNet.Numerics.Distributions.Normal.Sample(random, 0, 1);
}
