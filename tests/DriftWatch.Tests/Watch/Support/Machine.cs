using DriftWatch.Measurement.Channels;

namespace DriftWatch.Tests.Watch.Support;

/// <summary>Lets a full bench show a machine that stands in one state.</summary>
internal static class Machine
{
    /// <summary>Value of a channel in a state; the timing channel's is the peak of its frames.</summary>
    public static double Value(ChannelDefinition channel, MachineState state) => channel.Role switch
    {
        ChannelRole.RegulatedAir => state == MachineState.NoAir ? 0.2 : 50,
        ChannelRole.SupplyAir => state == MachineState.NoAir ? 0.5 : 90,
        ChannelRole.GuideVacuum => state >= MachineState.TapeOnGuide ? 10 : 0.1,
        ChannelRole.RfLevel or ChannelRole.ControlTrack => state >= MachineState.Running ? -10 : -60,
        ChannelRole.ServoLock => state == MachineState.Locked ? 1 : 0,
        ChannelRole.TimingError => 50,
        ChannelRole.CorrectorUse => 20,
        _ => 1,
    };

    /// <summary>Every channel of the bench that is not left out shows the state from one instant to another.</summary>
    public static Night Shows(this Night night, MachineState state, double from, double to, params int[] without)
    {
        foreach (ChannelDefinition channel in TestBench.AllChannels())
        {
            if (without.Contains(channel.Key))
            {
                continue;
            }

            if (channel.Kind == ChannelKind.Series)
            {
                night.Series(channel.Key, from, to, Value(channel, state));
            }
            else if (state >= MachineState.Running)
            {
                night.Frames(channel.Key, from, to, Value(channel, state));
            }
        }

        return night;
    }
}
