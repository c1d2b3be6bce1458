using System.Globalization;

namespace DriftWatch.Measuring;

/// <summary>What a measurement must be told beside its numbers was told wrong.</summary>
internal sealed class FieldException(string name, string what, string remedy) : Exception($"{name}: {what} {remedy}")
{
    /// <summary>As the command line writes it, without dashes in front: <c>receiver-litres</c>.</summary>
    public string Field => name;

    public string What => what;

    public string Remedy => remedy;
}

/// <summary>A number that a measurement takes, within bounds: an option of the command line and a field of the API.</summary>
/// <param name="Name">Words with dashes.</param>
/// <param name="Least">Inclusive.</param>
/// <param name="Greatest">Inclusive.</param>
/// <param name="Standard">What holds without it; null where it must be given, or where nothing holds.</param>
internal sealed record NumberField(string Name, double Least, double Greatest, double? Standard = null)
{
    public string Allowed => string.Create(CultureInfo.InvariantCulture, $"a number from {Least} to {Greatest}");

    public bool Allows(double value) => value >= Least && value <= Greatest;

    /// <exception cref="FieldException">It is out of bounds.</exception>
    public double? Optional(double? value) => value is { } given && !Allows(given)
        ? throw new FieldException(Name, string.Create(CultureInfo.InvariantCulture, $"{given} is out of bounds."), $"Give {Allowed}.")
        : value;

    /// <exception cref="FieldException">It is out of bounds, or missing and has no standard.</exception>
    public double Of(double? value) => Optional(value) ?? Standard ?? throw new FieldException(Name, "It is missing.", $"Give {Allowed}.");
}

/// <summary>One of a few words that a measurement takes.</summary>
/// <typeparam name="T">What a word means.</typeparam>
/// <param name="Name">Words with dashes.</param>
/// <param name="Standard">What holds without it; null where it must be given.</param>
/// <param name="Among">The words and what each means.</param>
internal sealed record ChoiceField<T>(string Name, string? Standard, params IReadOnlyList<(string Word, T Means)> Among)
{
    public string[] Words => [.. Among.Select(a => a.Word)];

    /// <exception cref="FieldException">It is none of the words, or missing and has no standard.</exception>
    public T Of(string? word)
    {
        foreach ((string known, T means) in Among)
        {
            if (known == (word ?? Standard))
            {
                return means;
            }
        }

        throw new FieldException(Name, word is null ? "It is missing." : $"'{word}' is none of the words.", $"Write {string.Join(", ", Words)}.");
    }

    public string WordOf(T meaning) => Among.First(a => EqualityComparer<T>.Default.Equals(a.Means, meaning)).Word;
}
