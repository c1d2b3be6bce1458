namespace DriftWatch.Measuring;

/// <summary>
/// What a measurement comes to, in words, numbers and lines to draw. The command line prints it and the page shows it: the words
/// are made once.
/// </summary>
/// <param name="Opening">What was read, a sentence a line; the command line puts the file's name in front.</param>
/// <param name="Parts">What it says, in the order to read.</param>
/// <param name="IsSound">Nothing is left to do, or what was looked for was found.</param>
internal sealed record MeasureReport(IReadOnlyList<string> Opening, IReadOnlyList<ReportPart> Parts, bool IsSound)
{
    /// <summary>The one sentence to act on; it stands among the parts too. Null where there is none.</summary>
    public string? Headline { get; init; }

    /// <summary>What can hurt on the way; null where nothing does.</summary>
    public string? Caution { get; init; }

    public IReadOnlyList<Quantity> Quantities { get; init; } = [];

    public Drawing? Drawing { get; init; }
}

/// <summary>One number of a report, not rounded.</summary>
/// <param name="Name">A slug.</param>
/// <param name="Value">Null where it can't be told: then <paramref name="Missing"/> says why.</param>
/// <param name="Unit">Of all its numbers.</param>
/// <param name="StandardUncertainty">Where it is known.</param>
/// <param name="Lower">Lower limit at 95 %, where an interval was found.</param>
/// <param name="Upper">Upper limit.</param>
/// <param name="Missing">What there was too little of.</param>
internal sealed record Quantity(
    string Name, double? Value, string Unit, double? StandardUncertainty = null, double? Lower = null, double? Upper = null, string? Missing = null)
{
    public static Quantity Of(string name, Analysis.Calibrating.Uncertain value, string unit) =>
        new(name, value.Value, unit, value.StandardUncertainty);

    public static Quantity Of(string name, Analysis.Answer<Analysis.Calibrating.Uncertain> answer, string unit) =>
        answer.IsKnown ? Of(name, answer.Value, unit) : new Quantity(name, null, unit, Missing: answer.Missing!.ToString());
}

/// <summary>How a part is laid out.</summary>
internal enum ReportLayout
{
    /// <summary>Sentences.</summary>
    Text,

    /// <summary>Items under a title that may be missing.</summary>
    List,

    /// <summary>Columns with headings.</summary>
    Table,

    /// <summary>Names with their numbers, under a title.</summary>
    Figures,
}

/// <summary>A part of a report; the command line parts them by an empty line unless one is joined to that before it.</summary>
internal sealed record ReportPart(ReportLayout Layout)
{
    public string? Title { get; init; }

    public bool IsJoined { get; init; }

    public IReadOnlyList<string> Lines { get; init; } = [];

    public IReadOnlyList<string> Columns { get; init; } = [];

    public IReadOnlyList<string[]> Rows { get; init; } = [];

    public static ReportPart Text(params IEnumerable<string> lines) => new(ReportLayout.Text) { Lines = [.. lines] };

    public static ReportPart List(string? title, IEnumerable<string> items) => new(ReportLayout.List) { Title = title, Lines = [.. items] };

    public static ReportPart Table(IReadOnlyList<string> columns, IEnumerable<string[]> rows) =>
        new(ReportLayout.Table) { Columns = columns, Rows = [.. rows] };

    public static ReportPart Figures(string title, IEnumerable<string[]> rows) => new(ReportLayout.Figures) { Title = title, Rows = [.. rows] };
}

/// <summary>What there is to draw: points that were read, lines that were fitted, and places that the answer names.</summary>
/// <param name="X">What the axis shows, with its unit.</param>
/// <param name="Y">What the axis shows, with its unit.</param>
internal sealed record Drawing(string X, string Y)
{
    /// <summary>Levels in dB drawn by their voltage, where a tracking flank is a straight line.</summary>
    public bool ByVoltage { get; init; }

    public IReadOnlyList<Trace> Traces { get; init; } = [];

    public IReadOnlyList<Place> Places { get; init; } = [];
}

/// <summary>Points, or a line through them. <paramref name="Head"/> is 1 to 4 where it is of one head, else 0.</summary>
internal sealed record Trace(string Name, bool IsLine, int Head, IReadOnlyList<double> X, IReadOnlyList<double> Y);

/// <summary>A place on the x axis, or with <paramref name="IsLevel"/> on the y axis, and the interval that it is known within.</summary>
internal sealed record Place(string Name, double At, double? Lower = null, double? Upper = null, bool IsLevel = false);

/// <summary>The numbers don't tell what was asked; the message says what is missing and what to do.</summary>
internal sealed class CannotTellException : Exception
{
    public CannotTellException()
        : this("It can't be told.")
    {
    }

    public CannotTellException(string message)
        : base(message)
    {
    }

    public CannotTellException(string message, Exception innerException)
        : base(message, innerException)
    {
    }
}
