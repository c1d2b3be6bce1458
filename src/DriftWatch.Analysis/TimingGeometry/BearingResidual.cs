using System.Numerics;
using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.TimingGeometry;

/// <summary>What a line near half the wheel's speed looks like.</summary>
public enum HalfSpeedShape
{
    /// <summary>None is beyond what chance gives.</summary>
    None,

    /// <summary>There is one; whether the wheel's centre moves or the time base does can't be told.</summary>
    Untold,

    /// <summary>It turns with the angle in the pass, as a moving wheel centre does: whirl of the bearing.</summary>
    WheelCentre,

    /// <summary>It runs on through the head switches, as an error of time does: mains hum or the wheel servo.</summary>
    TimeBase,
}

/// <summary>The part of the residual that doesn't repeat with the wheel.</summary>
/// <param name="SynchronousRmsNs">Root mean square of what repeats every revolution and no term explains, the noise's own share of it taken off.</param>
/// <param name="AsynchronousRmsNs">Root mean square of what does not repeat.</param>
/// <param name="Revolutions">How many.</param>
/// <param name="HalfSpeed">The line near half speed; a shortfall below 50 revolutions.</param>
public sealed record BearingReading(double SynchronousRmsNs, double AsynchronousRmsNs, int Revolutions, Answer<HalfSpeedLine> HalfSpeed);

/// <summary>A line looked for between 0.48 and 0.5 of a revolution.</summary>
/// <param name="Shape">Whether it is there, and what it looks like.</param>
/// <param name="PerRevolution">Its frequency, cycles a revolution.</param>
/// <param name="Hz">The same.</param>
/// <param name="AmplitudeNs">Of the better shape; of noise where <paramref name="Shape"/> is none.</param>
/// <param name="Chance">How often noise of this colour gives as much somewhere in the band, 0 … 1.</param>
/// <param name="ResolutionHz">Lines closer than this are one: a cycle in the record's length.</param>
/// <param name="MainsHz">The mains whose double lies within that of it; null where neither does.</param>
public sealed record HalfSpeedLine(
    HalfSpeedShape Shape, double PerRevolution, double Hz, double AmplitudeNs, double Chance, double ResolutionHz, double? MainsHz)
{
    public override string ToString() => Shape switch
    {
        HalfSpeedShape.None => "no line near half the wheel's speed",
        HalfSpeedShape.WheelCentre => $"a line of {AmplitudeNs:0.0} ns at {PerRevolution:0.000} of a revolution ({Hz:0.0} Hz) that moves as the wheel's centre does: whirl of the bearing",
        HalfSpeedShape.TimeBase => $"a line of {AmplitudeNs:0.0} ns at {PerRevolution:0.000} of a revolution ({Hz:0.0} Hz) that runs on through the head switches: hum or servo",
        _ => $"a line of {AmplitudeNs:0.0} ns at {PerRevolution:0.000} of a revolution ({Hz:0.0} Hz)",
    } + (MainsHz is { } mains && Shape != HalfSpeedShape.None ? $"; twice the mains of {mains:0} Hz is {2 * mains:0} Hz, {ResolutionHz:0.0} Hz of this record can't keep them apart" : "");
}

/// <summary>
/// Many revolutions on one axis, split into what repeats with the wheel and what does not. Heads, guide and an eccentric wheel repeat; a
/// whirling or hammering gas bearing does not (sub-synchronous whirl: Majumdar, Wear 62, 1980; pneumatic hammer: ASME J. Lub. Tech. 93/4,
/// 1971). Half-speed whirl lies at 115 to 120 Hz at 240 rev/s, beside twice a 60 Hz mains, so its shape is asked for as well: a
/// centre that runs round at Ω gives ε·sin(Ωt − θ)/v and jumps at every head switch; hum is sin Ωt and does not. Derived.
/// </summary>
public static class BearingResidual
{
    /// <summary>A cycle in the record's length is then 0.02 of a revolution: 0.48 and 0.5 are apart.</summary>
    public const int LeastForHalfSpeed = 50;

