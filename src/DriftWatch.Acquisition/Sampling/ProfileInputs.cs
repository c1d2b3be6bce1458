using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Profiles;

namespace DriftWatch.Acquisition.Sampling;

internal static class ProfileInputs
{
    /// <summary>The place of a channel's input in its profile.</summary>
    /// <exception cref="ArgumentException">The profile has no such input: a mistake that checking the bench file reports.</exception>
    public static int IndexOf(InstrumentProfile profile, ChannelDefinition channel)
    {
        for (int i = 0; i < profile.Inputs.Count; i++)
        {
            if (profile.Inputs[i].Name == channel.Input)
            {
                return i;
            }
        }

        throw new ArgumentException(
            $"Channel '{channel.Id}' names input '{channel.Input}', which profile '{profile.Name}' does not have.", nameof(channel));
    }
}
