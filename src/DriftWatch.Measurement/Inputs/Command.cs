using System.Text.Json.Serialization;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Transfers;

namespace DriftWatch.Measurement.Inputs;

/// <summary>
/// What a person did that judgement must know, or what the service has to say of its own store and mirrors. It enters at the front as one more input.
/// </summary>
[JsonPolymorphic(TypeDiscriminatorPropertyName = "command")]
[JsonDerivedType(typeof(AcknowledgeCommand), "acknowledge")]
[JsonDerivedType(typeof(ShelveCommand), "shelve")]
[JsonDerivedType(typeof(BaselineCommand), "baseline")]
[JsonDerivedType(typeof(MarkCommand), "mark")]
[JsonDerivedType(typeof(PassBeginsCommand), "pass-begins")]
[JsonDerivedType(typeof(PassEndsCommand), "pass-ends")]
[JsonDerivedType(typeof(UnshelveCommand), "unshelve")]
[JsonDerivedType(typeof(OutOfServiceCommand), "out-of-service")]
[JsonDerivedType(typeof(InServiceCommand), "in-service")]
[JsonDerivedType(typeof(EntryCommand), "entry")]
[JsonDerivedType(typeof(StoreFailsCommand), "store-fails")]
[JsonDerivedType(typeof(StoreTakesCommand), "store-takes")]
[JsonDerivedType(typeof(MirrorFailsCommand), "mirror-fails")]
[JsonDerivedType(typeof(MirrorTakesCommand), "mirror-takes")]
[JsonDerivedType(typeof(GoesOnCommand), "goes-on")]
public abstract record Command
{
    /// <summary>Who acts where the service itself has something to say.</summary>
    public const string TheService = "DriftWatch";

    /// <summary>The <see cref="Identity"/> of what the service says itself.</summary>
    public const string IdentityOfTheService = "service";

    /// <summary>UUID version 7, made where the person acted.</summary>
    public required Guid Id { get; init; }

    /// <summary>The name as declared or signed in.</summary>
    public required string By { get; init; }

    /// <summary>"declared" on loopback, else how the person signed in.</summary>
    public string Identity { get; init; } = "declared";

    public string? Note { get; init; }
}

/// <summary>A person answers for an alarm, or has seen a finding.</summary>
public sealed record AcknowledgeCommand : Command
{
    /// <summary>Id of the alarm, its tag, or the id of a finding that belongs to it.</summary>
    public required string Finding { get; init; }
}

/// <summary>A person wants no more of an alarm, or of a finding, for a while.</summary>
public sealed record ShelveCommand : Command
{
    /// <summary>Id of the alarm, its tag, or the id of a finding that belongs to it.</summary>
    public required string Finding { get; init; }

    /// <summary>Longer than zero.</summary>
    public required TimeSpan For { get; init; }

    /// <summary>It comes off its shelf when it is over, if that is before the time is.</summary>
    public bool UntilOver { get; init; }
}

/// <summary>A person wants to hear of a shelved alarm again.</summary>
public sealed record UnshelveCommand : Command
{
    /// <summary>Id of the alarm, its tag, or the id of a finding that belongs to it.</summary>
    public required string Finding { get; init; }
}

/// <summary>A person takes an alarm, or all that a channel gives rise to, out of service until he puts it back.</summary>
public sealed record OutOfServiceCommand : Command
{
    /// <summary>The alarm's tag (<c>kind.subject</c>) or the channel's id.</summary>
    public required string Subject { get; init; }
}

public sealed record InServiceCommand : Command
{
    /// <summary>As it was taken out.</summary>
    public required string Subject { get; init; }
}

/// <summary>Take the present values of every channel as this tape's baseline.</summary>
public sealed record BaselineCommand : Command
{
    /// <summary>A baseline taken by the machine holds until a person confirms or replaces it.</summary>
    public bool Provisional { get; init; }
}

/// <summary>A remark tied to the instant.</summary>
public sealed record MarkCommand : Command;

public sealed record PassBeginsCommand : Command
{
    public required string Transfer { get; init; }
}

public sealed record PassEndsCommand : Command
{
    public required string Transfer { get; init; }
}

/// <summary>
/// The store takes nothing: said by the service itself, once it has lasted. It is judged at once and held in memory as
/// readings are, and stands in the log between those of its time once the store takes them.
/// </summary>
public sealed record StoreFailsCommand : Command
{
    /// <summary>Trouble that is over before this is not worth a person. Source: common practice, no source.</summary>
    public static readonly TimeSpan WorthSaying = TimeSpan.FromSeconds(5);

    /// <summary>How long the store has taken nothing by now; longer than zero.</summary>
    public required TimeSpan For { get; init; }

    /// <summary>The kind of trouble as a slug, such as <c>disk-full</c>.</summary>
    public required string Trouble { get; init; }

    /// <summary>A sentence for people.</summary>
    public required string Text { get; init; }
}

/// <summary>The store that was said to fail takes what it is given, and has taken all that memory held.</summary>
public sealed record StoreTakesCommand : Command
{
    /// <summary>Inputs that waited in memory and are stored now.</summary>
    public required long Held { get; init; }

    /// <summary>Readings of this trouble that memory had no room for: they are lost. 0 where none are.</summary>
    public required long Lost { get; init; }
}

/// <summary>A server that is to be kept level with the store is not: said by the service itself. But for <c>lines-expired</c> nothing is lost here by it.</summary>
public sealed record MirrorFailsCommand : Command
{
    /// <summary>The mirror's id in the bench file.</summary>
    public required string Mirror { get; init; }

    /// <summary>How long it has been so by now; zero or longer.</summary>
    public required TimeSpan For { get; init; }

    /// <summary>How long it may be behind by the bench file; null where it does not keep what it takes.</summary>
    public TimeSpan? May { get; init; }

    /// <summary>The kind of trouble as a slug: <c>behind</c>, <c>lines-missing</c>, <c>lines-refused</c>, <c>lines-expired</c>.</summary>
    public required string Trouble { get; init; }

    /// <summary>A sentence for people.</summary>
    public required string Text { get; init; }
}

/// <summary>The mirror that was said to fail is level with what is new again, or is a mirror no more.</summary>
public sealed record MirrorTakesCommand : Command
{
    /// <summary>The mirror's id in the bench file.</summary>
    public required string Mirror { get; init; }

    /// <summary>Older inputs of the log that are still to be sent; null where the bench file has no such mirror any more.</summary>
    public long? Older { get; init; }
}

/// <summary>
/// What a stretch from the middle of a log is lent of the tape: its pass and its baselines, which were entered and taken before the
/// stretch. Nobody enters it, and no log has it but a stretch that was written out by itself; where judging begins anew it comes before the first input.
/// </summary>
public sealed record GoesOnCommand : Command
{
    /// <summary>What opened the pass that goes on, or began its run; null where none does.</summary>
    public EntryCommand? Pass { get; init; }

    /// <summary>Those that still hold, oldest first: of a channel that is in several the last counts.</summary>
    public IReadOnlyList<TakenBaseline> Baselines { get; init; } = [];
}
