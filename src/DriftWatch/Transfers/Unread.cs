using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;

namespace DriftWatch.Transfers;

/// <summary>What a picture depends on and a bench has no channel of: a verdict says nothing of it, and that is said with it.</summary>
internal static class Unread
{
    private static readonly (ChannelRole Role, string Name)[] Wanted =
    [
        (ChannelRole.RegulatedAir, "the regulated air"), (ChannelRole.GuideVacuum, "the guide's vacuum"), (ChannelRole.RfLevel, "the heads' RF level"),
        (ChannelRole.ControlTrack, "the control track"), (ChannelRole.TimingError, "the timing error"), (ChannelRole.WheelSpeed, "the wheel's speed"),
        (ChannelRole.SyncLevel, "the sync level"), (ChannelRole.VideoLevel, "the video level"), (ChannelRole.AudioLevel, "the audio level"),
    ];

    /// <summary>In words, in the order of the way from the air to the sound; of four heads those that are missing are counted.</summary>
    public static IReadOnlyList<string> Of(BenchDefinition bench)
    {
        var names = new List<string>();
        foreach ((ChannelRole role, string name) in Wanted)
        {
            int read = bench.Channels.Count(c => c.Role == role);
            if (read == 0)
            {
                names.Add(name);
            }
            else if (role == ChannelRole.RfLevel && read < 4)
            {
                names.Add($"the RF level of {4 - read} of the four heads");
            }
        }

        return names;
    }

    /// <summary>One sentence; null where nothing is missing.</summary>
    public static string? Words(IReadOnlyList<string> unread) => unread.Count == 0 ? null
        : $"This bench has no reading of {(unread.Count == 1 ? unread[0] : $"{string.Join(", ", unread.Take(unread.Count - 1))} and {unread[^1]}")}: nothing can be said of {(unread.Count == 1 ? "it" : "them")}.";
}
