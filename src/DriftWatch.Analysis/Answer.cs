namespace DriftWatch.Analysis;

/// <summary>What was missing for an answer: what is counted, how much there was and how much is needed, both in that count's unit.</summary>
/// <param name="What">What is counted, as a plural noun: 'points', 'independent points', 'crossings', 's of record'.</param>
/// <param name="Has">How much there was.</param>
/// <param name="Needs">The least that allows an answer.</param>
public sealed record Shortfall(string What, double Has, double Needs)
{
    public override string ToString() =>
        string.Create(System.Globalization.CultureInfo.InvariantCulture, $"not enough data: {Has:0.###} of {Needs:0.###} {What}");
}

/// <summary>
/// A value, or 'not enough data' with what is needed. Analysis answers so wherever data, not the caller, are at fault: never
/// NaN, never an exception, never a number that means nothing. Programmer errors throw <see cref="ArgumentException"/>.
/// </summary>
/// <typeparam name="T">What is answered.</typeparam>
public readonly record struct Answer<T>
{
    private readonly T _value;

    private Answer(T value, Shortfall? missing) => (_value, Missing) = (value, missing);

    /// <summary>What was missing; null where there is a value.</summary>
    public Shortfall? Missing { get; }

    public bool IsKnown => Missing is null;

    /// <exception cref="InvalidOperationException">There is none: ask <see cref="IsKnown"/> first.</exception>
    public T Value => Missing is null ? _value : throw new InvalidOperationException(Missing.ToString());

    public static implicit operator Answer<T>(T value) => new(value, null);

    public static implicit operator Answer<T>(Shortfall missing) => new(default!, missing);

    public override string ToString() => Missing?.ToString() ?? _value?.ToString() ?? string.Empty;
}
