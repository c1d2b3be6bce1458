using DriftWatch.Analysis.Pneumatics;
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

    /// <summary>This machine's own slope of vacuum over air, in percent a psi; null where none was learned.</summary>
    public double? VacuumPercentPerPsi { get; set; }

    public JudgementSettings Settings { get; set; } = new();

    /// <summary>By the id of a channel or quantity; null where there is none of it.</summary>
    public ChannelWatch? Find(string? id) => Array.Find(Watched, w => string.Equals(w.Definition.Id, id, StringComparison.Ordinal));

    /// <summary>What the air makes of the guide vacuum, as a share of what it makes at a reference; null where it can't be told.</summary>
    /// <param name="air">The regulated air.</param>
    /// <param name="referencePsi">At which the vacuum was what it is held against.</param>
    public double? VacuumShare(ChannelWatch air, double referencePsi)
    {
        double airPsi = air.LastValue * air.PsiPerUnit;
        return VacuumPercentPerPsi is { } percent && air.Definition.Setpoint is { } setpoint
            ? VacuumLaw.Share(percent / 100, setpoint * air.PsiPerUnit, airPsi, referencePsi)
            : ChokedVenturi.DepressionShare(airPsi, referencePsi);
    }
}
