using DriftWatch.Configuration.Keys;
using DriftWatch.Configuration.Toml;
using DriftWatch.Measurement.Profiles;

namespace DriftWatch.Configuration;

/// <summary>Reads a sensor.toml. See device-profiles/REFERENCE.md for every key.</summary>
internal static class SensorProfileReader
{
    public static SensorProfile? Read(string file, TomlTable root, string name, MistakeList mistakes)
    {
        var top = new SectionReader(file, root, ProfileKeys.SensorRoot, mistakes);
        if (top.Table("sensor") is not { } section)
        {
            return null;
        }

        InstrumentProfileReader.SayOtherName(section, name);
        string? title = section.Text("title");
        string? rawUnit = section.Unit("raw-unit")?.Symbol;
        string? unit = section.Unit("unit")?.Symbol;
        bool ratiometric = section.Flag("ratiometric") ?? false;
        var calibration = section.Table("calibration") is { } table ? CalibrationReader.Read(table) : null;
        if (ratiometric && rawUnit is not null and not "1")
        {
            section.Say("raw-unit", $"'raw-unit' is \"{rawUnit}\", but a ratiometric sensor's raw value is a ratio", "write raw-unit = \"1\"");
        }

        var faults = FaultRulesReader.Read(section.Table("faults"));
        return title is null || rawUnit is null || unit is null || calibration is null
            ? null
            : new SensorProfile
            {
                Name = name,
                Title = title,
                RawUnit = rawUnit,
                Unit = unit,
                Nominal = calibration,
                Faults = faults,
                Ratiometric = ratiometric,
            };
    }
}
