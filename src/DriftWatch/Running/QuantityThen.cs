using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports;
using DriftWatch.Watch;
using DriftWatch.Watch.Quantities;
using BenchReader = DriftWatch.Storage.Queries.BenchReader;

namespace DriftWatch.Running;

/// <summary>What a derived quantity was at an instant, in the unit that its bench told it in.</summary>
internal readonly record struct QuantityValue(double Value, string Unit);

/// <summary>
/// A derived quantity at an instant of the record, worked out again by the engine that judges, since the store keeps readings and not what follows
/// from them. It begins as long before as the page's curves do, so that both say the same.
/// </summary>
internal static class QuantityThen
{
    /// <summary>A quantity is told each second of judged time; what was told longer before is of another instant. Source: our own choice.</summary>
    private static readonly TimeSpan Near = TimeSpan.FromSeconds(2);

    /// <param name="folder">The bench's store; a service may go on writing to it.</param>
    /// <param name="id">Of the quantity.</param>
    /// <param name="utc">The instant, nanoseconds since 1970, to the millisecond.</param>
    /// <returns>Null where it could not be told then, or nothing was recorded.</returns>
    /// <exception cref="Storage.StoreException">The store can't be read.</exception>
    public static QuantityValue? At(string folder, string id, long utc)
    {
        using var reader = new BenchReader(folder);
        AnchorTable anchors = reader.ReadAnchors();
        if (anchors.Anchors.Count == 0)
        {
            return null;
        }

        EngineTime after = anchors.FromUtcNanoseconds(utc) + TimeSpan.FromMilliseconds(1); // who names an instant names a whole millisecond
        var engine = new WatchEngine();
        var lines = new List<FindingLine>();
        var alarms = new List<AlarmTransition>();
        var now = new List<QuantityNow>();
        QuantityValue? told = null;
        using var source = new SpanSource(folder, after - WhatIfPass.Lead, after);
        while (source.TryRead(out EngineInput input))
        {
            engine.Apply(input, lines, alarms);
            lines.Clear();
            alarms.Clear();
            if (input.Kind == InputKind.Tick && input.Time >= after - Near)
            {
                engine.ReadQuantities(now);
                int place = now.FindIndex(q => q.Id == id);
                told = place >= 0 && now[place].Value is { } value ? new QuantityValue(value, engine.Bench!.Quantities[place].Unit) : null;
            }
        }

        return told;
    }
}
