using System.Buffers.Text;
using System.Text;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Samples;

namespace DriftWatch.Acquisition.Lines;

/// <summary>Why a line was not taken.</summary>
public enum LineReject
{
    None,

    /// <summary>Longer than the profile allows.</summary>
    TooLong,

    /// <summary>Its end did not come in time.</summary>
    PartExpired,

    /// <summary>A byte outside printable ASCII.</summary>
    NotPrintable,

    /// <summary>It opens with a tag that the profile does not name.</summary>
    UnknownTag,

    /// <summary>Too many or too few fields.</summary>
    FieldCount,

    /// <summary>A field is not a number.</summary>
    BadNumber,

    /// <summary>The sequence number is not a whole number below 2³².</summary>
    BadSequence,

    /// <summary>The wheel angle of a frame is not in 0 ≤ angle &lt; 360.</summary>
    BadAngle,

    /// <summary>The checksum is missing or not written as hex digits.</summary>
    NoChecksum,

    /// <summary>The checksum does not match.</summary>
    BadChecksum,
}

public enum LineKind
{
    Rejected,
    Samples,
    Frame,
}

/// <summary>
/// Reads one whole line of a streaming instrument against its profile: <c>[TAG,][sequence,]field,…[*checksum]</c>, or a
/// frame <c>TAG,sequence,angle,v1,…,vN*crc16</c>. Exact number of fields, printable ASCII, nothing left over.
/// A field that says nan, inf or ovf, as firmware prints what it can't measure, is kept as NaN: that field is a fault
/// and its neighbours stand. Fields may be padded with spaces. The checksum covers every byte before the star; frames
/// always carry CRC-16, because sixty-four numbers that are wrong by a digit look like a machine that is wrong.
/// Allocates nothing for samples and one array for a frame.
/// </summary>
public sealed class LineParser
{
    private readonly LineFormat _format;
    private readonly byte[]? _tag;
    private readonly (byte[] Tag, int Input, int Points)[] _frames;
    private readonly double[] _fields;

    public LineParser(LineFormat format, IReadOnlyList<ProfileInput> inputs)
    {
        _format = format;
        _tag = format.Tag is null ? null : Encoding.ASCII.GetBytes(format.Tag);
        _fields = new double[format.FieldCount];
        _frames = [.. inputs
            .Select((input, index) => (input, index))
            .Where(p => p.input.Kind == ChannelKind.Frame)
            .Select(p => (
                Encoding.ASCII.GetBytes(p.input.Tag ?? throw new ArgumentException($"Frame input '{p.input.Name}' has no tag.", nameof(inputs))),
                p.index,
                p.input.Points ?? throw new ArgumentException($"Frame input '{p.input.Name}' does not say how many points it has.", nameof(inputs))))];

        // 26 characters hold any double written to the last bit, with its delimiter.
        MaximumLength = _frames.Aggregate(format.MaximumLength, (longest, f) => Math.Max(longest, f.Tag.Length + 64 + (26 * f.Points)));
    }

    /// <summary>The longest line that can be right.</summary>
    public int MaximumLength { get; }

    public LineReject Reject { get; private set; }

    /// <summary>The fields of the last samples line; NaN where the instrument said that it has no number.</summary>
    public ReadOnlySpan<double> Fields => _fields;

    /// <summary>Of the last line taken, where it carries one.</summary>
    public uint? Sequence { get; private set; }

    /// <summary>Of the last frame line: null when a point was NaN or infinite, which is a fault of the whole frame.</summary>
    public Frame? Frame { get; private set; }

    /// <summary>Of the last frame line: which input of the profile.</summary>
    public int FrameInput { get; private set; }

    public LineKind Parse(ReadOnlySpan<byte> line)
    {
        Reject = LineReject.None;
        Sequence = null;
        Frame = null;
        foreach (byte b in line)
        {
            if (b is < 0x20 or > 0x7E)
            {
                return Refuse(LineReject.NotPrintable);
            }
        }

        foreach ((byte[] tag, int input, int points) in _frames)
        {
            if (OpensWith(line, tag))
            {
                return ParseFrame(line, tag.Length + 1, input, points);
            }
        }

        return ParseSamples(line);
    }

    /// <summary>The fault that a reject stands for.</summary>
    public static FaultCode FaultOf(LineReject reject) =>
        reject is LineReject.BadChecksum or LineReject.NoChecksum ? FaultCode.BadChecksum : FaultCode.Garbled;

