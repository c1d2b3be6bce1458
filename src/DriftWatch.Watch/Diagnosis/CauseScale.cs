using DriftWatch.Measurement.Time;

namespace DriftWatch.Watch.Diagnosis;

/// <summary>What was seen of one subject.</summary>
/// <param name="IsSeen">False where the bench has no channel for it or it is silent: it then says nothing for or against.</param>
/// <param name="Value">Off its baseline, in tolerances, up positive.</param>
/// <param name="Noise">Standard deviation that noise alone gives the value, in tolerances.</param>
/// <param name="Direction">Which way it moved; still while that is not sure.</param>
/// <param name="Pace">How quickly; only meaningful when it moved.</param>
/// <param name="Onset">When it began to move; only meaningful when it moved.</param>
internal readonly record struct Observation(bool IsSeen, double Value, double Noise, Direction Direction, Pace Pace = default, EngineTime Onset = default)
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
/// Weighs causes against what was seen, by Bayes' rule with all causes alike beforehand. Under a cause of strength s a
/// subject stands at s times its share, and where the row does not name it at its baseline; around that it scatters by
/// its unrest, its noise, and the spread of the share, as Student's t with five degrees of freedom, because real
/// deviations have longer tails than the normal. One subject in twenty does something else altogether. The strength is
/// integrated out, evenly over its logarithm from where drifts begin to be seen to five tolerances. 'Unknown' is a
/// candidate under which any subject may have moved. Pure.
/// </summary>
internal static class CauseScale
{
    // Source: common practice, no source.
    private const double SomethingElse = 0.05;

    // Under 'unknown' this share of the subjects has moved, anywhere. Source: common practice, no source.
    private const double MovedUnknown = 0.15;

    // How often a subject moves that a cause leaves to chance. Source: common practice, no source.
    private const double MovedByChance = 0.2;

    // A cause that explains nothing of what was said, or of which nothing has moved, is hardly the cause. Source: common practice, no source.
    private const double ExplainsNothing = 0.02;
    private const double ShowsNothing = 0.02;

    // Deviations off the baseline from which a subject counts as moved though it is not sure. Source: derived, one in twenty of normal noise.
    private const double Moved = 2;

    // The subject that should move first did, or another did before it. Source: common practice, no source.
    private const double CameFirst = 1.3;
    private const double CameLater = 0.6;

    // Beyond this how far something is out tells nothing more. Source: common practice, no source.
    private const double Farthest = 6;

    // What comes within this time came together. Source: derived, the slowest ordinary sampling period and the mean that follows it.
    private static readonly TimeSpan Together = TimeSpan.FromSeconds(2);

    // In tolerances of the row's scale. Source: derived, from a third of what a drift is raised at to the limit of what gauges show.
    private static readonly double[] Strengths = [.. Enumerable.Range(0, 28).Select(i => 0.08 * Math.Pow(5 / 0.08, i / 27.0))];

    // What comes at once is there in full soon after: at least half a tolerance. Source: common practice, no source.
    private static readonly TimeSpan InFullAfter = TimeSpan.FromSeconds(3);
    private static readonly int FirstInFull = Array.FindIndex(Strengths, s => s >= 0.5);

    // ln Γ(3) − ln Γ(2.5) − ln √(5π) for five degrees of freedom, and the same for two.
    private static readonly double Five = Math.Log(2 / 1.329340388179137 / Math.Sqrt(5 * Math.PI));
    private static readonly double Two = Math.Log(1 / (2 * Math.Sqrt(2)));

    /// <summary>The candidates, most probable first; 'unknown' is among them. Probabilities sum to 1.</summary>
    /// <param name="signatures">The causes that come into question.</param>
    /// <param name="seen">What was seen of a subject.</param>
    /// <param name="now">When that was.</param>
    /// <param name="said">The subjects that findings are about; empty when that is not known.</param>
    public static List<Candidate> Weigh(IReadOnlyList<Signature> signatures, Func<string, Observation> seen, EngineTime now, IReadOnlyCollection<string> said)
    {
        (string Subject, Observation Seen)[] all = [.. Subjects.All.Select(s => (s, seen(s))).Where(p => p.Item2.IsSeen)];
        EngineTime earliest = all.Where(p => p.Seen.Direction != Direction.Still).Select(p => p.Seen.Onset).DefaultIfEmpty(EngineTime.MaxValue).Min();
        double[] logs = [.. signatures.Select(s => Log(s, all, earliest, now) + (said.Count == 0 || said.Any(s.AccountsFor) ? 0 : Math.Log(ExplainsNothing)) + (Shows(s, all) ? 0 : Math.Log(ShowsNothing))), LogOfUnknown(all)];
        double highest = logs.Max();
        double[] weights = [.. logs.Select(l => Math.Exp(l - highest))];
        double sum = weights.Sum();

        // A stable order for equal ones, so that live and replay agree: the table's.
        return [.. weights.Select((w, i) => new Candidate(i < signatures.Count ? signatures[i] : null, w / sum)).OrderByDescending(c => c.Probability)];
    }

