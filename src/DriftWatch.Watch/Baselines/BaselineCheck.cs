using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Baselines;

/// <summary>One thing that is wrong while a baseline is taken.</summary>
/// <param name="What">As a slug.</param>
/// <param name="Words">For a person.</param>
/// <param name="Subject">Id of the channel or quantity; null for the bench or an instrument.</param>
internal readonly record struct Unwell(string What, string Words, string? Subject);

/// <summary>
/// Whether the machine is fit to be what later values are held against. A person's baseline is taken all the same, with
/// a finding that says what is wrong; the machine waits with its own.
/// </summary>
internal static class BaselineCheck
{
    // Source: threshold table, regulated air is advisory from 2 of 50 psi off.
    private const double OffSetpoint = 0.04;

    /// <summary>What is wrong now, in the order of the bench; empty where nothing is.</summary>
    public static List<Unwell> Of(WatchContext context, ChannelWatch[] watched)
    {
        var unwell = new List<Unwell>();
        foreach (OpenFinding open in context.Desk.Open)
        {
            string subject = open.Line.Channel ?? "the bench";
            switch (open.Line.Kind)
            {
                case FindingKinds.BelowLimit or FindingKinds.AboveLimit or FindingKinds.AirBelowSetpoint or FindingKinds.VacuumLoss or FindingKinds.PressureSag:
                    unwell.Add(new Unwell("limit", $"{subject} is beyond a limit", open.Line.Channel));
                    break;
                case FindingKinds.SensorFault or FindingKinds.Stale or FindingKinds.InstrumentSilent:
                    unwell.Add(new Unwell("fault", $"{subject} gives no valid readings", open.Line.Channel));
                    break;
                case FindingKinds.Drift:
                    unwell.Add(new Unwell("drifting", $"{subject} drifts", open.Line.Channel));
                    break;
                case FindingKinds.Cause:
                    break; // it names what others have said
                default:
                    if (open.Line.Severity == Severity.Alarm)
                    {
                        unwell.Add(new Unwell("alarm", $"an alarm stands: {open.Line.Kind}", open.Line.Channel));
                    }

                    break;
            }
        }

        foreach (ChannelWatch channel in watched)
        {
            ChannelDefinition definition = channel.Definition;
            if (channel.Means.MeanAt(context.Now) is not { } mean)
            {
                continue;
            }

            if (definition is { Role: ChannelRole.RegulatedAir, Setpoint: { } setpoint } && Math.Abs(mean - setpoint) > OffSetpoint * Math.Abs(setpoint))
            {
                unwell.Add(new Unwell("off-setpoint", $"{definition.Id} is {Say.Number(mean)} {definition.Unit}, not {Say.Number(setpoint)}", definition.Id));
            }

            if (channel.Drift?.IsMoving(context, mean) == true && !unwell.Contains(new Unwell("drifting", $"{definition.Id} drifts", definition.Id)))
            {
                unwell.Add(new Unwell("drifting", $"{definition.Id} is not steady yet", definition.Id));
            }
        }

        return unwell;
    }
}
