using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;

namespace DriftWatch.Reports;

/// <summary>A bench's store, read from its first input while a service may go on writing to it.</summary>
internal sealed class StoreSource : IInputSource
{
    private const int FindingsAtOnce = 1000;

    private readonly BenchReader _reader;
    private readonly IEnumerator<EngineInput> _inputs;
    private readonly long _last;
    private readonly string _folder;
    private long _at;
    private long? _begins;

    /// <exception cref="StoreException">The folder holds no store, or can't be read.</exception>
    public StoreSource(string folder)
    {
        _folder = folder;
        _reader = new BenchReader(folder);
        _last = _reader.StoredSpans() is [.., var span] ? span.To.Nanoseconds : 0;
        _inputs = Inputs().GetEnumerator();
    }

    public double Progress => _last <= 0 ? 0 : Math.Clamp((double)_at / _last, 0, 1);

    public IReadOnlyList<string> Notices => _begins is { } utc
        ? [$"{_folder}: readings before {UtcText.FromNanoseconds(utc)} have expired (see 'retention' of the bench file) or are missing; what came after was read"]
        : [];

    public bool TryRead(out EngineInput input)
    {
        if (!_inputs.MoveNext())
        {
            input = default;
            return false;
        }

        input = _inputs.Current;
        _at = input.Time.Nanoseconds;
        return true;
    }

    /// <summary>Every bench that was in force here, the last of them last.</summary>
    public IReadOnlyList<BenchDefinition> Benches() => [.. _reader.DifferentBenches().Select(b => b.Bench)];

    /// <summary>The calibrations that were applied back to past readings.</summary>
    public IReadOnlyList<(int Channel, Calibration Calibration, EngineTime From)> AppliedBack() => Running.AppliedBack.In(_reader);

    /// <summary>Every finding line the folder holds, oldest first.</summary>
    public IEnumerable<FindingLine> Findings()
    {
        long cursor = 0;
        while (_reader.Findings(cursor, FindingsAtOnce) is { Count: > 0 } page)
        {
            foreach (StoredFinding finding in page)
            {
                cursor = finding.Cursor;
                yield return finding.Line;
            }
        }
    }

    /// <summary>Every line of the book of alarms, oldest first.</summary>
    public IEnumerable<AlarmTransition> Alarms()
    {
        long cursor = 0;
        while (_reader.Alarms(cursor, FindingsAtOnce) is { Count: > 0 } page)
        {
            foreach (StoredAlarm alarm in page)
            {
                cursor = alarm.Cursor;
                yield return alarm.Line;
            }
        }
    }

    /// <summary>All that is still there. Where the beginning has gone, the clock and the bench of then come first.</summary>
    private IEnumerable<EngineInput> Inputs()
    {
        bool first = true;
        foreach (EngineInput input in _reader.ReadInputs(_reader.ExpiredThrough()))
        {
            if (first && input.Number > 1)
            {
                AnchorTable anchors = _reader.ReadAnchors();
                _begins = anchors.ToUtcNanoseconds(input.Time);
                foreach (EngineInput lent in LentStart.Before(input, _reader))
                {
                    yield return lent;
                }
            }

            first = false;
            yield return input;
        }
    }

    public void Dispose()
    {
        _inputs.Dispose();
        _reader.Dispose();
    }
}
