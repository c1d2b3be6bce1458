using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Units;
using DriftWatch.Watch.Roles;

namespace DriftWatch.Watch.States;

/// <summary>Turns the newest value of a channel into yes, no or silence, with hysteresis so that noise at a threshold says nothing new.</summary>
internal static class EvidenceReader
{
    /// <summary>dB under a baseline at which a level counts as gone. Source: common practice, no source (a clog is 6 to 12 dB, no tape 30 and more).</summary>
    private const double GoneBelowBaselineDb = 20;

    /// <summary>Level that counts as present where there is no baseline. Source: common practice, no source.</summary>
    private const double PresentDb = -30;

    private const double LevelHysteresisDb = 3;

    // A wheel that works turns at 240 or 250 revolutions a second. Source: common practice, no source.
    private const double StandsBelowRevolutionsPerSecond = 1;

    private static readonly TimeSpan FirstMoments = TimeSpan.FromSeconds(2);

    public static readonly double PsiPerInH2O = Unit.Parse("inH2O").Convert(1, Unit.Parse("psi"));

    /// <summary>The bench has a channel that tells whether tape runs, be it silent at the moment.</summary>
    public static bool CanTellRunning(RoleMap roles) =>
        roles.Has(ChannelRole.RfLevel) || roles.Has(ChannelRole.ControlTrack) || roles.Has(ChannelRole.ServoLock);

    /// <summary>
    /// The head wheel stands still, so nothing floats on the air. True also in the first moments of watching, before
    /// the wheel has been heard; false where the bench has no wheel speed or it is silent, because then it may turn.
    /// </summary>
    public static bool WheelStands(WatchContext context)
    {
        foreach (ChannelWatch wheel in context.Roles.Of(ChannelRole.WheelSpeed))
        {
            if (wheel.IsFresh(context.Now))
            {
                return wheel.LastValue * wheel.RevolutionsPerSecondPerUnit < StandsBelowRevolutionsPerSecond;
            }

            if (!wheel.HasValue && !wheel.Absence.InFault && context.Now - wheel.Absence.CountsFrom < FirstMoments)
            {
                return true;
            }
        }

        return false;
    }

    /// <summary>Regulated air: up, gone, or in between as before.</summary>
    public static Evidence Air(WatchContext context)
    {
        ChannelWatch? air = context.Roles.Fresh(ChannelRole.RegulatedAir, context.Now);
        return air?.Definition.Setpoint is { } setpoint
            ? Compare(air, air.LastValue, context.Settings.AirUpFraction * setpoint, context.Settings.AirGoneFraction * setpoint)
            : Evidence.Silent;
    }

    /// <summary>Supply: gone when it could not even give the share of the setpoint at which air counts as gone.</summary>
    public static Evidence Supply(WatchContext context)
    {
        ChannelWatch? supply = context.Roles.Fresh(ChannelRole.SupplyAir, context.Now);
        ChannelWatch[] regulated = context.Roles.Of(ChannelRole.RegulatedAir);
        if (supply is null || !supply.IsPressure || regulated.Length == 0 || !regulated[0].IsPressure || regulated[0].Definition.Setpoint is not { } setpoint)
        {
            return Evidence.Silent;
        }

        double setpointPsi = setpoint * regulated[0].PsiPerUnit;
        return Compare(
            supply,
            supply.LastValue * supply.PsiPerUnit,
            context.Settings.AirUpFraction * setpointPsi,
            context.Settings.AirGoneFraction * setpointPsi);
    }

    public static Evidence Vacuum(WatchContext context)
    {
        ChannelWatch? vacuum = context.Roles.Fresh(ChannelRole.GuideVacuum, context.Now);
        return vacuum is { IsPressure: true }
            ? Compare(
                vacuum,
                vacuum.LastValue * vacuum.PsiPerUnit / PsiPerInH2O,
                context.Settings.TapeOnGuideInH2O,
                0.5 * context.Settings.TapeOnGuideInH2O)
            : Evidence.Silent;
    }

    /// <summary>RF or control track: present on any channel is yes, absent on all that are fresh is no.</summary>
    public static Evidence Level(WatchContext context, ChannelRole role, out int saysNo)
    {
        saysNo = 0;
        bool any = false;
        foreach (ChannelWatch channel in context.Roles.Of(role))
        {
            if (!channel.IsFresh(context.Now))
            {
                channel.Evidence = Evidence.Silent;
                continue;
            }

            double present = role == ChannelRole.RfLevel && context.Settings.RfPresentDb is { } given ? given
                : channel.Baseline is { } baseline && baseline >= PresentDb ? baseline - GoneBelowBaselineDb
                : PresentDb; // no baseline, or one of when no tape ran: every level lies above what it would call gone
            switch (Compare(channel, channel.LastValue, present, present - LevelHysteresisDb))
            {
                case Evidence.Yes:
                    any = true;
                    break;
                case Evidence.No:
                    saysNo++;
                    break;
            }
        }

        return any ? Evidence.Yes : saysNo > 0 ? Evidence.No : Evidence.Silent;
    }

    public static Evidence Lock(WatchContext context)
    {
        ChannelWatch? servo = context.Roles.Fresh(ChannelRole.ServoLock, context.Now);
        return servo is null ? Evidence.Silent : Compare(servo, servo.LastValue, 0.5, 0.5);
    }

    private static Evidence Compare(ChannelWatch channel, double value, double yesFrom, double noBelow)
    {
        if (value >= yesFrom)
        {
            channel.Evidence = Evidence.Yes;
        }
        else if (value < noBelow || channel.Evidence == Evidence.Silent)
        {
            channel.Evidence = Evidence.No;
        }

        return channel.Evidence;
    }
}
