namespace DriftWatch.Acquisition.Recordings;

/// <summary>
/// A recording that can't be read, as <c>file(line,column): what; remedy</c>. Line and column count from 1; the
/// column is that of the first character of the cell in question.
/// </summary>
public sealed class RecordingException : Exception
{
    public RecordingException()
        : this("", 0, 0, "", "")
    {
    }

    public RecordingException(string message)
        : this("", 0, 0, message, "")
    {
    }

    public RecordingException(string message, Exception innerException)
        : base(message, innerException) =>
        (File, What, Remedy) = ("", message, "");

    /// <summary>For a line that is read as a whole, with no column to name.</summary>
    public RecordingException(string file, long line, string what, string remedy)
        : base($"{file}({line}): {what}; {remedy}")
    {
        File = file;
        Line = line;
        What = what;
        Remedy = remedy;
    }

    public RecordingException(string file, long line, int column, string what, string remedy)
        : base($"{file}({line},{column}): {what}; {remedy}")
    {
        File = file;
        Line = line;
        Column = column;
        What = what;
        Remedy = remedy;
    }

    public string File { get; }

    public long Line { get; }

    /// <summary>0 where the line was read as a whole.</summary>
    public int Column { get; }

    public string What { get; }

    /// <summary>What to write instead.</summary>
    public string Remedy { get; }
}

/// <summary>Something a person should know of a recording that was read all the same.</summary>
/// <param name="File">The file as it was named.</param>
/// <param name="Line">Line in the file, from 1; 0 where it concerns the whole file.</param>
/// <param name="Text">One sentence without a full stop.</param>
public readonly record struct RecordingNotice(string File, long Line, string Text)
{
    public override string ToString() => Line > 0 ? $"{File}({Line}): {Text}" : $"{File}: {Text}";
}

/// <summary>The notices of one recording: the first <see cref="Kept"/> in words, the rest counted, so that a bad file can't fill memory.</summary>
public sealed class RecordingNotices
{
    public const int Kept = 50;

    private readonly List<RecordingNotice> _kept = [];

    /// <summary>In the order in which they were met.</summary>
    public IReadOnlyList<RecordingNotice> All => _kept;

    /// <summary>Notices met beyond those kept.</summary>
    public long Untold { get; private set; }

    /// <summary>Cells that held NaN, an infinity or a number too large for a double; each became the fault <c>not-a-number</c>.</summary>
    public long NotANumberCells { get; internal set; }

    /// <summary>Rows whose time did not lie after that of the row before.</summary>
    public long StepsBack { get; internal set; }

    /// <summary>True when the file ended in the middle of a line or of its compressed stream.</summary>
    public bool IsTruncated { get; internal set; }

    internal void Add(string file, long line, string text)
    {
        if (_kept.Count < Kept)
        {
            _kept.Add(new RecordingNotice(file, line, text));
        }
        else
        {
            Untold++;
        }
    }
}
