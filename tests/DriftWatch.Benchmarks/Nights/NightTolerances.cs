using DriftWatch.Acquisition.PracticeRig;
using DriftWatch.Benchmarks.Bed;
using DriftWatch.Measurement.Channels;

namespace DriftWatch.Benchmarks.Nights;

/// <summary>
/// Plays every cause at the size that the nights call its tolerance and measures, in what is so, whether it moves the machine
/// by the limit it stands for. The truth of the nights rests on these sizes.
/// </summary>
internal static class NightTolerances
{
    private const string Playing = "length 2:00:00\nnuisances off\nat 0 air on\nat 5 wheel on\nat 8 thread\nat 18 run\n";

    /// <summary>A size may be off by as much: limits are round numbers, and machines differ.</summary>
    private const double Allowed = 0.15;

    public static void Run(TextWriter output, Size size)
    {
        ulong[] seeds = size == Size.Full ? [11, 12, 13, 14, 15, 16, 17, 18] : [11];
        output.WriteLine("| cause | at its tolerance it should move | by | moves it by, machines of several seeds |");
        output.WriteLine("|---|---|---|---|");
        var wrong = new List<string>();
        foreach (NightCause cause in NightCauses.All.Where(cause => !cause.IsAllOrNothing))
        {
            (string what, double by, Func<RigSimulation, RigSimulation, double> measure) = Measures(cause);
            double[] moved = [.. seeds.Select(seed => measure(Sound(seed), Ill(seed, cause)))];
            output.WriteLine(FormattableString.Invariant($"| {cause.Slug} | {what} | {by} | {string.Join(", ", moved.Select(m => m.ToString("0.00", System.Globalization.CultureInfo.InvariantCulture)))} |"));
            wrong.AddRange(moved.Where(m => Math.Abs(m - by) > Allowed * Math.Abs(by)).Select(m => FormattableString.Invariant($"{cause.Slug}: {m:0.000} instead of {by}")));
        }

        if (wrong.Count > 0)
        {
            throw new InvalidOperationException("Sizes that are not the tolerance they stand for: " + string.Join("; ", wrong));
        }
    }

    private static (string What, double By, Func<RigSimulation, RigSimulation, double> Measure) Measures(NightCause cause) => cause.Fault switch
    {
        RigFaultKind.CompressorFailing or RigFaultKind.SupplyLeak or RigFaultKind.LeakDownstream =>
            ("compressor duty, times", 1.3, (sound, ill) => Duty(ill) / Duty(sound)),
        RigFaultKind.RegulatorCreep => ("regulated air, psi", 2, (sound, ill) => Change(sound, ill, RigInput.RegulatedAirVolts)),
        RigFaultKind.RegulatorSag or RigFaultKind.FilterClog => ("regulated air, psi", -2, (sound, ill) => Change(sound, ill, RigInput.RegulatedAirVolts)),
        RigFaultKind.RegulatorFollowsSupply => ("ripple of regulated air, psi", 0.6, (sound, ill) => Ripple(ill) - Ripple(sound)),
        RigFaultKind.VenturiClog or RigFaultKind.TapeLift => ("guide vacuum, times", 0.9, (sound, ill) => Mean(ill, RigInput.GuideVacuum) / Mean(sound, RigInput.GuideVacuum)),
        RigFaultKind.BearingDistress or RigFaultKind.Moisture => ("asynchronous residual, times", 1.5, (sound, ill) => Frames(ill).Residual / Frames(sound).Residual),
        RigFaultKind.HeadClog or RigFaultKind.HeadWear => ("head 2, dB", -2, (sound, ill) => Change(sound, ill, RigInput.RfHead2)),
        RigFaultKind.OxideShed or RigFaultKind.TrackingShift or RigFaultKind.SlotsDirty =>
            ("mean of the heads, dB", -2, (sound, ill) => 0.25 * Enumerable.Range(0, 4).Sum(head => Change(sound, ill, RigInput.RfHead1 + head))),
        RigFaultKind.EdgeDamage => ("least of the control track, dB", -3, (sound, ill) => Least(ill, RigInput.ControlTrack) - Least(sound, RigInput.ControlTrack)),
        RigFaultKind.ControlTrackLoss => ("control track, dB", -3, (sound, ill) => Change(sound, ill, RigInput.ControlTrack)),
        RigFaultKind.GuideHeightShift => ("scallop, ns of sagitta", 40, (sound, ill) => Frames(ill).Sagitta - Frames(sound).Sagitta),
        RigFaultKind.GuidePenetrationShift => ("skew from end to end, ns", -100, (sound, ill) => Frames(ill).Skew - Frames(sound).Skew),
        RigFaultKind.GuideContact => ("tilt of the level across the pass, dB", 2, (sound, ill) => Math.Abs(Change(sound, ill, RigInput.RfTilt))),
        RigFaultKind.DryerExhausted => ("dew point, °C", -20, (_, ill) => Mean(ill, RigInput.DewPoint)),
        _ => throw new InvalidOperationException($"No measure is written down for {cause.Slug}."),
    };

