using System.Text.Json.Serialization;

namespace DriftWatch.Measurement.Inputs;

/// <summary>What a person did that judgement must know. It enters at the front as one more input.</summary>
[JsonPolymorphic(TypeDiscriminatorPropertyName = "command")]
[JsonDerivedType(typeof(AcknowledgeCommand), "acknowledge")]
[JsonDerivedType(typeof(ShelveCommand), "shelve")]
[JsonDerivedType(typeof(BaselineCommand), "baseline")]
[JsonDerivedType(typeof(MarkCommand), "mark")]
[JsonDerivedType(typeof(PassBeginsCommand), "pass-begins")]
[JsonDerivedType(typeof(PassEndsCommand), "pass-ends")]
public abstract record Command
{
    /// <summary>UUID version 7, made where the person acted.</summary>
    public required Guid Id { get; init; }

    /// <summary>The name as declared or signed in.</summary>
    public required string By { get; init; }

    /// <summary>"declared" on loopback, else how the person signed in.</summary>
    public string Identity { get; init; } = "declared";

    public string? Note { get; init; }
}

/// <summary>A person has seen the finding.</summary>
public sealed record AcknowledgeCommand : Command
{
    public required string Finding { get; init; }
}

/// <summary>A person wants no more of the finding for a while.</summary>
public sealed record ShelveCommand : Command
{
    public required string Finding { get; init; }

    public required TimeSpan For { get; init; }
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