    private LineKind ParseSamples(ReadOnlySpan<byte> line)
    {
        if (!CheckAndStrip(ref line, _format.Checksum))
        {
            return LineKind.Rejected;
        }

        if (_tag is not null)
        {
            if (!OpensWith(line, _tag))
            {
                return Refuse(LineReject.UnknownTag);
            }

            line = line[(_tag.Length + 1)..];
        }

        if (line.Count((byte)_format.Delimiter) + 1 != _format.FieldCount + (_format.HasSequence ? 1 : 0))
        {
            return Refuse(LineReject.FieldCount);
        }

        if (_format.HasSequence && !TakeSequence(ref line))
        {
            return Refuse(LineReject.BadSequence);
        }

        return TakeNumbers(ref line, _fields) ? LineKind.Samples : Refuse(LineReject.BadNumber);
    }

    private LineKind ParseFrame(ReadOnlySpan<byte> line, int skip, int input, int points)
    {
        if (!CheckAndStrip(ref line, "crc16"))
        {
            return LineKind.Rejected;
        }

        line = line[skip..];
        if (line.Count((byte)_format.Delimiter) + 1 != points + 2)
        {
            return Refuse(LineReject.FieldCount);
        }

        if (!TakeSequence(ref line))
        {
            return Refuse(LineReject.BadSequence);
        }

        Span<double> angle = stackalloc double[1];
        if (!TakeNumbers(ref line, angle) || !(angle[0] >= 0 && angle[0] < 360))
        {
            return Refuse(LineReject.BadAngle);
        }

        var values = new double[points];
        if (!TakeNumbers(ref line, values))
        {
            return Refuse(LineReject.BadNumber);
        }

        Frame = Array.TrueForAll(values, double.IsFinite) ? new Frame(Sequence!.Value, angle[0], values) : null;
        FrameInput = input;
        return LineKind.Frame;
    }

    private bool OpensWith(ReadOnlySpan<byte> line, byte[] tag) =>
        line.Length > tag.Length && line.StartsWith(tag) && line[tag.Length] == _format.Delimiter;

    private bool CheckAndStrip(ref ReadOnlySpan<byte> line, string checksum)
    {
        int digits = checksum switch { "xor8" => 2, "crc16" => 4, _ => 0 };
        if (digits == 0)
        {
            return true;
        }

        int star = line.Length - digits - 1;
        if (star < 0 || line[star] != '*'
            || !Utf8Parser.TryParse(line[(star + 1)..], out ushort said, out int used, 'x') || used != digits)
        {
            Refuse(LineReject.NoChecksum);
            return false;
        }

        ReadOnlySpan<byte> body = line[..star];
        ushort due = digits == 2 ? Checksums.Xor8(body) : Checksums.Crc16(body);
        if (said != due)
        {
            Refuse(LineReject.BadChecksum);
            return false;
        }

        line = body;
        return true;
    }

    private bool TakeSequence(ref ReadOnlySpan<byte> line)
    {
        ReadOnlySpan<byte> field = TakeField(ref line);
        if (!Utf8Parser.TryParse(field, out uint sequence, out int used) || used != field.Length)
        {
            return false;
        }

        Sequence = sequence;
        return true;
    }

    private bool TakeNumbers(ref ReadOnlySpan<byte> line, scoped Span<double> into)
    {
        for (int i = 0; i < into.Length; i++)
        {
            ReadOnlySpan<byte> field = TakeField(ref line);
            if (SaysNoNumber(field))
            {
                into[i] = double.NaN;
            }
            else if (!Utf8Parser.TryParse(field, out into[i], out int used) || used != field.Length)
            {
                return false;
            }
            else if (!double.IsFinite(into[i]))
            {
                // Digits that overflow a double.
                into[i] = double.NaN;
            }
        }

        return true;
    }

    private ReadOnlySpan<byte> TakeField(ref ReadOnlySpan<byte> line)
    {
        int end = line.IndexOf((byte)_format.Delimiter);
        ReadOnlySpan<byte> field = end < 0 ? line : line[..end];
        line = end < 0 ? default : line[(end + 1)..];
        return field.Trim((byte)' ');
    }

    /// <summary>What C's printf and the usual board libraries print for NaN, infinity and overflow.</summary>
    private static bool SaysNoNumber(ReadOnlySpan<byte> field)
    {
        if (field.Length > 0 && field[0] is (byte)'+' or (byte)'-')
        {
            field = field[1..];
        }

        return Ascii.EqualsIgnoreCase(field, "nan"u8) || Ascii.EqualsIgnoreCase(field, "inf"u8)
            || Ascii.EqualsIgnoreCase(field, "infinity"u8) || Ascii.EqualsIgnoreCase(field, "ovf"u8);
    }

    private LineKind Refuse(LineReject why)
    {
        Reject = why;
        return LineKind.Rejected;
    }
}
