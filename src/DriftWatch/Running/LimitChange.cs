using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;

namespace DriftWatch.Running;

/// <summary>Another value for a limit of a channel or quantity, to be tried; without a value the limit is tried away.</summary>
/// <param name="Channel">Its id.</param>
/// <param name="Side">Low or high.</param>
/// <param name="Severity">Advisory or alarm.</param>
/// <param name="Value">In the unit of the channel, or as the limit's reference has it.</param>
internal sealed record LimitChange(string Channel, LimitSide Side, Severity Severity, double? Value)
{
    public const string Source = "tried";

    /// <summary>The bench with all changes. A limit that exists keeps its delays, deadband, states and reference; one that does not is absolute and judged at once.</summary>
    public static BenchDefinition Apply(BenchDefinition bench, IReadOnlyList<LimitChange> changes) => bench with
    {
        Channels = [.. bench.Channels.Select(c => c with { Limits = Apply(c.Id, c.Limits, changes) })],
        Quantities = [.. bench.Quantities.Select(q => q with { Limits = Apply(q.Id, q.Limits, changes) })],
    };

    private static IReadOnlyList<LimitDefinition> Apply(string id, IReadOnlyList<LimitDefinition> limits, IReadOnlyList<LimitChange> changes)
    {
        foreach (LimitChange change in changes.Where(c => c.Channel == id))
        {
            bool Meant(LimitDefinition limit) => limit.Side == change.Side && limit.Severity == change.Severity;
            limits = change.Value is not { } value
                ? [.. limits.Where(l => !Meant(l))]
                : limits.Any(Meant)
                    ? [.. limits.Select(l => Meant(l) ? l with { Value = value, Source = Source } : l)]
                    : [.. limits, new LimitDefinition { Side = change.Side, Severity = change.Severity, Value = value, Source = Source }];
        }

        return limits;
    }
}