    private const double BandFrom = 0.48;
    private const double BandTo = 0.5;

    /// <summary>Where the noise beside the band is looked at.</summary>
    private const double NoiseFrom = 0.30;
    private const double NoiseTo = 0.70;

    /// <summary>A line is said to be there where chance gives as much less often than this. Chosen.</summary>
    private const double LeastChance = 1e-3;

    /// <summary>Twice the log likelihood ratio between the shapes before one is named. Chosen: chance exceeds it once in 1500 for one degree.</summary>
    private const double ShapeDeviance = 12;

    /// <param name="standard">Of the machine.</param>
    /// <param name="decomposer">For the frames' axis.</param>
    /// <param name="heads">Of the axis, 1 to 4.</param>
    /// <param name="anglesDegrees">Of the axis, from mid-pass.</param>
    /// <param name="revolutionsNs">Revolutions in the order of time, each as long as the axis.</param>
    /// <param name="isEveryRevolution">None was left out between them, so that a line has a frequency.</param>
    /// <returns>A shortfall below three revolutions.</returns>
    /// <exception cref="ArgumentException">Lengths differ or an error is not finite.</exception>
    public static Answer<BearingReading> Split(
        TimingStandard standard, TimingDecomposer decomposer, ReadOnlySpan<int> heads, ReadOnlySpan<double> anglesDegrees, IReadOnlyList<double[]> revolutionsNs,
        bool isEveryRevolution = true)
    {
        ArgumentNullException.ThrowIfNull(standard);
        ArgumentNullException.ThrowIfNull(decomposer);
        ArgumentNullException.ThrowIfNull(revolutionsNs);
        TimingSamples.CheckAxis(heads, anglesDegrees);
        int n = decomposer.Count;
        if (heads.Length != n || anglesDegrees.Length != n)
        {
            throw new ArgumentException($"{heads.Length} heads and {anglesDegrees.Length} angles for a decomposer of {n} points.", nameof(heads));
        }

        foreach (double[] revolution in revolutionsNs)
        {
            if (revolution.Length != n)
            {
                throw new ArgumentException($"A revolution has {revolution.Length} points, the axis {n}.", nameof(revolutionsNs));
            }

            Finite.Require(revolution);
        }

        int turns = revolutionsNs.Count;
        if (turns < 3)
        {
            return new Shortfall("revolutions", turns, 3);
        }

        var mean = new double[n];
        foreach (double[] revolution in revolutionsNs)
        {
            for (int i = 0; i < n; i++)
            {
                mean[i] += revolution[i] / turns;
            }
        }

        double squares = 0;
        var rest = new double[turns * n];
        for (int t = 0; t < turns; t++)
        {
            for (int i = 0; i < n; i++)
            {
                double left = revolutionsNs[t][i] - mean[i];
                rest[(t * n) + i] = left;
                squares += left * left;
            }
        }

        double variance = squares / ((turns - 1.0) * n);
        double repeats = decomposer.Decompose(mean).ResidualRmsNs;

        // What the noise leaves of itself in the mean, less what the terms took of it, is no pattern of the wheel.
        double own = Math.Max(0, (repeats * repeats) - (variance / turns * decomposer.LeftOver / n));
        Answer<HalfSpeedLine> half = turns < LeastForHalfSpeed || !isEveryRevolution
            ? new Shortfall("revolutions one after the other", isEveryRevolution ? turns : 1, LeastForHalfSpeed)
            : HalfSpeed(standard, heads, anglesDegrees, rest, turns);
        return new BearingReading(Math.Sqrt(own), Math.Sqrt(variance), turns, half);
    }

