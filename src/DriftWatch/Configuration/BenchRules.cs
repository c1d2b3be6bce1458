using DriftWatch.Measurement.Channels;

namespace DriftWatch.Configuration;

/// <summary>What only the whole bench can show: things said twice, and periods that nothing can keep.</summary>
internal static class BenchRules
{
    /// <summary>A series carries at most this many readings a second; faster signals are reduced by the board.</summary>
    private const double FastestSeriesHz = 100;

    /// <summary>A frame carries at most this many a second.</summary>
    private const double FastestFrameHz = 10;

    public static void Check(List<ChannelSection> channels, List<InstrumentSection> instruments, ProfileCatalog catalog)
    {
        SayTakenNames(channels);
        SaySharedInputs(channels);
        RoleRules.Check(channels);
        foreach (ChannelSection channel in channels)
        {
            SayPeriod(channel);
            SayStaleness(channel);
        }

        LineBudget.Check(channels, instruments, catalog);
    }

    private static void SayTakenNames(List<ChannelSection> channels)
    {
        var taken = new Dictionary<string, int>(StringComparer.Ordinal);
        foreach (ChannelSection channel in channels)
        {
            if (!taken.TryAdd(channel.Definition.Id, channel.Section.LineOf("id")))
            {
                channel.Section.Say("id", $"channel '{channel.Definition.Id}' stands already in line {taken[channel.Definition.Id]}", "give each channel its own id");
            }
        }

        foreach (ChannelSection channel in channels)
        {
            foreach (string alias in channel.Definition.Aliases)
            {
                if (!taken.TryAdd(alias, channel.Section.LineOf("aliases")))
                {
                    channel.Section.Say("aliases", $"alias \"{alias}\" is taken by the channel of line {taken[alias]}", "drop it: a name leads to one channel");
                }
            }
        }
    }

    private static void SaySharedInputs(List<ChannelSection> channels)
    {
        var taken = new Dictionary<(string, string), ChannelSection>();
        foreach (ChannelSection channel in channels)
        {
            if (channel.Definition is { Instrument: { } instrument, Input: { } input } && !taken.TryAdd((instrument, input), channel))
            {
                ChannelSection first = taken[(instrument, input)];
                channel.Section.Say(
                    "input",
                    $"input '{input}' of '{instrument}' is read by channel '{first.Definition.Id}' of line {first.Section.Line} already",
                    "write the input of this channel, or drop one of the two");
            }
        }
    }

    private static void SayPeriod(ChannelSection channel)
    {
        TimeSpan period = channel.Definition.Period;
        bool frame = channel.Definition.Kind == ChannelKind.Frame;
        double fastest = frame ? FastestFrameHz : FastestSeriesHz;
        if (channel.Section.Has("period") && period > TimeSpan.Zero && period.TotalSeconds < 1 / fastest)
        {
            channel.Section.Say(
                "period",
                $"'period' of {DurationText.Write(period)} is {SectionReader.Plain(Math.Round(1 / period.TotalSeconds, 3))} a second, a {(frame ? "frame" : "series")} takes at most {fastest:0}",
                $"write period = \"{DurationText.Write(TimeSpan.FromSeconds(1 / fastest))}\" or more; let the board reduce faster signals to {(frame ? "fewer frames" : "a minimum and maximum a period")}");
        }
        else if (period.Ticks % TimeSpan.TicksPerMillisecond != 0)
        {
            channel.Section.Say("period", $"'period' of {DurationText.Write(period)} is not a whole number of milliseconds", $"write period = \"{Math.Max(1, Math.Round(period.TotalMilliseconds)):0} ms\"");
        }
    }

    private static void SayStaleness(ChannelSection channel)
    {
        ChannelDefinition definition = channel.Definition;
        if (definition.StaleAdvisory < definition.Period)
        {
            channel.Section.Say(
                "stale-advisory",
                $"'stale-advisory' of {DurationText.Write(definition.StaleAdvisory)} is shorter than the period of {DurationText.Write(definition.Period)}",
                $"write stale-advisory = \"{DurationText.Write(3 * definition.Period)}\" or more");
        }

        if (definition.StaleAlarm <= definition.StaleAdvisory)
        {
            channel.Section.Say(
                channel.Section.Has("stale-alarm") ? "stale-alarm" : "stale-advisory",
                $"the channel is stale (alarm) after {DurationText.Write(definition.StaleAlarm)}, not later than stale (advisory) after {DurationText.Write(definition.StaleAdvisory)}",
                "write stale-alarm longer than stale-advisory");
        }
    }
}
