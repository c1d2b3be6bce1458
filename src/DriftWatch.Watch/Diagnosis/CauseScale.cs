using DriftWatch.Measurement.Time;

namespace DriftWatch.Watch.Diagnosis;

/// <summary>What was seen of one subject.</summary>
/// <param name="IsSeen">False where the bench has no channel for it or it is silent: it then says nothing for or against.</param>
/// <param name="Direction">Which way it moved.</param>
/// <param name="Pace">How quickly; only meaningful when it moved.</param>
/// <param name="Onset">When it began to move; only meaningful when it moved.</param>
internal readonly record struct Observation(bool IsSeen, Direction Direction, Pace Pace = default, EngineTime Onset = default)
{
    public static Observation Unseen => default;
}

/// <summary>A cause and how probable it is.</summary>
internal readonly record struct Candidate(Signature? Signature, double Probability)
{
    /// <summary>The slug; 'unknown' is an answer.</summary>
    public string Cause => Signature?.Cause ?? Unknown;

    public const string Unknown = "unknown";
}

/// <summary>
/// Weighs causes against what was seen: Bayes' rule with the clues of a signature taken as independent, each against what
/// a subject does when the cause has nothing to do with it. 'Unknown' is a candidate without clues. A clue that is not
/// seen yet counts for little while the fault is weak, because what follows at a fixed ratio is then below its noise.
/// Pure.
/// </summary>
internal static class CauseScale
{
    // What a subject does in a time of trouble that is not of its making. Source: common practice, no source.
    private const double MovesAnyway = 0.15;
    private const double StillAnyway = 1 - (2 * MovesAnyway);

    // A pace of three that is not as expected, by how far off. Source: common practice, no source.
    private static readonly double[] PaceFit = [0.75, 0.22, 0.03];

    // The subject that should move first did, or another did before it. Source: common practice, no source.
    private const double CameFirst = 1.6;
    private const double CameLater = 0.5;

    // 'Unknown' has to be beaten by this factor. Source: common practice, no source.
    private const double UnknownWeight = 3;

    // What comes within this time came together. Source: derived, the slowest ordinary sampling period and the mean that follows it.
    private static readonly TimeSpan Together = TimeSpan.FromSeconds(2);

    /// <summary>The candidates, most probable first; 'unknown' is among them. Probabilities sum to 1.</summary>
    /// <param name="signatures">The causes that come into question.</param>
    /// <param name="seen">What was seen of a subject.</param>
    /// <param name="strength">Of what is most out of tolerance, 1 at its limit.</param>
    public static List<Candidate> Weigh(IReadOnlyList<Signature> signatures, Func<string, Observation> seen, double strength)
    {
        EngineTime earliest = EngineTime.MaxValue;
        foreach (Signature signature in signatures)
        {
            foreach (Clue clue in signature.Clues)
            {
                Observation observation = seen(clue.Subject);
                if (observation is { IsSeen: true, Direction: not Direction.Still } && observation.Onset < earliest)
                {
                    earliest = observation.Onset;
                }
            }
        }

        var weights = new double[signatures.Count];
        double unknown = signatures.All(s => s.SpeaksForItself) ? UnknownWeight / 10 : UnknownWeight;
        double sum = unknown;
        for (int i = 0; i < weights.Length; i++)
        {
            weights[i] = Likelihood(signatures[i], seen, Math.Clamp(strength, 0, 1), earliest);
            sum += weights[i];
        }

        var candidates = new List<Candidate>(weights.Length + 1);
        for (int i = 0; i < weights.Length; i++)
        {
            candidates.Add(new Candidate(signatures[i], weights[i] / sum));
        }

        candidates.Add(new Candidate(null, unknown / sum));

        // A stable order for equal ones, so that live and replay agree: the table's.
        return [.. candidates.Select((c, place) => (c, place)).OrderByDescending(p => p.c.Probability).ThenBy(p => p.place).Select(p => p.c)];
    }

    /// <summary>How much more likely what was seen is under this cause than without it.</summary>
    private static double Likelihood(Signature signature, Func<string, Observation> seen, double strength, EngineTime earliest)
    {
        double ratio = 1;
        bool any = false;
        foreach (Clue clue in signature.Clues)
        {
            Observation observation = seen(clue.Subject);
            if (!observation.IsSeen)
            {
                continue;
            }

            any |= observation.Direction != Direction.Still && clue.Expected != Expected.Still;
            ratio *= Of(clue, observation, strength);
            if (clue.Subject == signature.First && observation.Direction != Direction.Still)
            {
                ratio *= observation.Onset - earliest <= Together ? CameFirst : CameLater;
            }
        }

        return any ? ratio : 0; // a cause of which nothing is seen is none
    }

    private static double Of(Clue clue, Observation observation, double strength)
    {
        bool moved = observation.Direction != Direction.Still;
        if (clue.Expected == Expected.Still)
        {
            return moved ? (1 - clue.Likelihood) / 2 / MovesAnyway : clue.Likelihood / StillAnyway;
        }

        // Seen in full from the limit on; a quarter of it at the first sign.
        double showing = clue.Likelihood * (0.25 + (0.75 * strength));
        if (!moved)
        {
            return (1 - showing) / StillAnyway;
        }

        bool asExpected = clue.Expected == Expected.Moved
            || (clue.Expected == Expected.Up ? observation.Direction == Direction.Up : observation.Direction == Direction.Down);
        if (!asExpected)
        {
            return 0.1 * (1 - clue.Likelihood) / MovesAnyway;
        }

        double direction = clue.Expected == Expected.Moved ? showing / (2 * MovesAnyway) : showing / MovesAnyway;
        double pace = clue.Pace is { } expected ? PaceFit[Math.Abs((int)expected - (int)observation.Pace)] * 3 : 1;
        return direction * pace;
    }
}
