using System.Buffers.Binary;
using System.IO.Compression;
using System.IO.Hashing;

namespace DriftWatch.Acquisition.Recordings;

/// <summary>
/// Gives the records of a delimited text file one after the other as bytes, without copying: plain or gzip (told by
/// the first two bytes, never by the name), with or without a byte order mark, lines ended by LF or CRLF, line breaks
/// inside quotes kept (RFC 4180). A stream cut short ends quietly and sets <see cref="IsTruncated"/>.
/// </summary>
internal sealed class RecordReader : IDisposable
{
    private const int InitialBuffer = 1 << 20;

    /// <summary>A record longer than this is no record of ours but some other file.</summary>
    private const int LongestRecord = 64 << 20;

    private readonly string _file;
    private readonly Stream _stream;
    private readonly Stream _source;
    private readonly Crc32 _checksum = new();
    private long _unpacked;
    private byte[] _buffer = new byte[InitialBuffer];
    private int _start;
    private int _end;
    private bool _isAtEnd;
    private long _nextLine = 1;

    /// <exception cref="IOException">The file can't be opened.</exception>
    public RecordReader(string path)
    {
        _file = path;
        _source = new FileStream(path, FileMode.Open, FileAccess.Read, FileShare.ReadWrite | FileShare.Delete, 1 << 16, FileOptions.SequentialScan);
        Span<byte> magic = stackalloc byte[2];
        int read = _source.ReadAtLeast(magic, 2, throwOnEndOfStream: false);
        _source.Position = 0;
        IsCompressed = read == 2 && magic[0] == 0x1f && magic[1] == 0x8b; // RFC 1952
        _stream = IsCompressed ? new GZipStream(_source, CompressionMode.Decompress) : _source;
        SkipByteOrderMark();
    }

    public bool IsCompressed { get; }

    /// <summary>The compressed stream ended early or is damaged from here on.</summary>
    public bool IsTruncated { get; private set; }

    /// <summary>Why, in words, when <see cref="IsTruncated"/>.</summary>
    public string TruncatedBecause { get; private set; } = "";

    /// <summary>Line of the present record's first character, from 1.</summary>
    public long Line { get; private set; }

    /// <summary>The present record without its line end.</summary>
    public ReadOnlySpan<byte> Record => _buffer.AsSpan(RecordStart, RecordLength);

    public bool HasLineEnd { get; private set; }

    /// <summary>True where the record holds a quote, so that cells can't be cut at commas alone.</summary>
    public bool HasQuotes { get; private set; }

    public long BytesTaken => _source.Position;

    public long BytesInAll => _source.Length;

    private int RecordStart { get; set; }

    private int RecordLength { get; set; }

    public bool Read()
    {
        int scanned = _start;
        HasQuotes = false;
        bool isInsideQuotes = false;
        long line = _nextLine;
        while (true)
        {
            ReadOnlySpan<byte> rest = _buffer.AsSpan(scanned, _end - scanned);
            int hit = rest.IndexOfAny((byte)'\n', (byte)'"');
            if (hit < 0)
            {
                scanned = _end;
                if (!_isAtEnd)
                {
                    int shift = _start;
                    Fill();
                    scanned -= shift - _start;
                    continue;
                }

                return Take(_end, _end, hasLineEnd: false, line);
            }

            int at = scanned + hit;
            scanned = at + 1;
            if (_buffer[at] == (byte)'"')
            {
                HasQuotes = true;

                // Only a quote that begins a cell opens; a stray one must not swallow the lines behind it. The second
                // of a doubled pair opens again where the first has just closed.
                isInsideQuotes = !isInsideQuotes && (at == _start || _buffer[at - 1] is (byte)',' or (byte)'"');
                continue;
            }

            _nextLine++;
            if (!isInsideQuotes)
            {
                return Take(at, at + 1, hasLineEnd: true, line);
            }
        }
    }

    public void Dispose()
    {
        _stream.Dispose();
        _source.Dispose();
    }

