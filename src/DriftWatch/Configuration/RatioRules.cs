using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Names;

namespace DriftWatch.Configuration;

/// <summary>A ratio divides two series of one instrument, read in one scan; its period is theirs.</summary>
internal static class RatioRules
{
    public static void Resolve(List<ChannelSection> channels)
    {
        foreach (ChannelSection channel in channels)
        {
            if (channel.Definition.Ratio is not { } ratio)
            {
                continue;
            }

            SectionReader section = channel.Section.Table("ratio")!;
            ChannelSection? of = Find(channels, channel, section, "of", ratio.Of);
            ChannelSection? over = Find(channels, channel, section, "over", ratio.Over);
            if (of is null || over is null)
            {
                continue;
            }

            if (ReferenceEquals(of, over))
            {
                section.Say("over", "a channel over itself is always 1", "write over = the channel of the supply rail");
            }
            else if (of.Definition.Instrument != over.Definition.Instrument)
            {
                section.Say(
                    "over",
                    $"'{ratio.Over}' is read by instrument '{over.Definition.Instrument}', '{ratio.Of}' by '{of.Definition.Instrument}', so no scan holds both",
                    "write two channels of one instrument");
            }
            else if (of.Definition.Period != over.Definition.Period)
            {
                over.Section.Say(
                    "period",
                    $"'{ratio.Over}' is read every {DurationText.Write(over.Definition.Period)}, '{ratio.Of}' every {DurationText.Write(of.Definition.Period)}, but '{channel.Definition.Id}' divides them",
                    $"write period = \"{DurationText.Write(of.Definition.Period)}\" for both");
            }

            if (channel.Section.Has("period") && channel.Definition.Period != of.Definition.Period)
            {
                channel.Section.Say("period", $"a ratio is formed each time its channels are read, every {DurationText.Write(of.Definition.Period)}", "drop 'period'");
            }

            channel.Definition = channel.Definition with { Period = of.Definition.Period };
        }
    }

    private static ChannelSection? Find(List<ChannelSection> channels, ChannelSection self, SectionReader section, string key, string id)
    {
        ChannelSection? found = channels.Find(c => c.Definition.Id == id);
        if (found is null)
        {
            string? meant = NearestName.Of(id, channels.Where(c => c != self).Select(c => c.Definition.Id));
            section.Say(key, $"there is no channel \"{id}\"", meant is null ? "write the id of a channel of this file" : $"write {key} = \"{meant}\"");
            return null;
        }

        if (found.Section.Has("ratio"))
        {
            section.Say(key, $"'{id}' is a ratio itself", "write a channel that an instrument reads");
            return null;
        }

        if (found.Definition.Kind == ChannelKind.Frame)
        {
            section.Say(key, $"'{id}' is a frame", "write a series");
            return null;
        }

        return found;
    }
}