    private static bool Shows(Signature signature, (string Subject, Observation Seen)[] all) =>
        all.Any(p => (p.Seen.Direction != Direction.Still || Math.Abs(p.Seen.Value) > Moved * Deviation(p.Subject, p.Seen)) && signature.Clues.Any(c => c.Subject == p.Subject));

    /// <summary>Logarithm of how likely what was seen is under a cause.</summary>
    private static double Log(Signature signature, (string Subject, Observation Seen)[] all, EngineTime earliest, EngineTime now)
    {
        double fixedPart = 0;
        var moving = new List<(Clue Clue, Observation Seen, double Unrest)>();
        bool eitherWay = false;
        int weakest = 0;
        foreach ((string subject, Observation seen) in all)
        {
            double unrest = Deviation(subject, seen);
            if (signature.LeftToChance.Contains(subject))
            {
                fixedPart += Mixed(Clipped(seen), unrest, MovedByChance);
            }
            else if (signature.Clues.FirstOrDefault(c => c.Subject == subject) is { } clue)
            {
                moving.Add((clue, seen, unrest));
                eitherWay |= clue.EitherWay;
            }
            else
            {
                fixedPart += Mixed(Clipped(seen), unrest, SomethingElse);
            }

            if (subject == signature.First && seen.Direction != Direction.Still)
            {
                weakest = seen.Pace == Pace.Sudden && now - seen.Onset >= InFullAfter ? FirstInFull : 0;
                fixedPart += Math.Log(signature.Paces.Of(seen.Pace)) + Math.Log(seen.Onset - earliest <= Together ? CameFirst : CameLater);
            }
        }

        if (moving.Count == 0)
        {
            return double.NegativeInfinity; // a cause of which nothing can be seen is none
        }

        double sum = 0;
        double highest = double.NegativeInfinity;
        var logs = new List<double>(2 * Strengths.Length);
        foreach (double way in eitherWay ? [1.0, -1.0] : (ReadOnlySpan<double>)[1.0])
        {
            foreach (double strength in Strengths.AsSpan(weakest))
            {
                double log = 0;
                foreach ((Clue clue, Observation seen, double unrest) in moving)
                {
                    double expected = Math.Clamp(strength * clue.Share * (clue.EitherWay ? way : 1), -Farthest, Farthest);
                    double spread = clue.Spread * expected;
                    log += Mixed(Clipped(seen), expected, Math.Sqrt((unrest * unrest) + (spread * spread)), SomethingElse);
                }

                logs.Add(log);
                highest = Math.Max(highest, log);
            }
        }

        foreach (double log in logs)
        {
            sum += Math.Exp(log - highest);
        }

        return fixedPart + highest + Math.Log(sum / logs.Count);
    }

    private static double LogOfUnknown((string Subject, Observation Seen)[] all)
    {
        double log = 0;
        foreach ((string subject, Observation seen) in all)
        {
            log += Mixed(Clipped(seen), Deviation(subject, seen), MovedUnknown);
        }

        return log;
    }

    private static double Deviation(string subject, in Observation seen)
    {
        double unrest = Subjects.UnrestOf(subject);
        return Math.Sqrt((unrest * unrest) + (seen.Noise * seen.Noise));
    }

    private static double Clipped(in Observation seen) => Math.Clamp(seen.Value, -Farthest, Farthest);

    private static double Mixed(double value, double deviation, double elsewhere) => Mixed(value, 0, deviation, elsewhere);

    /// <summary>Logarithm of the density where it is expected, mixed with that of being anywhere.</summary>
    private static double Mixed(double value, double expected, double deviation, double elsewhere)
    {
        double x = (value - expected) / deviation;
        double there = Five - Math.Log(deviation) - (3 * Math.Log(1 + (x * x / 5)));
        double anywhere = Two - (1.5 * Math.Log(1 + (value * value / 2)));
        return Math.Log(((1 - elsewhere) * Math.Exp(there)) + (elsewhere * Math.Exp(anywhere)));
    }
}
