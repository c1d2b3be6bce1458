using DriftWatch.Acquisition.Boards;
using DriftWatch.Acquisition.Lines;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Samples;
using Xunit;

namespace DriftWatch.Tests.Acquisition.Boards;

/// <summary>The drivers over the real bindings, on simulated chips with registers.</summary>
public sealed class BoardInstrumentTests
{
    private readonly SimulatedBoards _boards = new();
    private readonly SimulatedAds1115 _ads = new();
    private readonly SimulatedBme280 _bme = new();
    private readonly SimulatedMcp3208 _mcp = new();

    public BoardInstrumentTests()
    {
        _boards.I2cChips[(1, 0x48)] = _ads;
        _boards.I2cChips[(1, 0x76)] = _bme;
        _boards.SpiChips[(0, 0)] = _mcp;
    }

    [Theory]
    [InlineData("a0", 1.234, 1.2339375)] // 6581 steps of 0.1875 mV
    [InlineData("a1", 0.0, 0.0)]
    [InlineData("a2", 5.0, 5.00006250)] // 26667 steps
    [InlineData("a3", -0.1, -0.0999375)]
    public void Sixteen_bit_board_gives_volts_in_steps_of_its_range(string input, double volts, double said)
    {
        _ads.PinVolts[input[1] - '0'] = volts;
        Assert.Equal(said, Read("adc-16bit-i2c", input).Raw, 9);
    }

    [Fact]
    public void Sixteen_bit_board_reads_a_pair_as_the_difference()
    {
        _ads.PinVolts[0] = 3.0;
        _ads.PinVolts[1] = 1.5;
        Assert.Equal(1.5, Read("adc-16bit-i2c", "a0-a1").Raw, 9);
    }

    [Theory]
    [InlineData(6.144, "over-range")]
    [InlineData(9.0, "over-range")]
    [InlineData(-9.0, "under-range")]
    public void Full_scale_codes_of_the_sixteen_bit_board_are_faults(double volts, string fault)
    {
        _ads.PinVolts[0] = volts;
        Assert.Equal("!" + fault, Read("adc-16bit-i2c", "a0").ToString());
    }

    [Fact]
    public void One_scan_of_the_sixteen_bit_board_reads_each_input_by_itself()
    {
        double[] volts = [0.6, 1.8, 3.0, 4.2];
        volts.CopyTo(_ads.PinVolts, 0);
        using BoardInstrument board = Make("adc-16bit-i2c");
        board.Greet();
        var results = new PolledReading[4];
        board.Scan([3, 1, 0, 2], results);
        Assert.Equal([4.2, 1.8, 0.6, 3.0], results.Select(r => Math.Round(r.Reading.Raw, 3)));
        Assert.All(results, r => Assert.True(r.ReplyStamp >= r.RequestStamp));
        Assert.True(results[1].RequestStamp >= results[0].ReplyStamp);
    }

    [Fact]
    public void A_conversion_that_never_ends_is_no_answer()
    {
        using BoardInstrument board = Make("adc-16bit-i2c");
        board.Greet();
        _ads.BusyReads = int.MaxValue;
        var error = Assert.Throws<PollException>(() => board.Scan([0], new PolledReading[1]));
        Assert.Equal(FaultCode.NoAnswer, error.Fault);
    }

    [Theory]
    [InlineData(1, 5.0 / 4096)]
    [InlineData(2048, 2.5)]
    [InlineData(4094, 4.99755859375)]
    public void Twelve_bit_board_gives_volts_in_steps_of_its_reference(int code, double volts)
    {
        _mcp.Codes[5] = code;
        Assert.Equal(volts, Read("adc-12bit-spi", "ch5").Raw, 12);
    }

    [Theory]
    [InlineData(0, "under-range")]
    [InlineData(4095, "over-range")]
    public void End_codes_of_the_twelve_bit_board_are_faults(int code, string fault)
    {
        _mcp.Codes[2] = code;
        Assert.Equal("!" + fault, Read("adc-12bit-spi", "ch2").ToString());
    }

    [Fact]
    public void A_twelve_bit_board_that_is_not_there_gives_faults_and_no_zero()
    {
        _boards.SpiChips.Clear();
        Assert.Equal("!under-range", Read("adc-12bit-spi", "ch0").ToString());
    }

