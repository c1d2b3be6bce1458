using DriftWatch.Measurement.Units;

namespace DriftWatch.Tests.Vocabulary;

public class UnitTests
{
    /// <summary>NIST Special Publication 811 (2008), appendix B.8, factors for units listed alphabetically; seven digits as printed.</summary>
    [Theory]
    [InlineData("psi", "Pa", 6.894757e3)]
    [InlineData("bar", "Pa", 1.0e5)]
    [InlineData("mbar", "Pa", 1.0e2)]
    [InlineData("inH2O", "Pa", 2.490889e2)] // inch of water, conventional
    [InlineData("inHg", "Pa", 3.386389e3)] // inch of mercury, conventional
    [InlineData("mmHg", "Pa", 1.333224e2)] // millimetre of mercury, conventional
    [InlineData("mil", "um", 25.4)] // mil (0.001 in) = 2.54 E−05 m
    [InlineData("in", "mm", 25.4)]
    [InlineData("deg", "arcmin", 60)]
    [InlineData("rev/min", "rev/s", 1 / 60.0)]
    public void A_factor_is_that_of_NIST_SP_811(string from, string to, double factor) =>
        Assert.Equal(1, Unit.Parse(from).Convert(1, Unit.Parse(to)) / factor, 5e-7);

    /// <summary>SP 811 appendix B.8: T/K = (t/°F + 459.67)/1.8 and T/K = t/°C + 273.15.</summary>
    [Theory]
    [InlineData("degF", 32, "degC", 0)]
    [InlineData("degF", -40, "degC", -40)]
    [InlineData("degC", 20, "K", 293.15)]
    public void A_temperature_converts_by_the_formula_of_NIST_SP_811(string from, double value, string to, double expected) =>
        Assert.Equal(expected, Unit.Parse(from).Convert(value, Unit.Parse(to)), 1e-9);

    [Fact]
    public void Fifty_psi_are_the_3_447_bar_of_the_other_gauge() =>
        Assert.Equal(3.4473786, Unit.Parse("psi").Convert(50, Unit.Parse("bar")), 1e-7);

    [Theory]
    [InlineData("psi", "V")]
    [InlineData("dB", "IRE")]
    [InlineData("degC", "%RH")]
    public void Different_quantities_do_not_convert(string from, string to)
    {
        Assert.False(Unit.Parse(from).ConvertsTo(Unit.Parse(to)));
        Assert.Throws<ArgumentException>(() => Unit.Parse(from).Convert(1, Unit.Parse(to)));
    }

    [Fact]
    public void There_and_back_is_the_same_for_every_pair_of_one_quantity()
    {
        foreach (Unit from in Unit.All)
        {
            foreach (Unit to in Unit.All.Where(from.ConvertsTo))
            {
                Assert.Equal(12.5, to.Convert(from.Convert(12.5, to), from), 1e-9);
            }
        }
    }

    [Theory]
    [InlineData("PSI")]
    [InlineData("")]
    [InlineData("inches")]
    public void An_unknown_symbol_is_refused(string symbol) => Assert.False(Unit.TryParse(symbol, out _));
}
