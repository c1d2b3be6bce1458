using DriftWatch.Acquisition.Recordings;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;

namespace DriftWatch.Reports;

/// <summary>Writes the plain recording: the wide file, and a side file for each frame channel that had a frame.</summary>
internal sealed class CsvExport : IExportTarget
{
    private readonly string _path;
    private readonly IReadOnlyList<ChannelDefinition> _channels;
    private readonly CsvRecordingWriter _writer;
    private readonly int[] _columns;
    private readonly bool _withExtremes;
    private readonly Dictionary<string, FrameCsvWriter> _frames = new(StringComparer.Ordinal);

    public CsvExport(string path, IReadOnlyList<ChannelDefinition> channels, int? decimals, bool withExtremes)
    {
        _path = path;
        _channels = channels;
        _withExtremes = withExtremes;
        _columns = new int[channels.Count];
        var columns = new List<CsvWriterColumn>();
        for (int i = 0; i < channels.Count; i++)
        {
            _columns[i] = columns.Count;
            columns.Add(new CsvWriterColumn(channels[i].Id, decimals));
            if (withExtremes && channels[i].Kind == ChannelKind.Series)
            {
                columns.Add(new CsvWriterColumn(channels[i].Id + ".min", decimals));
                columns.Add(new CsvWriterColumn(channels[i].Id + ".max", decimals));
            }
        }

        _writer = new CsvRecordingWriter(path, columns);
    }

    public IReadOnlyList<string> Files => [_path, .. _frames.Keys.Select(id => FrameFiles.PathFor(_path, id))];

    public ValueTask RowAsync(long utcNanoseconds, ReadOnlyMemory<WideCell> cells)
    {
        ReadOnlySpan<WideCell> row = cells.Span;
        for (int i = 0; i < row.Length; i++)
        {
            if (row[i].Value.Kind == CsvCellKind.Fault)
            {
                _writer.Set(_columns[i], row[i].Value.Fault);
            }
            else if (row[i].Value.Kind == CsvCellKind.Value)
            {
                _writer.Set(_columns[i], row[i].Value.Value);
                if (_withExtremes && row[i] is { Minimum: { } minimum, Maximum: { } maximum })
                {
                    _writer.Set(_columns[i] + 1, minimum);
                    _writer.Set(_columns[i] + 2, maximum);
                }
            }
        }

        _writer.WriteRow(utcNanoseconds);
        return ValueTask.CompletedTask;
    }

    public ValueTask FrameAsync(long utcNanoseconds, ChannelDefinition channel, Frame frame)
    {
        if (!_frames.TryGetValue(channel.Id, out FrameCsvWriter? writer))
        {
            writer = new FrameCsvWriter(FrameFiles.PathFor(_path, channel.Id), channel.Axis!);
            _frames.Add(channel.Id, writer);
        }

        writer.Write(utcNanoseconds, frame.Sequence, frame.TachAngleDegrees, frame.Values);
        return ValueTask.CompletedTask;
    }

    public ValueTask CompleteAsync()
    {
        foreach (FrameCsvWriter writer in _frames.Values)
        {
            writer.Complete();
        }

        _writer.Complete();
        return ValueTask.CompletedTask;
    }

    public ValueTask DisposeAsync()
    {
        _writer.Dispose();
        foreach (FrameCsvWriter writer in _frames.Values)
        {
            writer.Dispose();
        }

        return ValueTask.CompletedTask;
    }
}
