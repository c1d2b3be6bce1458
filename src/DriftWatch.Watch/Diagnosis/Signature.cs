namespace DriftWatch.Watch.Diagnosis;

/// <summary>What a cause does to one subject.</summary>
internal enum Expected
{
    Up,
    Down,

    /// <summary>Up or down: a guide can be moved either way.</summary>
    Moved,

    /// <summary>It stays where it was; as telling as a movement.</summary>
    Still,
}

/// <summary>One line of a signature: what is expected of a subject, how surely, and how quickly.</summary>
/// <param name="Subject">A role, a derived quantity or one of <see cref="Subjects"/>, by its slug.</param>
/// <param name="Expected">What the cause does to it.</param>
/// <param name="Likelihood">How often it is so when this is the cause, once the cause is strong enough to be seen: 0 to 1.</param>
/// <param name="Pace">How quickly; null where it may be any.</param>
internal sealed record Clue(string Subject, Expected Expected, double Likelihood, Pace? Pace = null)
{
    // How surely a clue is so, in three steps. Source: common practice, no source.
    public const double Always = 0.95;
    public const double Mostly = 0.8;
    public const double Often = 0.6;

    /// <summary>It stays where it was, but something else may move it meanwhile.</summary>
    public static Clue Still(string subject) => new(subject, Expected.Still, 0.9);

    /// <summary>If it has moved, this is hardly the cause.</summary>
    public static Clue Never(string subject) => new(subject, Expected.Still, 0.98);
}

/// <summary>
/// How one cause shows itself, what else it could be taken for, and what to do first. Data, not code: a new cause is a
/// new row, and every row says where it comes from.
/// </summary>
internal sealed record Signature
{
    /// <summary>A slug; stands in the finding's cause.</summary>
    public required string Cause { get; init; }

    /// <summary>For people, to follow 'probably': "head {head} is clogged", where the number of the head that is lowest is put in.</summary>
    public required string Words { get; init; }

    /// <summary>What the engineer should do first, in one sentence.</summary>
    public required string FirstAction { get; init; }

    /// <summary>Where the signature comes from.</summary>
    public required string Source { get; init; }

    /// <summary>The subject that moves first, where the cause has one.</summary>
    public string? First { get; init; }

    public required IReadOnlyList<Clue> Clues { get; init; }

    /// <summary>What is said is the cause already, so there is little for 'unknown' to claim.</summary>
    public bool SpeaksForItself { get; init; }

    /// <summary>The tape is gone from the heads: whatever is read of it means nothing and is explained.</summary>
    public bool TakesThePicture { get; init; }

    /// <summary>True when this cause explains that the subject moves.</summary>
    public bool Explains(string subject)
    {
        foreach (Clue clue in Clues)
        {
            if (clue.Subject == subject && clue.Expected != Expected.Still)
            {
                return true;
            }
        }

        return false;
    }
}

/// <summary>Subjects that are neither a role nor a quantity but several of them seen together.</summary>
internal static class Subjects
{
    /// <summary>Exactly one head's RF is down.</summary>
    public const string OneHead = "one-head";

    /// <summary>The RF of every head that is read is down.</summary>
    public const string AllHeads = "all-heads";

    /// <summary>A channel gives faults or nothing at all.</summary>
    public const string Readings = "readings";

    /// <summary>The regulated air dipped and came back.</summary>
    public const string AirSag = "air-sag";

    public static IReadOnlyList<string> All { get; } = [OneHead, AllHeads, Readings, AirSag];
}
