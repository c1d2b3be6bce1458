namespace DriftWatch.Configuration;

/// <summary>Gives each channel the small number that stands for it in the log.</summary>
internal static class ChannelKeys
{
    /// <summary>Keys count from 0, as the store counts them; a key once given is never given to another channel, even when its channel is gone.</summary>
    public static void Give(List<ChannelSection> channels, IReadOnlyDictionary<string, int>? known)
    {
        int next = known is { Count: > 0 } ? known.Values.Max() + 1 : 0;
        foreach (ChannelSection channel in channels)
        {
            int? key = KnownKey(channel, known);
            channel.Definition = channel.Definition with { Key = key ?? next++ };
        }
    }

    private static int? KnownKey(ChannelSection channel, IReadOnlyDictionary<string, int>? known)
    {
        if (known is null)
        {
            return null;
        }

        foreach (string name in (string[])[channel.Definition.Id, .. channel.Definition.Aliases])
        {
            if (known.TryGetValue(name, out int key))
            {
                return key;
            }
        }

        return null;
    }
}
