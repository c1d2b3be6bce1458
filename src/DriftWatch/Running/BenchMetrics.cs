using System.Diagnostics.Metrics;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;

namespace DriftWatch.Running;

/// <summary>
/// What a running bench counts of itself, under the meter <c>DriftWatch</c>; every measurement carries the tag
/// <c>bench</c>. The names are listed in the contributor's guide and are stable.
/// </summary>
internal sealed class BenchMetrics : IDisposable
{
    public const string MeterName = "DriftWatch";

    private readonly Meter _meter = new(MeterName);
    private readonly Counter<long> _inputs;
    private readonly Counter<long> _findings;
    private readonly Histogram<double> _commit;
    private readonly KeyValuePair<string, object?> _bench;

    public BenchMetrics(string bench, IBenchView view)
    {
        _bench = new KeyValuePair<string, object?>("bench", bench);
        _inputs = _meter.CreateCounter<long>("driftwatch.inputs", "{input}", "Inputs journaled");
        _findings = _meter.CreateCounter<long>("driftwatch.findings.raised", "{finding}", "Findings raised, by severity");
        _commit = _meter.CreateHistogram<double>("driftwatch.commit.duration", "s", "Time of a commit to the journal and, where due, to the records");
        Observe("driftwatch.readings.late", "{reading}", "Readings that came after their instant was judged", () => view.Health.LateReadings);
        Observe("driftwatch.readings.dropped", "{reading}", "Readings lost because the bound on memory was reached", () => view.Health.DroppedReadings);
        Observe("driftwatch.readings.held", "{reading}", "Readings in memory that are not stored yet", () => view.Health.ReadingsHeldInMemory);
    }

    public void Committed(int inputs, TimeSpan took)
    {
        _inputs.Add(inputs, _bench);
        _commit.Record(took.TotalSeconds, _bench);
    }

    public void Told(IReadOnlyList<FindingLine> lines)
    {
        foreach (FindingLine line in lines)
        {
            if (line.Phase == FindingPhase.Raised)
            {
                _findings.Add(1, _bench, new KeyValuePair<string, object?>("severity", Slugs.Of(line.Severity)));
            }
        }
    }

    public void Dispose() => _meter.Dispose();

    private void Observe(string name, string unit, string description, Func<long> read) =>
        _meter.CreateObservableGauge(name, () => new Measurement<long>(read(), _bench), unit, description);
}
