using System.Text.Json;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.Pneumatics;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Pneumatics;

/// <summary>Against the equations of IAPWS (Golden/pneumatics/make_humid.py), which Magnus' formulas only approach.</summary>
public sealed class HumidAirTests
{
    private static readonly JsonElement Iapws = Golden.Json("pneumatics/humid");

    [Fact]
    public void Vapour_pressures_are_within_a_third_of_a_percent_of_iapws()
    {
        foreach (JsonElement row in Iapws.GetProperty("water").EnumerateArray())
        {
            Assert.Equal(1, HumidAir.OverWaterHpa(row.Number("celsius")) / row.Number("hpa"), 0.0033);
        }

        foreach (JsonElement row in Iapws.GetProperty("ice").EnumerateArray())
        {
            Assert.Equal(1, HumidAir.OverIceHpa(row.Number("celsius")) / row.Number("hpa"), 0.002);
        }
    }

    [Fact]
    public void Dew_points_of_room_air_are_within_a_twentieth_of_a_kelvin_of_iapws()
    {
        foreach (JsonElement row in Iapws.GetProperty("dew").EnumerateArray())
        {
            double e = HumidAir.VapourHpa(row.Number("celsius"), row.Number("percent"));
            Assert.Equal(row.Number("dew"), HumidAir.DewPointC(e).Value, 0.05);
        }
    }

    [Fact]
    public void Pressure_and_atmospheric_dew_points_go_into_each_other()
    {
        foreach (JsonElement row in Iapws.GetProperty("pressure").EnumerateArray())
        {
            double then = HumidAir.AtPressure(row.Number("point"), row.Number("from"), row.Number("to")).Value;
            Assert.Equal(row.Number("then"), then, 0.05);
            Assert.Equal(row.Number("point"), HumidAir.AtPressure(then, row.Number("to"), row.Number("from")).Value, 1e-9);
        }
    }

    [Fact]
    public void Below_zero_it_is_frost_that_forms_first()
    {
        double e = HumidAir.OverIceHpa(-20);
        Assert.Equal(-20, HumidAir.DewOrFrostPointC(e).Value, 9);
        Assert.True(HumidAir.DewPointC(e).Value < -22); // over supercooled water it is colder
        Assert.Equal(5, HumidAir.DewOrFrostPointC(HumidAir.OverWaterHpa(5)).Value, 9);
        Assert.Equal(HumidAir.VapourHpa(0), HumidAir.OverIceHpa(0), 12);
    }

    [Theory]
    [InlineData(3, -11.6, IcingRisk.Possible)]
    [InlineData(-20, -32.0, IcingRisk.None)]
    [InlineData(-40, -50.2, IcingRisk.None)]
    public void Frost_at_the_throat_is_where_it_was_derived(double dewPoint, double frost, IcingRisk risk)
    {
        ThroatFrostAnswer answer = ThroatFrost.At(
            new Uncertain(dewPoint, ThroatFrost.DewPointUncertaintyK), 100, 50, new Uncertain(20, ThroatFrost.TemperatureUncertaintyK)).Value;
        JsonElement kept = Iapws.GetProperty("throat").EnumerateArray().Single(r => r.Number("point") == dewPoint);
        Assert.Equal(frost, answer.FrostPointC, 1);
        Assert.Equal(kept.Number("frost"), answer.FrostPointC, 0.05);
        Assert.Equal(-28.86, answer.ThroatTemperatureC, 2);
        Assert.Equal(answer.ThroatTemperatureC - answer.FrostPointC, answer.MarginK.Value, 9);
        Assert.Equal(risk, answer.Risk);
    }

    [Fact]
    public void The_probe_decides_whether_minus_twenty_is_told_to_be_safe()
    {
        ThroatFrostAnswer answer = ThroatFrost.At(new Uncertain(-20, 0.3), 100, 50, new Uncertain(20, 0.3)).Value;
        Assert.Equal(3.2, answer.MarginK.Value, 1);
        Assert.Equal(IcingRisk.None, answer.Risk);
        Assert.Equal(IcingRisk.CannotBeTold, ThroatFrost.At(new Uncertain(-20, 2), 100, 50, new Uncertain(20, 1)).Value.Risk);
    }

    [Fact]
    public void Air_drier_than_the_formulas_reach_is_safe_and_said_to_be_at_their_end()
    {
        ThroatFrostAnswer answer = ThroatFrost.At(new Uncertain(-75, 2), 100, 50, new Uncertain(20, 1)).Value;
        Assert.Equal(-65, answer.FrostPointC, 9);
        Assert.Equal(IcingRisk.None, answer.Risk);
    }

    [Fact]
    public void A_venturi_that_is_not_choked_has_no_throat_to_ask() =>
        Assert.StartsWith("psi before the venturi", ThroatFrost.At(new Uncertain(3, 1), 100, 12, new Uncertain(20, 1)).Missing!.What, StringComparison.Ordinal);

    [Theory]
    [InlineData(-71, 1)]
    [InlineData(-70, 1)]
    [InlineData(-69.9, 2)]
    [InlineData(-40, 2)]
    [InlineData(-39, 3)]
    [InlineData(-20, 3)]
    [InlineData(3, 4)]
    [InlineData(7, 5)]
    [InlineData(10, 6)]
    public void Water_classes_are_those_of_iso_8573_1(double dewPoint, int grade)
    {
        Assert.Equal(grade, AirPurity.Water(dewPoint).Class);
        Assert.Equal($"ISO 8573-1:2010 [-:{grade}:-]", AirPurity.Designation(dewPoint));
    }

    [Fact]
    public void Particles_oil_and_liquid_water_cannot_be_told()
    {
        Assert.Null(AirPurity.Particles.Class);
        Assert.Null(AirPurity.Oil.Class);
        Assert.Null(AirPurity.Water(10.1).Class);
        Assert.Contains("liquid water", AirPurity.Water(20).Says, StringComparison.Ordinal);
        Assert.Equal("ISO 8573-1:2010 [-:-:-]", AirPurity.Designation(20));
    }

    [Fact]
    public void Outside_its_fit_a_formula_says_so()
    {
        Assert.Equal("celsius", Assert.Throws<ArgumentException>(() => HumidAir.OverWaterHpa(61)).ParamName);
        Assert.Equal("celsius", Assert.Throws<ArgumentException>(() => HumidAir.OverIceHpa(-66)).ParamName);
        Assert.Equal("celsius", Assert.Throws<ArgumentException>(() => HumidAir.OverIceHpa(double.NaN)).ParamName);
        Assert.Equal("humidityPercent", Assert.Throws<ArgumentException>(() => HumidAir.VapourHpa(20, 0)).ParamName);
        Assert.Equal("humidityPercent", Assert.Throws<ArgumentException>(() => HumidAir.VapourHpa(20, 100.5)).ParamName);
        Assert.Equal("vapourHpa", Assert.Throws<ArgumentException>(() => HumidAir.DewPointC(-1)).ParamName);
        Assert.IsType<Shortfall>(HumidAir.DewOrFrostPointC(1e-5).Missing);
        Assert.IsType<Shortfall>(HumidAir.DewOrFrostPointC(1e9).Missing);
        Assert.IsType<Shortfall>(HumidAir.AtPressure(55, 14.7, 200).Missing);
    }
}
