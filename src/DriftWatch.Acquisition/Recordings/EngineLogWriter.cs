using System.Buffers.Text;
using System.IO.Compression;
using System.Text;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;

namespace DriftWatch.Acquisition.Recordings;

/// <summary>Writes <see cref="EngineLogFormat"/>. The end line is written by <see cref="Complete"/>; without it a reader says 'truncated'.</summary>
public sealed class EngineLogWriter : IDisposable
{
    private readonly Stream _stream;
    private readonly byte[] _buffer = new byte[64 * 1024];
    private int _used;
    private long _previousNanoseconds;
    private long _previousNumber;
    private long _count;

    /// <param name="file">The stream under the gzip layer; owned by the writer.</param>
    /// <param name="gzip">Whether to compress.</param>
    public EngineLogWriter(Stream file, bool gzip)
    {
        _stream = gzip ? new GZipStream(file, CompressionLevel.Optimal) : file;
    }

    /// <exception cref="ArgumentException">The number does not follow the one before.</exception>
    public void Write(in EngineInput input)
    {
        if (_count == 0)
        {
            WriteText($"{EngineLogFormat.HeaderStart}{EngineLogFormat.Version} first={input.Number}\n");
        }
        else if (input.Number != _previousNumber + 1)
        {
            throw new ArgumentException($"Input {input.Number} does not follow {_previousNumber}: the log would have a hole.", nameof(input));
        }

        Reserve(64);
        _buffer[_used++] = (byte)EngineLogFormat.Letter(input);
        Number(input.Time.Nanoseconds - _previousNanoseconds);
        switch (input.Kind)
        {
            case InputKind.Sample:
                Number(input.Channel);
                Number(input.Reading.Raw);
                if (input.Reading.HasExtremes)
                {
                    Number(input.Reading.Minimum);
                    Number(input.Reading.Maximum);
                }

                break;
            case InputKind.Fault:
                Number(input.Channel);
                Text(Encoding.ASCII.GetBytes(input.Reading.Fault.ToSlug()));
                break;
            case InputKind.Frame:
                WriteFrame(input.Channel, input.Frame);
                break;
            case InputKind.Tick:
                break;
            case InputKind.Calibration:
                Number(input.Channel);
                Text(PayloadJson.ToUtf8(input));
                break;
            default:
                Text(PayloadJson.ToUtf8(input));
                break;
        }

        Reserve(1);
        _buffer[_used++] = (byte)'\n';
        _previousNanoseconds = input.Time.Nanoseconds;
        _previousNumber = input.Number;
        _count++;
    }

    /// <summary>Writes the end line: the log is whole.</summary>
    public void Complete()
    {
        if (_count == 0)
        {
            WriteText($"{EngineLogFormat.HeaderStart}{EngineLogFormat.Version} first=1\n");
        }

        WriteText($"end {_count}\n");
        Flush();
    }

    public void Dispose()
    {
        Flush();
        _stream.Dispose();
    }

    private void WriteFrame(int channel, Frame frame)
    {
        Number(channel);
        Number((long)frame.Sequence);
        Number(frame.TachAngleDegrees);
        foreach (double value in frame.Values)
        {
            Number(value);
        }
    }

    private void Number(long value)
    {
        Reserve(24);
        _buffer[_used++] = (byte)' ';
        Utf8Formatter.TryFormat(value, _buffer.AsSpan(_used), out int written);
        _used += written;
    }

    private void Number(double value)
    {
        Reserve(40);
        _buffer[_used++] = (byte)' ';
        value.TryFormat(_buffer.AsSpan(_used), out int written, "R", null);
        _used += written;
    }

    private void Text(byte[] utf8)
    {
        Reserve(1);
        _buffer[_used++] = (byte)' ';
        if (utf8.Length > _buffer.Length - _used)
        {
            Flush();
        }

        if (utf8.Length > _buffer.Length)
        {
            _stream.Write(utf8);
            return;
        }

        utf8.CopyTo(_buffer, _used);
        _used += utf8.Length;
    }

    private void WriteText(string text)
    {
        byte[] bytes = Encoding.UTF8.GetBytes(text);
        Reserve(bytes.Length);
        bytes.CopyTo(_buffer, _used);
        _used += bytes.Length;
    }

    private void Reserve(int bytes)
    {
        if (_buffer.Length - _used < bytes)
        {
            Flush();
        }
    }

    private void Flush()
    {
        _stream.Write(_buffer, 0, _used);
        _used = 0;
    }
}
