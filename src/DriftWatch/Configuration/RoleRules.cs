using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Units;

namespace DriftWatch.Configuration;

/// <summary>What each role measures, and how many channels of a bench may have it.</summary>
internal static class RoleRules
{
    private static readonly Dictionary<ChannelRole, string[]> UnitsByRole = new()
    {
        [ChannelRole.SupplyAir] = ["psi", "bar", "kPa"],
        [ChannelRole.RegulatedAir] = ["psi", "bar", "kPa"],
        [ChannelRole.GuideVacuum] = ["inH2O", "mbar", "kPa"],
        [ChannelRole.RfLevel] = ["dB"],
        [ChannelRole.ControlTrack] = ["dB"],
        [ChannelRole.TimingError] = ["ns", "us"],
        [ChannelRole.CorrectorUse] = ["%"],
        [ChannelRole.ServoLock] = ["1"],
        [ChannelRole.WheelSpeed] = ["rev/s", "rev/min", "Hz"],
        [ChannelRole.SyncLevel] = ["IRE", "mV"],
        [ChannelRole.VideoLevel] = ["IRE", "mV"],
        [ChannelRole.AudioLevel] = ["dB"],
        [ChannelRole.DewPoint] = ["degC", "degF"],
        [ChannelRole.AmbientTemperature] = ["degC", "degF"],
        [ChannelRole.AmbientHumidity] = ["%RH"],
        [ChannelRole.Barometer] = ["hPa", "mbar"],
        [ChannelRole.CompressorRunning] = ["1"],
        [ChannelRole.SensorRail] = ["V"],
        [ChannelRole.ControlTrackPhase] = ["deg"],
        [ChannelRole.RfTilt] = ["dB"],
        [ChannelRole.GuideServo] = ["%"],
        [ChannelRole.TapeCounter] = ["s", "min", "h"],
        [ChannelRole.Timecode] = ["s"],
    };

    /// <summary>Judgement looks for the one channel of these; a second would leave it to chance which is meant.</summary>
    private static readonly HashSet<ChannelRole> OnlyOnce =
    [
        ChannelRole.SupplyAir, ChannelRole.RegulatedAir, ChannelRole.GuideVacuum, ChannelRole.ControlTrack, ChannelRole.TimingError,
        ChannelRole.CorrectorUse, ChannelRole.ServoLock, ChannelRole.WheelSpeed, ChannelRole.DewPoint, ChannelRole.CompressorRunning,
        ChannelRole.ControlTrackPhase, ChannelRole.RfTilt, ChannelRole.GuideServo,
        ChannelRole.TapeCounter, ChannelRole.Timecode,
    ];

    public static void SayWrongQuantity(SectionReader section, ChannelRole role, ChannelKind? kind, Unit unit)
    {
        if (UnitsByRole.TryGetValue(role, out string[]? units) && !units.Any(u => Unit.Parse(u).ConvertsTo(unit)))
        {
            string quantity = Unit.Parse(units[0]).Quantity;
            section.Say(
                "unit",
                $"unit \"{unit.Symbol}\" is {unit.Quantity}, the role {Slugs.Of(role)} is {quantity}",
                $"write unit = \"{units[0]}\"{(units.Length > 1 ? " or \"" + string.Join("\" or \"", units[1..]) + "\"" : "")}");
        }

        if (role == ChannelRole.TimingError && kind == ChannelKind.Series && section.Has("input"))
        {
            section.Say("role", "the role timing-error is a frame, the input is a series", "write role = \"other\", or name an input of kind frame");
        }
        else if (kind == ChannelKind.Frame && role is not (ChannelRole.TimingError or ChannelRole.Other))
        {
            section.Say("role", $"the role {Slugs.Of(role)} is a series, the input is a frame", "write role = \"timing-error\" or role = \"other\"");
        }
    }

    public static void Check(List<ChannelSection> channels)
    {
        var seen = new Dictionary<(ChannelRole, int), ChannelSection>();
        foreach (ChannelSection channel in channels)
        {
            ChannelDefinition definition = channel.Definition;
            if (definition.Role == ChannelRole.RfLevel && !channel.Section.Has("head"))
            {
                channel.Section.SayHere($"{channel.Section.Name} is the RF level of no head", "write head = 1, 2, 3 or 4");
            }

            if (definition.Role == ChannelRole.RegulatedAir && !channel.Section.Has("setpoint"))
            {
                channel.Section.SayHere(
                    $"{channel.Section.Name} has the role regulated-air but no setpoint, from which its limits follow",
                    $"write setpoint = the working pressure of your machine in {definition.Unit}, such as setpoint = {SectionReader.Plain(ExampleSetpoint(definition.Unit))}");
            }

            if (definition.Setpoint <= 0 && definition.Role == ChannelRole.RegulatedAir)
            {
                channel.Section.Say("setpoint", $"'setpoint' is {SectionReader.Plain(definition.Setpoint.Value)}, allowed is more than 0", "write the working pressure of your machine");
            }

            bool once = OnlyOnce.Contains(definition.Role) || (definition.Role == ChannelRole.RfLevel && definition.Head is not null);
            if (once && !seen.TryAdd((definition.Role, definition.Role == ChannelRole.RfLevel ? definition.Head!.Value : 0), channel))
            {
                ChannelSection first = seen[(definition.Role, definition.Role == ChannelRole.RfLevel ? definition.Head!.Value : 0)];
                string what = definition.Role == ChannelRole.RfLevel ? $"RF level of head {definition.Head}" : $"role {Slugs.Of(definition.Role)}";
                channel.Section.Say(
                    definition.Role == ChannelRole.RfLevel ? "head" : "role",
                    $"the {what} has channel '{first.Definition.Id}' of line {first.Section.Line} already",
                    definition.Role == ChannelRole.RfLevel ? "write the head of this channel" : "write role = \"other\" for the one that judgement is to leave alone");
            }
        }
    }

    public static string UnitsInWords(ChannelRole role) =>
        UnitsByRole.TryGetValue(role, out string[]? units) ? $"{Unit.Parse(units[0]).Quantity}: {string.Join(", ", units.Select(u => $"`{u}`"))}" : "any";

    public static string CountInWords(ChannelRole role) =>
        role == ChannelRole.RfLevel ? "one a head, with `head`" : OnlyOnce.Contains(role) ? "one" : "any";

    private static double ExampleSetpoint(string unit) =>
        Unit.TryParse(unit, out Unit known) && Unit.Parse("psi").ConvertsTo(known)
            ? Math.Round(Unit.Parse("psi").Convert(50, known), 2)
            : 50;
}
