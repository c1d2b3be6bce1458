using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Drifts;
using DriftWatch.Watch.Quantities;
using DriftWatch.Watch.Speaking;
using DriftWatch.Watch.States;

namespace DriftWatch.Watch.Roles;

/// <summary>What judges share while one input is judged.</summary>
internal sealed class WatchContext
{
    public EngineTime Now { get; set; }

    public FindingDesk Desk { get; } = new();

    public RoleMap Roles { get; set; } = RoleMap.Empty;

    public QuantityBoard Quantities { get; } = new();

    /// <summary>What is looked at is not remembered, so one does for all channels.</summary>
    public DriftWindow DriftWindow { get; } = new();

    public StateTracker Machine { get; } = new();

    /// <summary>Channels and derived quantities: all that is judged and has a baseline.</summary>
    public ChannelWatch[] Watched { get; set; } = [];

    public JudgementSettings Settings { get; set; } = new();

    /// <summary>By the id of a channel or quantity; null where there is none of it.</summary>
    public ChannelWatch? Find(string? id) => Array.Find(Watched, w => string.Equals(w.Definition.Id, id, StringComparison.Ordinal));
}
