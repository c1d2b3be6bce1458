using DriftWatch.Configuration;
using DriftWatch.Configuration.Toml;
using DriftWatch.Measurement.Profiles;
using Xunit;

namespace DriftWatch.Tests.Profiles;

/// <summary>Every profile that comes with the program is sound and documented.</summary>
public sealed class ShippedProfileTests
{
    public static TheoryData<string> Instruments => Names(ProfileCatalog.InstrumentFile);

    public static TheoryData<string> Sensors => Names(ProfileCatalog.SensorFile);

    [Fact]
    public void The_promised_profiles_are_there()
    {
        Assert.Equal(
            [
                "adc-12bit-spi", "adc-16bit-i2c", "climate-board-i2c", "line-streamer", "multimeter-scpi-serial",
                "multimeter-scpi-tcp", "practice-rig", "pressure-transmitter-modbus",
            ],
            Listed(ProfileCatalog.InstrumentFile));
        Assert.Equal(
            [
                "pressure-loop-150psi", "pressure-ratiometric-100psi", "pressure-ratiometric-150psi", "rf-log-detector-25mv",
                "vacuum-differential-25inh2o",
            ],
            Listed(ProfileCatalog.SensorFile));
    }

    [Theory]
    [MemberData(nameof(Instruments))]
    public void An_instrument_profile_reads_without_a_mistake(string name)
    {
        var mistakes = new MistakeList();
        InstrumentProfile? profile = new ProfileCatalog(ProfileFolders.Default, mistakes).Instrument(name).Profile;
        Assert.Equal([], mistakes.InReadingOrder("").Select(m => m.ToString()));
        Assert.NotNull(profile);
        Assert.NotEmpty(profile.Inputs);
    }

    [Theory]
    [MemberData(nameof(Sensors))]
    public void A_sensor_profile_reads_without_a_mistake(string name)
    {
        var mistakes = new MistakeList();
        SensorProfile? profile = new ProfileCatalog(ProfileFolders.Default, mistakes).Sensor(name).Profile;
        Assert.Equal([], mistakes.InReadingOrder("").Select(m => m.ToString()));
        Assert.NotNull(profile);
    }

    [Theory]
    [MemberData(nameof(Instruments))]
    [MemberData(nameof(Sensors))]
    public void A_profile_has_a_readme_with_wiring_ranges_calibration_and_cautions(string name)
    {
        string folder = Path.Combine(ProfileFolders.Default[0], name);
        string readme = File.ReadAllText(Path.Combine(folder, "README.md"));
        if (name == "practice-rig")
        {
            return;
        }

        foreach (string heading in (string[])["## Wiring", "## Ranges", "## Calibration", "## Cautions"])
        {
            Assert.Contains(heading, readme, StringComparison.Ordinal);
        }

        Assert.Contains("no safety interlock", readme, StringComparison.Ordinal);
        Assert.True(File.Exists(Path.Combine(folder, "transcript.txt")), "transcript.txt is missing");
    }

    private static TheoryData<string> Names(string file) =>
        [.. Listed(file)];

    private static IReadOnlyList<string> Listed(string file) =>
        new ProfileCatalog(ProfileFolders.Default, new MistakeList()).Names(file);
}