    /// <summary>Source: calculation example of the data sheet BST-BMP280-DS001, section 3.12: 25.08 °C, 100653.27 Pa.</summary>
    [Fact]
    public void Climate_board_computes_the_example_of_the_data_sheet()
    {
        Assert.Equal(25.08, Read("climate-board-i2c", "temperature").Raw, 2);
        Assert.Equal(1006.533, Read("climate-board-i2c", "pressure").Raw, 3);
    }

    /// <summary>By the double-precision formula of BST-BME280-DS002, section 8.1, with t_fine of the example (128422).</summary>
    [Fact]
    public void Climate_board_computes_humidity_by_the_data_sheet()
    {
        double h = 128422 - 76800.0;
        h = (30000 - ((313 * 64.0) + (50 / 16384.0 * h)))
            * (370 / 65536.0 * (1.0 + (30 / 67108864.0 * h * (1.0 + (0 / 67108864.0 * h)))));
        h *= 1.0 - (75 * h / 524288.0);
        Assert.InRange(h, 40, 70);
        Assert.Equal(h, Read("climate-board-i2c", "humidity").Raw, 2);
    }

    [Theory]
    [InlineData(65000, "over-range")]
    [InlineData(10000, "under-range")]
    public void Clipped_humidity_is_a_fault(int raw, string fault)
    {
        _bme.RawHumidity = raw;
        Assert.Equal("!" + fault, Read("climate-board-i2c", "humidity").ToString());
    }

    [Fact]
    public void Another_chip_at_the_address_is_told_apart()
    {
        _bme.ChipId = 0x58;
        using BoardInstrument board = Make("climate-board-i2c");
        var error = Assert.Throws<PollException>(() => board.Greet());
        Assert.Contains("address 0x76", error.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void A_silent_board_is_no_answer_with_place_and_remedy()
    {
        _ads.Silent = true;
        using BoardInstrument board = Make("adc-16bit-i2c");
        var error = Assert.Throws<PollException>(() => board.Greet());
        Assert.Equal(FaultCode.NoAnswer, error.Fault);
        Assert.Contains("I2C bus 1, address 0x48", error.Message, StringComparison.Ordinal);
        Assert.NotEmpty(error.Remedy);
    }

    [Fact]
    public void A_missing_bus_is_a_dead_line()
    {
        _boards.BusIsMissing = true;
        using BoardInstrument board = Make("adc-16bit-i2c");
        Assert.Throws<LinkException>(() => board.Greet());
    }

    [Fact]
    public void A_board_that_lost_its_power_is_set_up_again_by_the_next_greeting()
    {
        using BoardInstrument board = Make("climate-board-i2c");
        board.Greet();
        _bme.Silent = true;
        Assert.Throws<PollException>(() => board.Scan([0], new PolledReading[1]));
        Assert.Throws<PollException>(() => board.Greet());
        _bme.Silent = false;
        _bme.Traffic.Clear();
        Assert.Equal("bme280 on I2C bus 1, address 0x76", board.Greet());
        Assert.Contains(_bme.Traffic, line => line.StartsWith(">x F2", StringComparison.Ordinal));
        board.Scan([0], new PolledReading[1]);
    }

    private Reading Read(string profile, string input)
    {
        using BoardInstrument board = Make(profile);
        board.Greet();
        var results = new PolledReading[1];
        int index = Array.FindIndex([.. Profile(profile).Inputs], i => i.Name == input);
        board.Scan([index], results);
        return results[0].Reading;
    }

    private BoardInstrument Make(string profile) =>
        BoardInstrument.Make(BoardBench.Definition(profile), Profile(profile), _boards, TimeProvider.System);

    private static InstrumentProfile Profile(string name) => BoardBench.Profile(name);
}

internal static class BoardBench
{
    public static InstrumentProfile Profile(string name) =>
        new ProfileCatalog(ProfileFolders.Default, new MistakeList()).Instrument(name).Profile!;

    public static InstrumentDefinition Definition(string profile) => new()
    {
        Id = profile,
        Profile = profile,
        Connection = profile switch
        {
            "adc-12bit-spi" => new ConnectionDefinition { Kind = ConnectionKind.Spi, Bus = 0, Address = 0 },
            "climate-board-i2c" => new ConnectionDefinition { Kind = ConnectionKind.I2c, Bus = 1, Address = 0x76 },
            _ => new ConnectionDefinition { Kind = ConnectionKind.I2c, Bus = 1, Address = 0x48 },
        },
    };
}
