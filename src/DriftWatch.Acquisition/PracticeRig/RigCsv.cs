using DriftWatch.Acquisition.Recordings;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Acquisition.PracticeRig;

/// <summary>
/// Writes inputs as a CSV recording in engineering units, rounded to what the instruments resolve, with a side file
/// for each frame channel. What a CSV can't carry (extremes, commands, late readings) is left out; a step of the wall
/// clock shows in the times.
/// </summary>
public sealed class RigCsv : IDisposable
{
    private readonly CsvRecordingWriter _writer;
    private readonly Dictionary<int, (int Column, ChannelDefinition Channel)> _columns = [];
    private readonly Dictionary<int, FrameCsvWriter> _frames = [];
    private readonly AnchorTable _anchors = new();
    private EngineTime? _row;

    /// <param name="path">Compressed where it ends in <c>.gz</c>.</param>
    /// <param name="bench">Its channels become the columns.</param>
    /// <exception cref="IOException">A file can't be made.</exception>
    public RigCsv(string path, BenchDefinition bench)
    {
        var columns = new List<CsvWriterColumn>();
        foreach (ChannelDefinition channel in bench.Channels)
        {
            if (channel.Kind == ChannelKind.Frame)
            {
                FrameAxis axis = channel.Axis ?? FrameAxis.Even(RigInputs.FramePointsPerHead);
                _frames.Add(channel.Key, new FrameCsvWriter(FrameFiles.PathFor(path, channel.Id), axis));
            }

            _columns.Add(channel.Key, (columns.Count, channel));
            columns.Add(new CsvWriterColumn(channel.Id, DecimalsOf(channel.Unit)));
        }

        _writer = new CsvRecordingWriter(path, columns);
    }

    public long Rows => _writer.Rows;

    public void Write(in EngineInput input)
    {
        if (input.Kind == InputKind.Clock)
        {
            EndRow();
            _anchors.Add(input.ClockEvent.Anchor);
            return;
        }

        if (input.Kind is not (InputKind.Sample or InputKind.Fault or InputKind.Frame))
        {
            return;
        }

        if (_row != input.Time)
        {
            EndRow();
        }

        (int column, ChannelDefinition channel) = _columns[input.Channel];
        if (input.Kind == InputKind.Frame)
        {
            _frames[input.Channel].Write(
                _anchors.ToUtcNanoseconds(input.Time), input.Frame.Sequence, input.Frame.TachAngleDegrees, input.Frame.Values);
            return;
        }

        _row = input.Time;
        if (input.Reading.IsFault)
        {
            _writer.Set(column, input.Reading.Fault);
        }
        else
        {
            _writer.Set(column, channel.Calibration.Convert(input.Reading.Raw));
        }
    }

    public void Complete()
    {
        EndRow();
        foreach (FrameCsvWriter frames in _frames.Values)
        {
            frames.Complete();
        }

        _writer.Complete();
    }

    public void Dispose()
    {
        foreach (FrameCsvWriter frames in _frames.Values)
        {
            frames.Dispose();
        }

        _writer.Dispose();
    }

    private void EndRow()
    {
        if (_row is { } row)
        {
            _writer.WriteRow(_anchors.ToUtcNanoseconds(row));
            _row = null;
        }
    }

    /// <summary>Places that show what the rig's sensors resolve.</summary>
    private static int DecimalsOf(string unit) => unit switch
    {
        "psi" or "inH2O" or "dB" or "IRE" or "degC" or "degF" or "%RH" or "rev/s" or "kPa" => 2,
        "V" or "mA" or "bar" => 4,
        "%" or "mbar" or "hPa" or "mV" => 1,
        "1" or "count" or "Pa" => 0,
        _ => 3,
    };
}
