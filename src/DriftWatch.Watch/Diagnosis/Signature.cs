namespace DriftWatch.Watch.Diagnosis;

/// <summary>
/// One line of a signature: how far the cause moves a subject while it moves its first subject by that one's share. Shares
/// of one row are in proportion; the cause's strength scales them all.
/// </summary>
/// <param name="Subject">A role, a derived quantity or one of <see cref="Subjects"/>, by its slug.</param>
/// <param name="Share">In tolerances of the subject, up positive.</param>
/// <param name="Spread">How far from machine to machine the proportion differs: a standard deviation as a share of it.</param>
/// <param name="EitherWay">Up or down: a guide can be moved either way.</param>
internal sealed record Clue(string Subject, double Share, double Spread = 0.3, bool EitherWay = false);

/// <summary>How often a cause comes at each pace, as weights.</summary>
internal readonly record struct PaceOdds(double Sudden, double Quick, double Slow)
{
    /// <summary>Over what it would be if every pace came as often.</summary>
    public double Of(Pace pace) => 3 * (pace switch { Pace.Sudden => Sudden, Pace.Quick => Quick, _ => Slow }) / (Sudden + Quick + Slow);
}

/// <summary>
/// How one cause shows itself, what else it could be taken for, and what to do first. Data, not code: a new cause is a
/// new row, and every row says where it comes from. What a row does not name stays still.
/// </summary>
internal sealed record Signature
{
    /// <summary>A slug; stands in the finding's cause.</summary>
    public required string Cause { get; init; }

    /// <summary>For people, to follow 'probably': "head {head} is clogged", where the number of the head that is lowest is put in.</summary>
    public required string Words { get; init; }

    /// <summary>What the engineer should do first, in one sentence.</summary>
    public required string FirstAction { get; init; }

    /// <summary>Where directions and company come from.</summary>
    public required string Source { get; init; }

    /// <summary>What moves, the subject that moves first before all.</summary>
    public required IReadOnlyList<Clue> Clues { get; init; }

    /// <summary>Subjects that it may disturb or leave alone.</summary>
    public IReadOnlyList<string> LeftToChance { get; init; } = [];

    /// <summary>At which pace its first subject moves; all alike unless said.</summary>
    public PaceOdds Paces { get; init; } = new(1, 1, 1);

    /// <summary>The tape is gone from the heads: whatever is read of it means nothing and is explained.</summary>
    public bool TakesThePicture { get; init; }

    /// <summary>When it goes on it takes the regulated air, and with it all that hangs on it: that is explained, though no evidence for it.</summary>
    public bool TakesTheAir { get; init; }

    /// <summary>The subject that moves first.</summary>
    public string First => Clues[0].Subject;

    /// <summary>True when this cause explains that the subject moves.</summary>
    public bool Explains(string subject)
    {
        if (Subjects.Behind(subject) is { Count: > 0 } behind)
        {
            return behind.Any(Names);
        }

        return Names(subject);
    }

    /// <summary>
    /// True when a finding about the subject can be the first of this cause. Where the picture is gone anything may be read
    /// of it, but it is not by that that one knows.
    /// </summary>
    public bool AccountsFor(string subject) => TakesThePicture
        ? Clues.Any(c => c.Subject == subject || Subjects.Behind(subject).Contains(c.Subject))
        : Explains(subject);

    private bool Names(string subject) => Clues.Any(c => c.Subject == subject) || LeftToChance.Contains(subject);
}
