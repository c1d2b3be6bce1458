using DriftWatch.Acquisition.PracticeRig;
using DriftWatch.Measurement.Channels;

namespace DriftWatch.Tests.PracticeRig;

/// <summary>
/// The rig's physics is frozen: judgement is tuned and told on its nights, and a rig that follows judgement would prove
/// nothing. Each fault's whole effect is one number here. Change the rig only to mend an error in its physics, never
/// because of a result; every published figure of the nights has to be made anew then.
/// </summary>
public class RigIsFrozenTests
{
    public static TheoryData<string, double> Effects => new()
    {
        { "", 6345998.618883245 },
        { "compressor-failing by 0.5", 6556398.213805083 },
        { "regulator-creep by 3", 6631883.198576214 },
        { "regulator-sag by 3", 6568222.291373089 },
        { "filter-clog by 4", 6562604.377807439 },
        { "tape-lift by 0.3", 6366244.257803577 },
        { "tape-run-out", 4481668.511285471 },
        { "head-clog head 2 by 9", 6541731.925865949 },
        { "oxide-shed by 3", 6519594.007615981 },
        { "vacuum-leak by 0.2", 6523381.510581822 },
        { "guide-height-shift by 0.4", 8005588.530597258 },
        { "guide-penetration-shift by 0.3", 7278607.323218584 },
        { "control-track-loss by 5", 6561823.703240927 },
        { "dryer-exhausted by 9", 6795172.997865938 },
        { "sensor-open-loop input supply-loop", 6538484.523265983 },
        { "sensor-stuck input supply-air", 6601418.6606659535 },
        { "sensor-over-range input rf-head-1", 6620255.404740943 },
        { "sensor-dead input guide-vacuum", 6583437.439625933 },
        { "sensor-noisy input guide-vacuum by 9", 6600775.064545936 },
        { "rail-sag by 0.3", 6596202.602365949 },
        { "supply-leak by 15", 6649845.9965127725 },
        { "leak-downstream by 15", 6647579.531741542 },
        { "regulator-follows-supply by 0.05", 6604234.2202578895 },
        { "moisture by 0.4", 6632851.220530166 },
        { "slots-dirty by 0.3", 6496427.666509119 },
        { "venturi-clog by 0.2", 6520285.416195789 },
        { "bearing-distress by 0.3", 6687346.62017612 },
        { "head-wear head 3 by 2", 6587384.667865981 },
        { "tracking-shift by 3", 6935630.219313137 },
        { "edge-damage by 8", 6621815.305543508 },
        { "guide-contact by 3", 6634875.243240987 },
        { "servo-loss", 11132178.450295027 },
    };

    [Theory]
    [MemberData(nameof(Effects))]
    public void Each_fault_has_the_effect_it_had(string fault, double effect)
    {
        double now = Effect(fault);
        Assert.True(Math.Abs(now - effect) <= 1e-8 * Math.Abs(effect), FormattableString.Invariant($"{{ \"{fault}\", {now:R} }},"));
    }

    [Fact]
    public void No_fault_is_left_out()
    {
        RigFaultKind[] outside = [RigFaultKind.ClockStep, RigFaultKind.InstrumentSilence]; // of the recording, and of the line
        string[] held = [.. Effects.Select(row => ((string)row[0]).Split(' ')[0])];
        Assert.Empty(Enum.GetValues<RigFaultKind>().Except(outside).Select(Slugs.Of).Except(held));
    }

    /// <summary>Means of every input over the last forty seconds, and the scatter of the frames, each with a weight of its own.</summary>
    private static double Effect(string fault)
    {
        string script = """
            length 10:00
            at 0 air on
            at 5 wheel on
            at 8 thread
            at 18 run
            at 40 programme

            """ + (fault.Length > 0 ? $"at 60 fault {fault} over 10" : "at 60 next tape\nat 130 venturi off");
        var rig = new RigSimulation(31, RigScriptText.Parse("frozen", "frozen", script));
        FrameAxis axis = FrameAxis.Even(RigInputs.FramePointsPerHead);
        double sum = 0;
        while (rig.Seconds < 150)
        {
            rig.Step();
            if (rig.Seconds <= 110)
            {
                continue;
            }

            foreach (RigInput input in Enum.GetValues<RigInput>().Where(input => input != RigInput.TimingError))
            {
                DriftWatch.Measurement.Samples.Reading said = rig.Sense(input);
                sum += (1 + (0.1 * (int)input)) * (rig.Truth(input) + (said.IsFault ? -1 : said.Raw));
            }

            if ((int)Math.Round(rig.Seconds * 100) % 50 == 0)
            {
                foreach (double value in rig.Frame(axis)!.Values)
                {
                    sum += Math.Abs(value);
                }
            }
        }

        return sum;
    }
}
