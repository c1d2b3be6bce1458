using DriftWatch.Measurement.Channels;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.States;

namespace DriftWatch.Watch.Quantities;

/// <summary>
/// Guide vacuum with the air's part taken out: what it would be at the regulated air's setpoint by this machine's own
/// slope, or by the law of the choked venturi. Told only while tape runs, because open slots make no vacuum whatever the air does.
/// </summary>
internal sealed class VacuumQuantities : Derivation
{
    public override void OnTick(WatchContext context, QuantityBoard board)
    {
        if (board.Of(QuantityKind.NormalisedVacuum) is not { } output)
        {
            return;
        }

        ChannelWatch? vacuum = context.Roles.Fresh(ChannelRole.GuideVacuum, context.Now);
        ChannelWatch? air = context.Roles.Fresh(ChannelRole.RegulatedAir, context.Now);
        if (vacuum is not { IsPressure: true }
            || air is not { IsPressure: true, Definition.Setpoint: { } setpoint }
            || context.Machine.State is not (MachineState.Running or MachineState.Locked)
            || context.VacuumShare(air, setpoint * air.PsiPerUnit) is not { } share)
        {
            output.Untold(context);
            return;
        }

        output.OnDerived(context, vacuum.LastValue * vacuum.PsiPerUnit / EvidenceReader.PsiPerInH2O / share);
    }
}
