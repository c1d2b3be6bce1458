using DriftWatch.Acquisition.PracticeRig;

namespace DriftWatch.Benchmarks.Nights;

/// <summary>One tape's stay on the machine, seconds of the night.</summary>
/// <param name="LocksSeconds">By when the servos have locked.</param>
/// <param name="EndsSeconds">When bars follow, and then stop.</param>
internal readonly record struct NightTape(double LocksSeconds, double EndsSeconds);

/// <summary>
/// What the people do: tape after tape of 45 to 95 minutes, each with its own levels and remains of line-up, a minute of
/// bars before and after; between tapes some minutes, in half of which the wheel stands and the venturi is shut while the
/// air stays on; now and then air off. Splices and touched knobs come from the rig.
/// </summary>
internal static class NightTapes
{
    /// <param name="random">The night's stream.</param>
    /// <param name="length">Of the night, seconds.</param>
    /// <param name="tapeSeconds">Lengths of the tapes; empty: as many as the night takes, drawn.</param>
    public static (List<RigStep> Steps, List<NightTape> Tapes) Fill(RigRandom random, double length, params double[] tapeSeconds)
    {
        var steps = new List<RigStep> { new(random.Between(5, 20), RigAct.AirOn) };
        var tapes = new List<NightTape>();
        double now = 30;
        bool wheelTurns = false;
        while (tapeSeconds.Length == 0 || tapes.Count < tapeSeconds.Length)
        {
            double threads = now + random.Between(15, 40);
            double runs = threads + random.Between(15, 60);
            double programme = runs + random.Between(50, 90);
            double left = length - 120 - programme;
            double plays = Math.Min(tapeSeconds.Length > 0 ? tapeSeconds[tapes.Count] : random.Between(2700, 5700), left);
            if (plays < 240)
            {
                break;
            }

            if (!wheelTurns)
            {
                steps.Add(new RigStep(now, RigAct.WheelOn));
                wheelTurns = true;
            }

            if (tapes.Count > 0)
            {
                steps.Add(new RigStep(threads - 1, RigAct.NextTape));
            }

            double bars = programme + plays;
            steps.Add(new RigStep(threads, RigAct.Thread));
            steps.Add(new RigStep(runs, RigAct.Run));
            steps.Add(new RigStep(programme, RigAct.Programme));
            steps.Add(new RigStep(bars, RigAct.Bars));
            steps.Add(new RigStep(bars + 40, RigAct.Stop));
            steps.Add(new RigStep(bars + 55, RigAct.Unthread));
            tapes.Add(new NightTape(runs + 10, bars));
            now = bars + 60;
            double pause = random.Between(120, 480);
            double rest = random.Unit();
            if (rest < 0.5)
            {
                // The wheel runs down on its bearing before anything is shut.
                wheelTurns = false;
                steps.Add(new RigStep(now, RigAct.WheelOff));
                bool airOff = rest < 0.15;
                steps.Add(new RigStep(now + 40, airOff ? RigAct.AirOff : RigAct.VenturiOff));
                now += 40 + pause;
                steps.Add(new RigStep(now, airOff ? RigAct.AirOn : RigAct.VenturiOn));
                now += 20;
            }
            else
            {
                now += pause;
            }
        }

        return ([.. steps.Where(step => step.AtSeconds < length).OrderBy(step => step.AtSeconds)], tapes);
    }

    /// <summary>The tape that is on at a second of a night, as the rig draws it from the seed.</summary>
    public static RigTape TapeAt(ulong seed, IReadOnlyList<RigStep> steps, double seconds)
    {
        RigRandom tapes = RigRandom.Stream(seed, "tapes");
        return steps.Where(step => step.Act == RigAct.NextTape && step.AtSeconds <= seconds).Aggregate(RigTape.First, (_, _) => RigTape.Draw(tapes));
    }

    public static RigScript Script(IReadOnlyList<RigStep> steps, IReadOnlyList<RigFault> faults, double length) => new()
    {
        Name = "night", Title = "A night", Steps = steps, Faults = faults, LengthSeconds = length,
    };
}
