namespace DriftWatch.Transfers;

/// <summary>
/// An act as a person, the page or a script sends it; what the readings say is added here and can't be sent.
/// <c>Kind</c> (see <see cref="Measurement.Transfers.EntryBody.Kinds"/>) says which fields count. <c>Id</c> is a UUID of
/// version 7 made where the person acted: sent again after a lost answer, it is entered once. <c>Transfer</c> and
/// <c>Pass</c> default to the pass in hand.
/// </summary>
internal sealed record EntryRequest
{
    public string? Kind { get; init; }

    public Guid? Id { get; init; }

    public string? By { get; init; }

    /// <summary>RFC 3339; default now.</summary>
    public string? About { get; init; }

    public string? Note { get; init; }

    public Guid? Transfer { get; init; }

    public Guid? Pass { get; init; }

    /// <summary>Of tape-described (default: a new tape) and transfer-opened.</summary>
    public Guid? Tape { get; init; }

    public string? Identifier { get; init; }

    public string? Title { get; init; }

    public string? Standard { get; init; }

    /// <summary>unknown, low-band-monochrome, low-band-colour, high-band, super-high-band.</summary>
    public string? Band { get; init; }

    public double? SpeedInchesPerSecond { get; init; }

    public string? Carrier { get; init; }

    public string? Condition { get; init; }

    public string? PreviousPasses { get; init; }

    /// <summary>Of check-signed: key of the item.</summary>
    public string? Check { get; init; }

    /// <summary>done, not-done, does-not-apply.</summary>
    public string? Answer { get; init; }

    public double? Value { get; init; }

    /// <summary>Of line-up-step: key of the step.</summary>
    public string? Step { get; init; }

    /// <summary>False where the step was left out.</summary>
    public bool? Done { get; init; }

    /// <summary>As a person read it off; of what a channel or quantity reads, <c>beforeAt</c> names the instant.</summary>
    public double? Before { get; init; }

    /// <summary>RFC 3339: when <c>readBy</c> read the value before, as the line-up's readings told it; the service looks it up.</summary>
    public string? BeforeAt { get; init; }

    public double? After { get; init; }

    /// <summary>
    /// The channel or quantity, one of the step's, that read both; none where a person read them off. Where <c>after</c> is left out, a
    /// service that samples takes what it reads now, and any what a channel had read where <c>about</c> is an instant that was.
    /// </summary>
    public string? ReadBy { get; init; }

    public string? Turned { get; init; }

    /// <summary>Of run-began: what the counter stands at, where no channel tells it.</summary>
    public double? StartSeconds { get; init; }

    /// <summary>sound, sound-with-remarks, run-again; default: what the rules come to.</summary>
    public string? Verdict { get; init; }

    /// <summary>Of note: a mark by one key.</summary>
    public bool? Mark { get; init; }

    /// <summary>Of note: true where it belongs to the shift alone, even while a pass is in hand.</summary>
    public bool? Shift { get; init; }

    /// <summary>Of shift-handed-over: who takes over; who signs hands over.</summary>
    public string? To { get; init; }
}

/// <summary>Why a request can't be entered.</summary>
/// <param name="Field">The field, where one is to blame.</param>
/// <param name="What">One sentence.</param>
/// <param name="Remedy">One sentence.</param>
internal sealed record EntryProblem(string? Field, string What, string Remedy);

/// <summary>What became of a request: an entry that is journaled, or why not.</summary>
/// <param name="Entry">As it stands in the book.</param>
/// <param name="Input">Number of its input; 0 where it had been entered before.</param>
/// <param name="Problem">Null where it was entered.</param>
internal sealed record EntryOutcome(Measurement.Transfers.EntryCommand? Entry, long Input, EntryProblem? Problem);
