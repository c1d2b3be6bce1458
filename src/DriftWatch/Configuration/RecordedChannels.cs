using DriftWatch.Configuration.Keys;
using DriftWatch.Configuration.Toml;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Names;
using DriftWatch.Measurement.Units;

namespace DriftWatch.Configuration;

/// <summary>Whether a bench file that is tried on a recording fits what was recorded: other limits may be tried, other channels were not there.</summary>
internal static class RecordedChannels
{
    /// <param name="file">How mistakes name the file.</param>
    /// <param name="tried">The bench out of it, which read without a mistake.</param>
    /// <param name="recorded">The benches that the readings were recorded under.</param>
    public static IReadOnlyList<FileMistake> Check(string file, BenchDefinition tried, IReadOnlyList<BenchDefinition> recorded)
    {
        var mistakes = new MistakeList();
        if (TomlTreeReader.Read(file, tried.SourceText, new MistakeList()) is not { } root)
        {
            return [];
        }

        List<ChannelDefinition> all = [.. recorded.Reverse().SelectMany(b => b.Channels)];
        foreach (SectionReader section in new SectionReader(file, root, BenchKeys.Root, mistakes).Tables("channel"))
        {
            if (tried.Channels.FirstOrDefault(c => c.Id == section.Text("id")) is { } channel)
            {
                Check(section, channel, all);
            }
        }

        return mistakes.InReadingOrder(file);
    }

    private static void Check(SectionReader section, ChannelDefinition channel, List<ChannelDefinition> recorded)
    {
        ChannelDefinition? was = recorded.Find(c => c.Id == channel.Id || channel.Aliases.Contains(c.Id) || c.Aliases.Contains(channel.Id));
        if (was is null)
        {
            string[] known = [.. recorded.Select(c => c.Id).Distinct()];
            section.Say(
                "id",
                $"no channel '{channel.Id}' was recorded; {NearestName.Hint(channel.Id, known)}recorded were {string.Join(", ", known)}",
                "write the id it was recorded under, name that id in 'aliases', or leave the channel out");
        }
        else if (was.Kind != channel.Kind)
        {
            section.SayHere($"'{channel.Id}' was recorded as a {Slugs.Of(was.Kind)}, this is a {Slugs.Of(channel.Kind)}", "keep the instrument and input it was recorded from");
        }
        else if (was.RawUnit != channel.RawUnit && !Unit.Parse(was.RawUnit).ConvertsTo(Unit.Parse(channel.Unit)))
        {
            section.Say(
                "unit",
                $"'{channel.Id}' was recorded in {was.RawUnit}, which this channel reads neither as {channel.RawUnit} nor as {channel.Unit}",
                $"keep the sensor it was recorded with (its unit was {was.Unit})");
        }
    }
}
