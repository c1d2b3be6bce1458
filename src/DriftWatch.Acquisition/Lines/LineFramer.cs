namespace DriftWatch.Acquisition.Lines;

/// <summary>
/// Cuts a stream of bytes into lines. Whatever stands before the first newline after opening is dropped, because it
/// may be the tail of a line; a line that outgrows its length or has waited too long for its end is dropped up to the
/// next newline. Allocates nothing a line.
/// </summary>
public sealed class LineFramer
{
    private readonly byte[] _line;
    private int _length;
    private bool _skipping = true;

    /// <param name="maximumLength">The longest line, its end not counted; ≥ 1.</param>
    public LineFramer(int maximumLength)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(maximumLength, 1);

        // One more for the carriage return, which is no part of the line.
        _line = new byte[maximumLength + 1];
    }

    /// <summary>Lines dropped because they outgrew the maximum.</summary>
    public long TooLong { get; private set; }

    /// <summary>Parts of lines dropped because their end never came.</summary>
    public long Expired { get; private set; }

    /// <summary>True while some of a line is here and its end is not.</summary>
    public bool HasPart => _length > 0;

    /// <summary>Forgets what it has: for a line just opened.</summary>
    public void Restart()
    {
        _length = 0;
        _skipping = true;
    }

    /// <summary>Drops the part of a line that waits for its end.</summary>
    public void ExpirePart()
    {
        if (_length > 0)
        {
            Expired++;
            Restart();
        }
    }

    /// <summary>
    /// Takes bytes up to and with the next newline. True when that ended a line, which stays valid until the next
    /// call; false when all bytes are taken and no line is whole.
    /// </summary>
    /// <param name="bytes">What is left of the bytes read.</param>
    /// <param name="line">The line without <c>\n</c> and without one <c>\r</c> before it.</param>
    public bool TryTake(ref ReadOnlySpan<byte> bytes, out ReadOnlySpan<byte> line)
    {
        while (bytes.Length > 0)
        {
            int end = bytes.IndexOf((byte)'\n');
            ReadOnlySpan<byte> piece = end < 0 ? bytes : bytes[..end];
            bytes = end < 0 ? default : bytes[(end + 1)..];
            if (!_skipping && !Append(piece))
            {
                TooLong++;
                _skipping = true;
            }

            if (end < 0)
            {
                break;
            }

            if (_skipping)
            {
                _skipping = false;
                _length = 0;
                continue;
            }

            int length = _length > 0 && _line[_length - 1] == '\r' ? _length - 1 : _length;
            _length = 0;
            line = _line.AsSpan(0, length);
            return true;
        }

        line = default;
        return false;
    }

    private bool Append(ReadOnlySpan<byte> piece)
    {
        int room = _line.Length - _length;
        bool fits = piece.Length < room || (piece.Length == room && piece[^1] == '\r');
        if (!fits)
        {
            _length = 0;
            return false;
        }

        piece.CopyTo(_line.AsSpan(_length));
        _length += piece.Length;
        return true;
    }
}
