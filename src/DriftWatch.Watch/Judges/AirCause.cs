using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Watch.Roles;

namespace DriftWatch.Watch.Judges;

/// <summary>
/// Where to look when regulated air is low: at the supply if it no longer leaves the regulator its headroom, else at
/// the regulator, the filter or a leak behind it; without a supply channel it can't be told.
/// </summary>
internal static class AirCause
{
    /// <summary>Headroom a regulator needs above its setpoint. Source: from memory (threshold table, 'supply − regulated', alarm).</summary>
    public const double HeadroomPsi = 10;

    public static (string Cause, List<FindingDetail> Details) Of(ChannelWatch air, WatchContext context)
    {
        var details = new List<FindingDetail>();
        ChannelWatch? supply = context.Roles.Fresh(ChannelRole.SupplyAir, context.Now);
        if (supply is null || !supply.IsPressure || !air.IsPressure)
        {
            return ("supply-unknown", details);
        }

        double supplyPsi = supply.LastValue * supply.PsiPerUnit;
        double airPsi = air.LastValue * air.PsiPerUnit;
        double wantedPsi = (air.Definition.Setpoint ?? air.LastValue) * air.PsiPerUnit;
        details.Add(new FindingDetail("supplyPsi", supplyPsi));
        details.Add(new FindingDetail("headroomPsi", supplyPsi - airPsi));
        return (supplyPsi - wantedPsi < HeadroomPsi ? "supply-low" : "regulator-filter-or-leak", details);
    }

    public static string Hint(string cause) => cause switch
    {
        "supply-low" => "the supply is too low to feed the regulator",
        "regulator-filter-or-leak" => "the supply is sufficient, look at regulator, filter and for leaks",
        _ => "whether the supply is at fault can't be told without a supply reading",
    };
}
