using DriftWatch.Acquisition.Recordings;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;

namespace DriftWatch.Reports;

/// <summary>One channel's cells in an exported row. Extremes are set only where the reading had them.</summary>
public readonly record struct WideCell(CsvCell Value, double? Minimum, double? Maximum);

/// <summary>Where exported rows and frames go.</summary>
public interface IExportTarget : IAsyncDisposable
{
    /// <summary>A row: one cell for each exported channel, in their order.</summary>
    ValueTask RowAsync(long utcNanoseconds, ReadOnlyMemory<WideCell> cells);

    ValueTask FrameAsync(long utcNanoseconds, ChannelDefinition channel, Frame frame);

    /// <summary>Gives the files their names; without it nothing is left behind.</summary>
    ValueTask CompleteAsync();
}

/// <summary>What an export did.</summary>
public sealed record ExportSummary(long Rows, long Values, long Faults, long Frames, long LateLeftOut);

/// <summary>
/// Lays a log of inputs out in rows: one row an instant, one cell a channel, in engineering units. Late readings are
/// put in their place as long as it is within <see cref="LateWindow"/>; older ones are counted, since a file that is
/// already written can't take them.
/// </summary>
internal sealed class WideRows(IReadOnlyList<ChannelDefinition> channels, long fromUtc, long toUtc, IExportTarget target)
{
    /// <summary>Source: our own choice; the merge releases after 250 ms by default, and a line's late answer is seconds old at most.</summary>
    private static readonly TimeSpan LateWindow = TimeSpan.FromSeconds(10);

    private readonly EngineeringValues _values = new(channels);
    private readonly SortedDictionary<EngineTime, WideCell[]> _open = [];
    private readonly Stack<WideCell[]> _spare = new();
    private readonly Dictionary<int, int> _cellOf = [];
    private EngineTime _written = EngineTime.MinValue;
    private long _rows;
    private long _count;
    private long _faults;
    private long _frames;
    private long _left;

    public async Task<ExportSummary> RunAsync(IInputSource feed, IProgress<double>? progress, CancellationToken cancel)
    {
        long inputs = 0;
        while (feed.TryRead(out EngineInput input))
        {
            if ((++inputs & 0xffff) == 0)
            {
                cancel.ThrowIfCancellationRequested();
                progress?.Report(feed.Progress);
            }

            if (input.Kind is InputKind.Sample or InputKind.Fault or InputKind.Frame)
            {
                await TakeAsync(input);
            }
            else
            {
                if (input.Kind is InputKind.Clock)
                {
                    await WriteUpToAsync(EngineTime.MaxValue); // rows before a step carry the clock before it
                }

                _values.Follow(input);
                if (input.Kind == InputKind.Bench)
                {
                    FindCells();
                }
            }

            if (_open.Count > 1 && input.Time - _open.First().Key > LateWindow)
            {
                await WriteUpToAsync(input.Time - LateWindow);
            }
        }

        await WriteUpToAsync(EngineTime.MaxValue);
        progress?.Report(1);
        return new ExportSummary(_rows, _count, _faults, _frames, _left);
    }

    private void FindCells()
    {
        _cellOf.Clear();
        for (int i = 0; i < channels.Count; i++)
        {
            _cellOf[EngineeringValues.KeyOf(channels[i], _values.Bench!)] = i;
        }
    }

    private async ValueTask TakeAsync(EngineInput input)
    {
        if (!_cellOf.TryGetValue(input.Channel, out int cell))
        {
            return;
        }

        long utc = _values.UtcOf(input.Time);
        if (utc < fromUtc || utc >= toUtc)
        {
            return;
        }

        if (input.Kind == InputKind.Frame)
        {
            var converted = new double[input.Frame.Count];
            for (int i = 0; i < converted.Length; i++)
            {
                converted[i] = _values.Convert(input.Channel, input.Frame.Values[i]);
            }

            _frames++;
            await target.FrameAsync(utc, channels[cell], new Frame(input.Frame.Sequence, input.Frame.TachAngleDegrees, converted));
            return;
        }

        if (input.Time <= _written)
        {
            _left++;
            return;
        }

        if (!_open.TryGetValue(input.Time, out WideCell[]? row))
        {
            row = _spare.Count > 0 ? _spare.Pop() : new WideCell[channels.Count];
            _open.Add(input.Time, row);
        }

        if (_values.TryConvert(input.Channel, input.Reading, out double value, out double minimum, out double maximum))
        {
            _count++;
            row[cell] = new WideCell(
                CsvCell.Of(value), input.Reading.HasExtremes ? minimum : null, input.Reading.HasExtremes ? maximum : null);
        }
        else
        {
            _faults++;
            row[cell] = new WideCell(CsvCell.Failed(input.Reading.IsFault ? input.Reading.Fault : FaultCode.NotANumber), null, null);
        }
    }

    private async ValueTask WriteUpToAsync(EngineTime limit)
    {
        while (_open.Count > 0)
        {
            (EngineTime time, WideCell[] row) = _open.First();
            if (time > limit)
            {
                return;
            }

            await target.RowAsync(_values.UtcOf(time), row);
            _rows++;
            _written = time;
            _open.Remove(time);
            Array.Clear(row);
            _spare.Push(row);
        }
    }
}
