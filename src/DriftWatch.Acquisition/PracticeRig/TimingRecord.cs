namespace DriftWatch.Acquisition.PracticeRig;

/// <summary>The geometry behind one revolution's timing error. All zero is a machine that equals the one that recorded the tape.</summary>
public sealed record TimingGeometry
{
    /// <summary>Offset of the guide's centre away from the wheel, mil; negative is in.</summary>
    public double PenetrationMil { get; init; }

    /// <summary>Offset of the guide's centre along the heads' motion at mid-pass, mil.</summary>
    public double HeightMil { get; init; }

    /// <summary>Lag of each head in arc-minutes: quadrature error.</summary>
    public IReadOnlyList<double> LagArcmin { get; init; } = [0, 0, 0, 0];

    /// <summary>Tip projection error of each head, mil; felt only as far as tape is drawn in.</summary>
    public IReadOnlyList<double> ProjectionMil { get; init; } = [0, 0, 0, 0];

    /// <summary>Share of a tip's extra length taken up by drawing tape in, 0 to 1; unknown for any real machine.</summary>
    public double DrawnIn { get; init; }

    /// <summary>Speed error once a revolution, ns: sine and cosine part of the wheel's angle.</summary>
    public double RevolutionSineNs { get; init; }

    public double RevolutionCosineNs { get; init; }

    /// <summary>How firmly vacuum holds the tape in the guide's arc: 1 full; at 0 the tape hangs straight between its pins.</summary>
    public double Hold { get; init; } = 1;
}

/// <summary>
/// Timing error of a head at an angle from mid-pass, positive is late. Tape held on an arc centred at (p, h): the gap
/// lies over the material point radially below it, so e(θ) = asin[(h·cosθ − p·sinθ)/R]/ω, to first order
/// (h·cosθ − p·sinθ)/v. Derived; checked against an independent simulation of tents and tangents to 10⁻³ ns.
/// </summary>
public sealed class TimingRecord
{
    /// <summary>Tip-circle radius, inches. Source: from memory (2.067 in diameter).</summary>
    private const double TipRadiusInches = 1.0335;
    private const double MilPerInch = 1000;

    private readonly double _radiansPerSecond;

    /// <param name="revolutionsPerSecond">240 for 525/60 (239.76 in colour), 250 for 625/50.</param>
    public TimingRecord(double revolutionsPerSecond)
    {
        _radiansPerSecond = 2 * Math.PI * revolutionsPerSecond;
        NanosecondsPerMil = 1e9 / (_radiansPerSecond * TipRadiusInches * MilPerInch);
    }

    /// <summary>The first-order coefficient 1/v: 641.650 ns/mil at 240 rev/s, 615.984 at 250.</summary>
    public double NanosecondsPerMil { get; }

    /// <summary>Head 0 to 3, angle in radians from mid-pass.</summary>
    public double ErrorNs(TimingGeometry g, int head, double angle)
    {
        double sine = Math.Sin(angle);
        double cosine = Math.Cos(angle);
        double held = Held(g.HeightMil, g.PenetrationMil, sine, cosine);
        if (g.Hold < 1)
        {
            // Sliding tape shows the same skew from end to end, but as a straight ramp and without scallop (derived).
            double ramp = -g.PenetrationMil * NanosecondsPerMil * Math.Sin(Math.PI / 4) * angle / (Math.PI / 4);
            held = (g.Hold * held) + ((1 - g.Hold) * ramp);
        }

        double lag = g.LagArcmin[head] / 60 * Math.PI / 180 / _radiansPerSecond * 1e9;
        double slope = -g.DrawnIn * g.ProjectionMil[head] / (TipRadiusInches * MilPerInch) * angle / _radiansPerSecond * 1e9;
        double wheel = angle + (head * Math.PI / 2);
        return held + lag + slope + (g.RevolutionSineNs * Math.Sin(wheel)) + (g.RevolutionCosineNs * Math.Cos(wheel));
    }

    private double Held(double heightMil, double penetrationMil, double sine, double cosine)
    {
        double shift = ((heightMil * cosine) - (penetrationMil * sine)) / (TipRadiusInches * MilPerInch);
        return Math.Asin(shift) / _radiansPerSecond * 1e9;
    }
}
