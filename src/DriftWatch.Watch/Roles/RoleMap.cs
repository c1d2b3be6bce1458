using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Watch.Roles;

/// <summary>The channels of a bench by what they mean. Where several have one role, the first of the bench file that gives readings speaks for it.</summary>
internal sealed class RoleMap
{
    private static readonly int RoleCount = Enum.GetValues<ChannelRole>().Length;

    private readonly ChannelWatch[][] _byRole;

    public RoleMap(IReadOnlyList<ChannelWatch> channels)
    {
        _byRole = new ChannelWatch[RoleCount][];
        for (int role = 0; role < RoleCount; role++)
        {
            _byRole[role] = [.. channels.Where(c => (int)c.Definition.Role == role)];
        }
    }

    public static RoleMap Empty { get; } = new([]);

    public ChannelWatch[] Of(ChannelRole role) => _byRole[(int)role];

    public bool Has(ChannelRole role) => _byRole[(int)role].Length > 0;

    public ChannelWatch? Fresh(ChannelRole role, EngineTime now)
    {
        foreach (ChannelWatch channel in _byRole[(int)role])
        {
            if (channel.IsFresh(now))
            {
                return channel;
            }
        }

        return null;
    }
}
