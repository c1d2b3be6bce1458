using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
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
    private long _at;

    /// <exception cref="StoreException">The folder holds no store, or can't be read.</exception>
    public StoreSource(string folder)
    {
        _reader = new BenchReader(folder);
        _last = _reader.StoredSpans() is [.., var span] ? span.To.Nanoseconds : 0;
        _inputs = _reader.ReadInputs(0).GetEnumerator();
    }

    public double Progress => _last <= 0 ? 0 : Math.Clamp((double)_at / _last, 0, 1);

    public IReadOnlyList<string> Notices => [];

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

    public void Dispose()
    {
        _inputs.Dispose();
        _reader.Dispose();
    }
}
