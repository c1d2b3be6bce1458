using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Units;
using Xunit;

namespace DriftWatch.Tests.Configuration;

/// <summary>What sound bench files come to.</summary>
public sealed class BenchFileTests
{
    [Fact]
    public void A_bench_with_one_channel_is_a_bench()
    {
        BenchFileResult result = BenchText.Load(BenchText.Head + BenchText.Volts);
        Assert.Equal([], result.Mistakes.Select(m => m.ToString()));
        ChannelDefinition channel = Assert.Single(result.Bench!.Definition.Channels);
        Assert.Equal(TimeSpan.FromMilliseconds(100), channel.Period);
        Assert.Equal(TimeSpan.FromSeconds(10), channel.StaleAlarm);
        Assert.Empty(channel.Limits);
        Assert.Equal(0, channel.Key);
    }

    /// <summary>For the evidence: as the plates of the devices say, in the order of the signal.</summary>
    [Fact]
    public void Plates_and_the_devices_behind_the_machine_are_kept_as_they_are_told()
    {
        BenchFileResult result = BenchText.Load(BenchText.Head + BenchText.Volts + """

            [machine]
            label = "Machine 2"
            maker = "Harbour Works"
            serial-number = "0117"
            [[device]]
            role = "time-base correction"
            model = "TB-7"
            signal = "SDI, 10 bit"
            [[device]]
            role = "recorder"
            note = "lossless"
            """);
        Assert.Equal([], result.Mistakes.Select(m => m.ToString()));
        BenchDefinition bench = result.Bench!.Definition;
        Assert.Equal(new Nameplate("Harbour Works", null, "0117"), bench.Machine.Plate);
        Assert.Equal("Harbour Works, serial 0117", bench.Machine.Plate!.ToString());
        Assert.Equal(
            [new DeviceDefinition { Role = "time-base correction", Plate = new Nameplate(null, "TB-7", null), Signal = "SDI, 10 bit" }, new DeviceDefinition { Role = "recorder", Note = "lossless" }],
            bench.Devices);
        Assert.All(bench.Instruments, i => Assert.Null(i.Plate));
        Assert.Null(BenchText.Load(BenchText.Head + BenchText.Volts).Bench!.Definition.Devices);
    }

    [Fact]
    public void Known_and_renamed_channels_keep_their_keys_and_new_ones_get_one_never_given()
    {
        var keys = new Dictionary<string, int>(StringComparer.Ordinal) { ["volts"] = 3, ["former"] = 7, ["gone"] = 9 };
        string other(string id, string input, string extra) => BenchText.Volts.Replace("\"volts\"", $"\"{id}\"", StringComparison.Ordinal).Replace("a0", input, StringComparison.Ordinal) + extra + "\n";
        BenchFileResult result = BenchText.Load(
            BenchText.Head + other("fresh", "a1", "") + BenchText.Volts + other("renamed", "a2", "aliases = [\"former\"]"), keys);
        Assert.Equal([10, 3, 7], result.Bench!.Definition.Channels.Select(c => c.Key));
    }

    [Fact]
    public void The_hash_follows_the_file_and_the_profiles_it_uses()
    {
        string text = BenchText.Head.Replace("adc-16bit-i2c", "my-board", StringComparison.Ordinal) + BenchText.Volts;
        const string Profile = "[instrument]\nname = \"my-board\"\ntitle = \"x\"\nprotocol = \"board\"\n[board]\nbinding = \"ads1115\"\n[[input]]\nname = \"a0\"\nunit = \"V\"\npin = \"a0\"\n";
        string Hash(string bench, string profile) => BenchText.Load(bench, null, ("my-board/profile.toml", profile)).Bench!.Definition.SourceHash;
        Assert.Equal(Hash(text, Profile), Hash(text, Profile));
        Assert.NotEqual(Hash(text, Profile), Hash(text + "\n", Profile));
        Assert.NotEqual(Hash(text, Profile), Hash(text, Profile + "full-scale-volts = 4.096\n"));
    }

    /// <summary>Levels of NAMUR NE 43 (3.6 and 21 mA failure) over 250 ohm: 0.9 V and 5.25 V.</summary>
    [Fact]
    public void A_current_loop_over_a_resistor_has_the_levels_of_NAMUR_NE_43_in_volts()
    {
        ChannelDefinition channel = One("unit = \"psi\"\nsensor = \"pressure-loop-150psi\"\nshunt-ohms = 250.0\n");
        Assert.Equal(0.9, channel.Faults.Low!.Value, 12);
        Assert.Equal(FaultCode.OpenLoop, channel.Faults.BelowFault);
        Assert.Equal(5.25, channel.Faults.High!.Value, 12);
        Assert.Equal(FaultCode.LoopHigh, channel.Faults.AboveFault);
        Assert.Equal(75, channel.Calibration.Convert(3.0), 9);
        Assert.Equal(-1.875, channel.Calibration.Convert(0.95), 9);
        Assert.Equal(154.6875, channel.Calibration.Convert(5.125), 9);
    }

