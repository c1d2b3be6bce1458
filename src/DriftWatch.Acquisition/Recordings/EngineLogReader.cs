using System.Buffers.Text;
using System.IO.Compression;
using System.Text;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Acquisition.Recordings;

/// <summary>
/// Reads <see cref="EngineLogFormat"/>, gzipped or not (told by the first bytes). What precedes a fault of the file is
/// given; the fault itself is a <see cref="RecordingException"/> with the line, or <see cref="Truncated"/> when the
/// end is missing.
/// </summary>
public sealed class EngineLogReader : IDisposable
{
    private readonly string _name;
    private readonly Stream _file;
    private readonly Stream _stream;
    private byte[] _buffer = new byte[256 * 1024];
    private int _start;
    private int _end;
    private bool _streamEnded;
    private long _line;
    private long _nanoseconds;
    private long _nextNumber;
    private long _count;
    private bool _done;

    public EngineLogReader(string path)
        : this(path, File.OpenRead(path))
    {
    }

    /// <param name="name">Names the file in errors.</param>
    /// <param name="file">A seekable stream, owned by the reader.</param>
    public EngineLogReader(string name, Stream file)
    {
        _name = name;
        _file = file;
        int first = file.ReadByte();
        int second = file.ReadByte();
        file.Position = 0;
        _stream = first == 0x1f && second == 0x8b ? new GZipStream(file, CompressionMode.Decompress) : file;
        ReadHeader();
    }

    /// <summary>After the last input: true when the end line is missing, so the file was cut or its writer killed.</summary>
    public bool Truncated { get; private set; }

    /// <summary>How far the file has been read, 0 to 1.</summary>
    public double Progress => _file.Length == 0 ? 1 : (double)_file.Position / _file.Length;

    /// <summary>True when the file begins like an exported log.</summary>
    public static bool Recognises(string path)
    {
        try
        {
            using FileStream file = File.OpenRead(path);
            Span<byte> head = stackalloc byte[16];
            int n = file.ReadAtLeast(head, 2, throwOnEndOfStream: false);
            if (n >= 2 && head[0] == 0x1f && head[1] == 0x8b)
            {
                file.Position = 0;
                using var gzip = new GZipStream(file, CompressionMode.Decompress);
                n = gzip.ReadAtLeast(head, head.Length, throwOnEndOfStream: false);
            }

            return head[..n].StartsWith("driftwatch-log"u8);
        }
        catch (InvalidDataException)
        {
            return false;
        }
    }

    /// <summary>The next input; false at the end.</summary>
    /// <exception cref="RecordingException">The line does not follow the grammar.</exception>
    public bool TryRead(out EngineInput input)
    {
        input = default;
        if (_done || !TryReadLine(out ReadOnlySpan<byte> line))
        {
            Truncated |= !_done;
            _done = true;
            return false;
        }

        if (line.StartsWith("end "u8))
        {
            _done = true;
            var ended = new Fields(line[3..]);
            long count = Integer(ref ended, "count");
            return count == _count ? false : throw Bad($"the end line counts {count} inputs, but {_count} were read");
        }

        input = ParseLine(line);
        _count++;
        return true;
    }

    public void Dispose()
    {
        _stream.Dispose();
        _file.Dispose();
    }

    private EngineInput ParseLine(ReadOnlySpan<byte> line)
    {
        if (line.Length < 3)
        {
            throw Bad("the line is too short");
        }

        var fields = new Fields(line[1..]);
        long delta = Integer(ref fields, "delta");
        long number = _nextNumber++;
        _nanoseconds += delta;
        var time = new EngineTime(_nanoseconds);
        char letter = (char)line[0];
        bool late = letter is 'S' or 'F' or 'W';
        try
        {
            EngineInput input = char.ToLowerInvariant(letter) switch
            {
                's' => ReadSample(time, ref fields),
                'f' => ReadFault(time, ref fields),
                'w' => ReadFrame(time, ref fields),
                't' => EngineInput.OfTick(time),
                'c' => EngineInput.OfClock(time, (ClockEvent)PayloadJson.FromUtf8(InputKind.Clock, fields.Rest)),
                'b' => EngineInput.OfBench(time, (BenchDefinition)PayloadJson.FromUtf8(InputKind.Bench, fields.Rest)),
                'm' => EngineInput.OfCommand(time, (Command)PayloadJson.FromUtf8(InputKind.Command, fields.Rest)),
                'a' => ReadCalibration(time, ref fields),
                _ => throw Bad($"'{letter}' is no kind of input"),
            };
            return input with { Number = number, IsLate = late };
        }
        catch (Exception exception) when (exception is FormatException or ArgumentException or OverflowException)
        {
            throw Bad(exception.Message);
        }
    }