    private static HalfSpeedLine HalfSpeed(TimingStandard standard, ReadOnlySpan<int> heads, ReadOnlySpan<double> anglesDegrees, double[] rest, int turns)
    {
        int n = heads.Length;
        var within = new double[n];
        var pass = new double[n];
        for (int i = 0; i < n; i++)
        {
            pass[i] = anglesDegrees[i] * Math.PI / 180;
            within[i] = ((heads[i] - 1) / 4.0) + ((anglesDegrees[i] + TimingStandard.HalfPassDegrees) / 360);
        }

        double step = 1.0 / (4 * turns);
        int count = 1 + (int)Math.Ceiling((NoiseTo - NoiseFrom) / step);
        var beside = new List<double>(count);
        (double Power, double At) best = (0, BandFrom);
        double margin = 1.0 / turns;
        for (int k = 0; k < count; k++)
        {
            double frequency = NoiseFrom + (k * step);
            (double centre, double time) = Powers(frequency, within, pass, rest, turns);
            double power = Math.Max(centre, time);
            if (frequency >= BandFrom - (step / 2) && frequency <= BandTo + (step / 2))
            {
                best = power > best.Power ? (power, frequency) : best;
            }
            else if (frequency < BandFrom - margin || frequency > BandTo + margin)
            {
                beside.Add(power);
            }
        }

        (double atCentre, double atTime) = Powers(best.At, within, pass, rest, turns);
        beside.Sort();

        // The larger of two related exponential powers: its median is between ln 2 and 1.23 of their mean, taken as the former, the careful one.
        double noise = beside[beside.Count / 2] / Math.Log(2);
        double tries = 2 * Math.Max(1, (BandTo - BandFrom) * turns + 1);
        double expected = noise > 0 ? tries * Math.Exp(-best.Power / noise) : best.Power > 0 ? 0 : tries;
        double chance = Math.Min(1, expected);
        double better = Math.Max(atCentre, atTime);

        // Explained sums of squares over the noise's own mean power are twice the log likelihoods' difference.
        double deviance = noise > 0 ? 2 * Math.Abs(atCentre - atTime) / noise : double.PositiveInfinity;
        HalfSpeedShape shape = chance > LeastChance ? HalfSpeedShape.None
            : deviance < ShapeDeviance ? HalfSpeedShape.Untold
            : atCentre > atTime ? HalfSpeedShape.WheelCentre : HalfSpeedShape.TimeBase;
        double hertz = best.At * standard.RevolutionsPerSecond;
        double resolution = standard.RevolutionsPerSecond / turns;
        double? mains = Math.Abs(hertz - 120) <= resolution ? 60 : Math.Abs(hertz - 100) <= resolution ? 50 : null;
        return new HalfSpeedLine(shape, best.At, hertz, Math.Sqrt(2 * better / rest.Length), chance, resolution, mains);
    }

    /// <summary>Sums of squares explained by a moving centre and by an error of time, for many cycles: 2|Σ r·e^(−iφ)|²/N.</summary>
    private static (double Centre, double Time) Powers(double frequency, double[] within, double[] pass, double[] rest, int turns)
    {
        int n = within.Length;
        Complex centre = Complex.Zero;
        Complex time = Complex.Zero;
        var unit = new Complex[n];
        var turned = new Complex[n];
        for (int i = 0; i < n; i++)
        {
            double phase = -2 * Math.PI * frequency * within[i];
            unit[i] = Complex.FromPolarCoordinates(1, phase);
            turned[i] = Complex.FromPolarCoordinates(1, phase + pass[i]);
        }

        for (int t = 0; t < turns; t++)
        {
            Complex a = Complex.Zero;
            Complex b = Complex.Zero;
            for (int i = 0; i < n; i++)
            {
                double value = rest[(t * n) + i];
                a += value * turned[i];
                b += value * unit[i];
            }

            Complex whole = Complex.FromPolarCoordinates(1, -2 * Math.PI * frequency * t);
            centre += a * whole;
            time += b * whole;
        }

        double scale = 2.0 / rest.Length;
        return (scale * centre.Magnitude * centre.Magnitude, scale * time.Magnitude * time.Magnitude);
    }
}
