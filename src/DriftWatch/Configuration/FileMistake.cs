namespace DriftWatch.Configuration;

/// <summary>
/// One mistake in a file a person wrote: where it is, what is wrong and what to write instead. Line and column count
/// from 1. Printed as <c>file(line,col): what; remedy</c>, the form that editors turn into a link.
/// </summary>
public sealed record FileMistake(string File, int Line, int Column, string What, string Remedy)
{
    public override string ToString() => $"{File}({Line},{Column}): {What}; {Remedy}";
}

/// <summary>Gathers the mistakes of one load; nothing stops at the first.</summary>
internal sealed class MistakeList
{
    private readonly List<FileMistake> _mistakes = [];

    public int Count => _mistakes.Count;

    public void Add(string file, int line, int column, string what, string remedy) =>
        _mistakes.Add(new FileMistake(file, line, column, what, remedy));

    public void Add(FileMistake mistake) => _mistakes.Add(mistake);

    /// <summary>In reading order, the first file first; one mistake is said once.</summary>
    public IReadOnlyList<FileMistake> InReadingOrder(string firstFile) =>
    [
        .. _mistakes.Distinct()
            .OrderBy(m => !string.Equals(m.File, firstFile, StringComparison.Ordinal))
            .ThenBy(m => m.File, StringComparer.Ordinal)
            .ThenBy(m => m.Line)
            .ThenBy(m => m.Column),
    ];
}