    private EngineInput ReadSample(EngineTime time, ref Fields fields)
    {
        int channel = (int)Integer(ref fields, "channel");
        double raw = Real(ref fields, "raw value");
        if (fields.Rest.IsEmpty)
        {
            return EngineInput.OfReading(time, channel, Reading.Of(raw));
        }

        double minimum = Real(ref fields, "minimum");
        return EngineInput.OfReading(time, channel, Reading.Of(raw, minimum, Real(ref fields, "maximum")));
    }

    private EngineInput ReadFault(EngineTime time, ref Fields fields)
    {
        int channel = (int)Integer(ref fields, "channel");
        string slug = Encoding.ASCII.GetString(fields.Rest);
        return FaultCodes.TryParse(slug, out FaultCode code)
            ? EngineInput.OfReading(time, channel, Reading.Failed(code))
            : throw Bad($"'{slug}' is no fault");
    }

    private EngineInput ReadFrame(EngineTime time, ref Fields fields)
    {
        int channel = (int)Integer(ref fields, "channel");
        long sequence = Integer(ref fields, "sequence");
        double tach = Real(ref fields, "tach angle");
        var values = new List<double>(64);
        while (!fields.Rest.IsEmpty)
        {
            values.Add(Real(ref fields, "value"));
        }

        return EngineInput.OfFrame(time, channel, new Frame(checked((uint)sequence), tach, [.. values]));
    }

    private EngineInput ReadCalibration(EngineTime time, ref Fields fields)
    {
        int channel = (int)Integer(ref fields, "channel");
        return EngineInput.OfCalibration(
            time, channel, (Calibration)PayloadJson.FromUtf8(InputKind.Calibration, fields.Rest));
    }

    private void ReadHeader()
    {
        if (!TryReadLine(out ReadOnlySpan<byte> line) || !line.StartsWith("driftwatch-log "u8))
        {
            throw Bad("this is not an exported log: it does not begin with 'driftwatch-log'");
        }

        string[] parts = Encoding.ASCII.GetString(line).Split(' ');
        if (parts.Length != 3 || !int.TryParse(parts[1], out int version)
            || !parts[2].StartsWith("first=", StringComparison.Ordinal) || !long.TryParse(parts[2][6..], out _nextNumber))
        {
            throw Bad("the header is not 'driftwatch-log 1 first=N'");
        }

        if (version > EngineLogFormat.Version)
        {
            throw new RecordingException(
                _name, 1, $"the log has version {version}; this program reads up to {EngineLogFormat.Version}", "use a newer DriftWatch");
        }
    }

    private bool TryReadLine(out ReadOnlySpan<byte> line)
    {
        while (true)
        {
            int at = _buffer.AsSpan(_start, _end - _start).IndexOf((byte)'\n');
            if (at >= 0)
            {
                line = _buffer.AsSpan(_start, at);
                _start += at + 1;
                _line++;
                return true;
            }

            if (!Fill())
            {
                line = default; // a last line without its line end is cut: it may be short of a digit
                return false;
            }
        }
    }

    private bool Fill()
    {
        if (_streamEnded)
        {
            return false;
        }

        if (_start > 0)
        {
            _buffer.AsSpan(_start, _end - _start).CopyTo(_buffer);
            _end -= _start;
            _start = 0;
        }

        if (_end == _buffer.Length)
        {
            Array.Resize(ref _buffer, _buffer.Length * 2);
        }

        int read;
        try
        {
            read = _stream.Read(_buffer, _end, _buffer.Length - _end);
        }
        catch (InvalidDataException)
        {
            read = 0; // a gzip stream that ends in garbage: what came before stands, and Truncated says so
        }

        _end += read;
        _streamEnded = read == 0;
        return read > 0;
    }

    private long Integer(ref Fields fields, string what) =>
        fields.TryNext(out ReadOnlySpan<byte> field) && Utf8Parser.TryParse(field, out long value, out int used) && used == field.Length
            ? value
            : throw Bad($"the {what} is missing or no whole number");

    private double Real(ref Fields fields, string what) =>
        fields.TryNext(out ReadOnlySpan<byte> field) && Utf8Parser.TryParse(field, out double value, out int used) && used == field.Length
            ? value
            : throw Bad($"the {what} is missing or no number");

    private RecordingException Bad(string what) =>
        new(_name, _line, what, "export the log again, or judge the part before this line");

    /// <summary>Walks fields that each follow one space.</summary>
    private ref struct Fields(ReadOnlySpan<byte> text)
    {
        private ReadOnlySpan<byte> _text = text;

        public readonly ReadOnlySpan<byte> Rest => _text.IsEmpty ? _text : _text[1..];

        public bool TryNext(out ReadOnlySpan<byte> field)
        {
            if (_text.IsEmpty || _text[0] != (byte)' ')
            {
                field = default;
                return false;
            }

            ReadOnlySpan<byte> rest = _text[1..];
            int end = rest.IndexOf((byte)' ');
            field = end < 0 ? rest : rest[..end];
            _text = end < 0 ? default : rest[end..];
            return field.Length > 0;
        }
    }
}
