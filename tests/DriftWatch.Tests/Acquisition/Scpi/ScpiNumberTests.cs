using System.Text;
using DriftWatch.Acquisition.Scpi;
using DriftWatch.Measurement.Samples;

namespace DriftWatch.Tests.Acquisition.Scpi;

public class ScpiNumberTests
{
    /// <summary>IEEE 488.2: NR1 (8.7.2), NR2 (8.7.3), NR3 (8.7.4), and the freer NRf of 7.7.2.</summary>
    [Theory]
    [InlineData("0", 0)]
    [InlineData("+123", 123)]
    [InlineData("-42", -42)]
    [InlineData("1.5", 1.5)]
    [InlineData("-0.0015", -0.0015)]
    [InlineData("+1.23456789E+00", 1.23456789)]
    [InlineData("-9.87654321E-03", -9.87654321e-3)]
    [InlineData("+4.99E+1", 49.9)]
    [InlineData(".5", 0.5)]
    [InlineData("5.", 5)]
    [InlineData("1e3", 1000)]
    [InlineData(" 7.25 ", 7.25)]
    public void Numbers_of_ieee_488_2(string text, double expected)
    {
        Assert.True(ScpiNumber.TryParse(Encoding.ASCII.GetBytes(text), out Reading reading));
        Assert.Equal(expected, reading.Raw);
    }

    [Theory]
    [InlineData("")]
    [InlineData("+")]
    [InlineData(".")]
    [InlineData("E3")]
    [InlineData("1E")]
    [InlineData("1E+")]
    [InlineData("1.2.3")]
    [InlineData("1,5")]
    [InlineData("1.5V")]
    [InlineData("1.5,2.5")]
    [InlineData("0x1F")]
    [InlineData("NaN")]
    [InlineData("Infinity")]
    [InlineData("--1")]
    [InlineData("1 2")]
    [InlineData("READY")]
    public void What_is_no_number_is_refused(string text)
    {
        Assert.False(ScpiNumber.TryParse(Encoding.ASCII.GetBytes(text), out _));
    }

    /// <summary>SCPI-99 volume 1, section 7.2.1: 9.91E37 is not a number, ±9.9E37 infinity.</summary>
    [Theory]
    [InlineData("9.91E37", FaultCode.NotANumber)]
    [InlineData("+9.91000000E+37", FaultCode.NotANumber)]
    [InlineData("9.9E37", FaultCode.OverRange)]
    [InlineData("+9.90000000E+37", FaultCode.OverRange)]
    [InlineData("-9.9E+37", FaultCode.UnderRange)]
    [InlineData("1E400", FaultCode.OverRange)]
    public void Values_that_scpi_gives_a_meaning(string text, FaultCode expected)
    {
        Assert.True(ScpiNumber.TryParse(Encoding.ASCII.GetBytes(text), out Reading reading));
        Assert.True(reading.IsFault);
        Assert.Equal(expected, reading.Fault);
    }
}
