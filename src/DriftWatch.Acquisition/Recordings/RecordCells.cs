using System.Text;

namespace DriftWatch.Acquisition.Recordings;

/// <summary>Walks over the cells of one record, quoted or not, after RFC 4180.</summary>
internal ref struct RecordCells
{
    private readonly ReadOnlySpan<byte> _record;
    private int _next;
    private bool _isDone;

    public RecordCells(ReadOnlySpan<byte> record) => _record = record;

    /// <summary>Byte at which the present cell begins, its opening quote included.</summary>
    public int Start { get; private set; }

    /// <summary>The cell's content with its quotes resolved; valid until the next call.</summary>
    public ReadOnlySpan<byte> Cell { get; private set; }

    /// <summary>Why the cell is malformed, or null.</summary>
    public string? Mistake { get; private set; }

    public bool MoveNext()
    {
        if (_isDone)
        {
            return false;
        }

        Start = _next;
        ReadOnlySpan<byte> rest = _record[_next..];
        if (rest.Length > 0 && rest[0] == (byte)'"')
        {
            TakeQuoted(rest);
            return true;
        }

        int comma = rest.IndexOf((byte)',');
        Cell = comma < 0 ? rest : rest[..comma];
        if (Cell.Contains((byte)'"'))
        {
            Mistake = "a quote stands inside a cell that does not begin with one";
        }

        Advance(comma, rest.Length);
        return true;
    }

    /// <summary>Column of a byte as people count: characters from 1.</summary>
    public static int ColumnAt(ReadOnlySpan<byte> record, int start) => Encoding.UTF8.GetCharCount(record[..start]) + 1;

    private void TakeQuoted(ReadOnlySpan<byte> rest)
    {
        int close = 1;
        bool hasDoubled = false;
        while (true)
        {
            int quote = rest[close..].IndexOf((byte)'"');
            if (quote < 0)
            {
                Mistake = "a quote is opened and never closed";
                Cell = rest[1..];
                _isDone = true;
                return;
            }

            close += quote;
            if (close + 1 >= rest.Length || rest[close + 1] != (byte)'"')
            {
                break;
            }

            hasDoubled = true;
            close += 2;
        }

        Cell = rest[1..close];
        if (hasDoubled)
        {
            Cell = Encoding.UTF8.GetBytes(Encoding.UTF8.GetString(Cell).Replace("\"\"", "\"", StringComparison.Ordinal));
        }

        if (close + 1 < rest.Length && rest[close + 1] != (byte)',')
        {
            Mistake = "text stands behind a closing quote";
            Advance(rest[close..].IndexOf((byte)',') is var comma and >= 0 ? close + comma : -1, rest.Length);
            return;
        }

        Advance(close + 1 < rest.Length ? close + 1 : -1, rest.Length);
    }

    private void Advance(int comma, int length)
    {
        _isDone = comma < 0;
        _next += comma < 0 ? length : comma + 1;
    }
}