    private bool Take(int end, int next, bool hasLineEnd, long line)
    {
        RecordStart = _start;
        RecordLength = end - _start;
        if (RecordLength > 0 && _buffer[end - 1] == (byte)'\r')
        {
            RecordLength--;
        }

        HasLineEnd = hasLineEnd;
        Line = line;
        _start = next;
        return hasLineEnd || end > RecordStart;
    }

    private void SkipByteOrderMark()
    {
        while (_end < 3 && !_isAtEnd)
        {
            Fill();
        }

        if (_buffer.AsSpan(0, _end).StartsWith("\uFEFF"u8))
        {
            _start = 3;
        }
    }

    /// <summary>Moves what is left to the front and reads more behind it.</summary>
    private void Fill()
    {
        int left = _end - _start;
        if (left == _buffer.Length)
        {
            if (_buffer.Length >= LongestRecord)
            {
                throw new RecordingException(
                    _file, _nextLine, 1, $"a line longer than {LongestRecord >> 20} MB", "check that this is a CSV recording and that its quotes are closed");
            }

            Array.Resize(ref _buffer, _buffer.Length * 2);
        }
        else if (_start > 0)
        {
            Buffer.BlockCopy(_buffer, _start, _buffer, 0, left);
        }

        _start = 0;
        _end = left;
        try
        {
            int read = _stream.Read(_buffer, _end, _buffer.Length - _end);
            _end += read;
            _isAtEnd = read == 0;
            if (IsCompressed)
            {
                _checksum.Append(_buffer.AsSpan(_end - read, read));
                _unpacked += read;
            }

            if (_isAtEnd && IsCompressed && !EndsWhole())
            {
                IsTruncated = true;
                TruncatedBecause = "the compressed file ends early";
            }
        }
        catch (InvalidDataException)
        {
            _isAtEnd = true;
            IsTruncated = true;
            TruncatedBecause = _source.Position >= _source.Length
                ? "the compressed file ends early or is damaged"
                : "the compressed file is damaged";
        }
    }

    /// <summary>
    /// The library's decoder takes a cut stream for a finished one, so the trailer of RFC 1952 is held against what came
    /// out: CRC-32 and size. A file of several members, whose trailer covers only the last, is taken as whole.
    /// </summary>
    private bool EndsWhole()
    {
        Span<byte> trailer = stackalloc byte[8];
        long length = _source.Length;
        if (length < 18)
        {
            return false;
        }

        using var again = new FileStream(_file, FileMode.Open, FileAccess.Read, FileShare.ReadWrite | FileShare.Delete);
        again.Position = length - trailer.Length;
        again.ReadExactly(trailer);
        bool matches = BinaryPrimitives.ReadUInt32LittleEndian(trailer) == _checksum.GetCurrentHashAsUInt32()
            && BinaryPrimitives.ReadUInt32LittleEndian(trailer[4..]) == (uint)_unpacked;
        return matches || HasSeveralMembers(again);
    }

    private static bool HasSeveralMembers(FileStream file)
    {
        // Magic, deflate, no reserved flag, and the values RFC 1952 allows for XFL and OS: by chance once in 10¹⁰ bytes.
        file.Position = 10;
        var bytes = new byte[1 << 20];
        int kept = 0;
        int read;
        while ((read = file.Read(bytes, kept, bytes.Length - kept)) > 0)
        {
            int end = kept + read;
            for (int i = 0; i + 10 <= end; i++)
            {
                if (bytes[i] == 0x1f && bytes[i + 1] == 0x8b && bytes[i + 2] == 8 && bytes[i + 3] < 0x20
                    && (bytes[i + 8] is 0 or 2 or 4) && (bytes[i + 9] is <= 13 or 255))
                {
                    return true;
                }
            }

            kept = Math.Min(9, end);
            Buffer.BlockCopy(bytes, end - kept, bytes, 0, kept);
        }

        return false;
    }
}