    [Fact]
    public void A_sensor_in_psi_serves_a_channel_in_bar()
    {
        ChannelDefinition channel = One("unit = \"bar\"\nsensor = \"pressure-ratiometric-150psi\"\nrail-volts = 5.0\n");
        Assert.Equal(150 * 0.06894757, channel.Calibration.Convert(4.5), 6);
        Assert.Equal(0.25, channel.Faults.Low!.Value, 12);
    }

    [Fact]
    public void Six_decibels_are_a_factor_of_two_and_150_millivolts_of_the_detector()
    {
        ChannelDefinition channel = One("unit = \"dB\"\nsensor = \"rf-log-detector-25mv\"\n");
        Assert.Equal(6.0, channel.Calibration.Convert(1.85) - channel.Calibration.Convert(1.70), 9);
        Assert.Equal(6.0206 / 40, (20 * Math.Log10(2)) / 40, 6);
    }

    [Fact]
    public void Calibrations_in_all_forms()
    {
        Assert.Equal(new LineCalibration(25, -12.5), One("unit = \"V\"\ncalibration = { line = { gain = 25.0, offset = -12.5 } }\n").Calibration);
        Assert.Equal(50, One("unit = \"V\"\ncalibration = { points = [[0.5, 0], [2.5, 50], [4.5, 100]] }\n").Calibration.Convert(2.5), 9);
        Assert.Equal(14, One("unit = \"V\"\ncalibration = { polynomial = [2.0, 4.0, 1.0] }\n").Calibration.Convert(2), 12);
        Calibration table = One("unit = \"V\"\ncalibration = { table = [[0, 0], [1, 10], [3, 50]], note = \"n\" }\n").Calibration;
        Assert.Equal([5.0, 30.0, 70.0], [table.Convert(0.5), table.Convert(2), table.Convert(4)]);
        Assert.Equal("n", table.Note);
        Assert.Null(table.Due);
        Assert.Equal(new DateOnly(2027, 3, 1), One("unit = \"V\"\ncalibration = { line = { gain = 1.0 }, due = \"2027-03-01\" }\n").Calibration.Due);
    }

    /// <summary>Least squares of a hand-worked example: (0,1), (1,3), (2,4), (3,6) give 1.1 + 1.6 x.</summary>
    [Fact]
    public void More_than_two_points_give_the_line_that_fits_best()
    {
        var line = (LineCalibration)One("unit = \"V\"\ncalibration = { points = [[0, 1], [1, 3], [2, 4], [3, 6]] }\n").Calibration;
        Assert.Equal(1.6, line.Gain, 9);
        Assert.Equal(1.1, line.Offset, 9);
    }

    [Fact]
    public void Joining_calibrations_with_lines_keeps_their_values()
    {
        var before = new Affine(4, -0.5);
        var after = new Affine(0.07, 3);
        Calibration[] forms =
        [
            new LineCalibration(25, -12.5),
            new PolynomialCalibration([1, -2, 0.5, 0.25]),
            new TableCalibration([-1, 0, 2, 5], [3, 4, 9, 30]),
        ];
        foreach (Calibration form in forms)
        {
            Calibration joined = CalibrationMath.Join(before, form, after);
            for (double x = -2; x <= 3; x += 0.37)
            {
                Assert.Equal(after.Apply(form.Convert(before.Apply(x))), joined.Convert(x), 9);
            }
        }
    }

    [Fact]
    public void Every_conversion_of_units_is_the_straight_line_that_calibrations_take_it_for()
    {
        foreach (Unit from in Unit.All)
        {
            foreach (Unit to in Unit.All.Where(from.ConvertsTo))
            {
                double due = from.Convert(-37.25, to);
                double tolerance = 1e-9 * (1 + Math.Abs(due));
                Assert.InRange(Affine.Between(from, to).Apply(-37.25), due - tolerance, due + tolerance);
            }
        }
    }

    private static ChannelDefinition One(string lines)
    {
        BenchFileResult result = BenchText.Load(BenchText.Head + BenchText.Volts.Replace("unit = \"V\"\n", lines, StringComparison.Ordinal));
        Assert.Equal([], result.Mistakes.Select(m => m.ToString()));
        return result.Bench!.Definition.Channels[0];
    }
}
