using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Profiles;

namespace DriftWatch.Configuration;

/// <summary>
/// Whether a line can carry what is asked of it. Only the least possible is counted (shortest replies, no thinking time
/// of the instrument), so that what is refused here is certain not to work; what passes may still be too much.
/// </summary>
internal static class LineBudget
{
    /// <summary>Start, eight data bits, stop; parity makes it longer.</summary>
    private const double BitsPerCharacter = 10;

    public static void Check(List<ChannelSection> channels, List<InstrumentSection> instruments, ProfileCatalog catalog)
    {
        foreach (IGrouping<string, InstrumentSection> line in instruments.GroupBy(LineOf, StringComparer.Ordinal))
        {
            var load = new List<(ChannelSection Channel, double Seconds)>();
            foreach (InstrumentSection instrument in line)
            {
                if (catalog.Instrument(instrument.Definition.Profile).Profile is { } profile)
                {
                    List<ChannelSection> read = channels.FindAll(c => c.Definition.Instrument == instrument.Definition.Id && c.Input is not null);
                    load.AddRange(Load(profile, instrument.Definition.Connection, read));
                }
            }

            double share = load.Sum(l => l.Seconds / l.Channel.Definition.Period.TotalSeconds);
            if (share <= 1)
            {
                continue;
            }

            ChannelSection finest = load.MinBy(l => l.Channel.Definition.Period).Channel;
            TimeSpan possible = TimeSpan.FromMilliseconds(Math.Ceiling(finest.Definition.Period.TotalMilliseconds * share / 10) * 10);
            finest.Section.Say(
                "period",
                $"'period' of {DurationText.Write(finest.Definition.Period)} is finer than {Words(line.First().Definition.Connection)} can carry: what its channels ask takes {share * 100:0} % of the time",
                $"write period = \"{DurationText.Write(possible)}\" or more for its channels, read fewer inputs, or speed up the line");
        }
    }

    /// <summary>A name for what is shared; instruments that share nothing get their own.</summary>
    private static string LineOf(InstrumentSection instrument)
    {
        ConnectionDefinition connection = instrument.Definition.Connection;
        return connection.Kind switch
        {
            ConnectionKind.Serial when connection.Port is not null => "serial " + connection.Port,
            ConnectionKind.I2c => "i2c " + connection.Bus,
            ConnectionKind.Spi => "spi " + connection.Bus,
            _ => "own " + instrument.Definition.Id,
        };
    }

    private static string Words(ConnectionDefinition connection) => connection.Kind switch
    {
        ConnectionKind.Serial => $"a line of {connection.Baud} bit/s",
        ConnectionKind.I2c => $"I2C bus {connection.Bus}",
        ConnectionKind.Spi => $"SPI bus {connection.Bus}",
        _ => "the line",
    };

    private static IEnumerable<(ChannelSection Channel, double Seconds)> Load(InstrumentProfile profile, ConnectionDefinition connection, List<ChannelSection> read)
    {
        double character = connection.Kind == ConnectionKind.Serial ? BitsPerCharacter / connection.Baud : 0;
        switch (profile.Protocol)
        {
            case InstrumentProtocol.Lines:
                // One line carries all series; each frame has its own line. A field is at least a digit and a delimiter.
                ChannelSection? finest = read.FindAll(c => c.Definition.Kind == ChannelKind.Series).MinBy(c => c.Definition.Period);
                if (finest is not null && profile.Lines is { } format)
                {
                    yield return (finest, 2 * format.FieldCount * character);
                }

                foreach (ChannelSection frame in read.Where(c => c.Definition.Kind == ChannelKind.Frame))
                {
                    yield return (frame, 2 * frame.Input!.Points.GetValueOrDefault() * character);
                }

                break;
            case InstrumentProtocol.Scpi:
                foreach (ChannelSection channel in read)
                {
                    // The query with its end, and a reply of at least a digit with its end.
                    yield return (channel, ((channel.Input!.Query?.Length ?? 0) + 3) * character);
                }

                break;
            case InstrumentProtocol.ModbusRtu:
                // One request a function and period at best: 8 characters out, 5 and the registers back, twice 3.5 of silence.
                foreach (IGrouping<(int, TimeSpan), ChannelSection> request in read.GroupBy(c => (c.Input!.Function, c.Definition.Period)))
                {
                    double registers = request.Sum(c => c.Input!.Type is "int16" or "uint16" ? 1 : 2);
                    yield return (request.First(), (8 + 5 + (2 * registers) + 7) * character);
                }

                break;
            case InstrumentProtocol.Board when profile.Board is not null:
                foreach (IGrouping<TimeSpan, ChannelSection> scan in read.GroupBy(c => c.Definition.Period))
                {
                    double inputs = profile.Board == "bme280" ? 1 : scan.Count();
                    yield return (scan.First(), inputs * BoardPins.SecondsPerInput(profile.Board));
                }

                break;
        }
    }
}