    private static RigSimulation Sound(ulong seed) => Begin(new RigSimulation(seed, RigScriptText.Parse("sound", "sound", Playing)));

    private static RigSimulation Ill(ulong seed, NightCause cause)
    {
        var fault = new RigFault
        {
            Kind = cause.Fault,
            StartSeconds = 30,
            Magnitude = cause.Tolerance(RigParameters.From(seed)),
            Head = cause.Fault is RigFaultKind.HeadClog or RigFaultKind.HeadWear ? 2 : null,
        };
        return Begin(new RigSimulation(seed, RigScriptText.Parse("ill", "ill", Playing) with { Faults = [fault] }));
    }

    private static RigSimulation Begin(RigSimulation rig)
    {
        while (rig.Seconds < 60)
        {
            rig.Step();
        }

        return rig;
    }

    private static double Mean(RigSimulation rig, RigInput input) => Values(rig, input, 60).Average();

    private static double Change(RigSimulation sound, RigSimulation ill, RigInput input) => Mean(ill, input) - Mean(sound, input);

    private static double Least(RigSimulation rig, RigInput input) => Values(rig, input, 20).Min();

    private static IEnumerable<double> Values(RigSimulation rig, RigInput input, double seconds)
    {
        for (double end = rig.Seconds + seconds; rig.Seconds < end;)
        {
            rig.Step();
            yield return rig.Truth(input);
        }
    }

    /// <summary>Share of running over ten whole cycles.</summary>
    private static double Duty(RigSimulation rig)
    {
        const int Cycles = 10;
        int starts = 0;
        double ran = 0;
        double all = 0;
        bool was = true;
        foreach (double runs in Values(rig, RigInput.CompressorRunning, 3600))
        {
            starts += runs > 0 && !was ? 1 : 0;
            was = runs > 0;
            if (starts > Cycles)
            {
                return ran / all;
            }

            ran += starts > 0 && was ? 1 : 0;
            all += starts > 0 ? 1 : 0;
        }

        return 1;
    }

    /// <summary>From the least to the greatest mean of two seconds, over some cycles.</summary>
    private static double Ripple(RigSimulation rig)
    {
        double[] means = [.. Values(rig, RigInput.RegulatedAirVolts, 600).Chunk(200).Select(two => two.Average())];
        return means.Max() - means.Min();
    }

    private static (double Skew, double Sagitta, double Residual) Frames(RigSimulation rig)
    {
        const int Count = 400;
        FrameAxis axis = FrameAxis.Even(RigInputs.FramePointsPerHead);
        double[][] frames = [.. Enumerable.Range(0, Count).Select(_ => rig.Frame(axis)!.Values.ToArray())];
        double[] mean = [.. Enumerable.Range(0, axis.Count).Select(point => frames.Average(frame => frame[point]))];
        double rest = Math.Sqrt(frames.Sum(frame => frame.Select((value, point) => (value - mean[point]) * (value - mean[point])).Sum()) / (Count * axis.Count));

        // One sine and one cosine over the pass, heads alike: projections, since the axis is even about mid-pass.
        double[] sine = [.. axis.AnglesDegrees.Select(degrees => Math.Sin(degrees * Math.PI / 180))];
        double[] cosine = [.. axis.AnglesDegrees.Select(degrees => Math.Cos(degrees * Math.PI / 180))];
        double middle = cosine.Average();
        double skew = mean.Zip(sine, (m, s) => m * s).Sum() / sine.Sum(s => s * s);
        double scallop = mean.Zip(cosine, (m, c) => m * (c - middle)).Sum() / cosine.Sum(c => (c - middle) * (c - middle));
        return (skew * Math.Sqrt(2), scallop * (1 - Math.Sqrt(0.5)), rest);
    }
}
