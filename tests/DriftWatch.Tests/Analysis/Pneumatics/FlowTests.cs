using System.Text.Json;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.Pneumatics;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Pneumatics;

/// <summary>Against a derivation from energy, entropy, momentum and mass balance that shares no formula (Golden/pneumatics/make_flow.py), and against published ratios.</summary>
public sealed class FlowTests
{
    private static readonly JsonElement Derived = Golden.Json("pneumatics/flow");

    /// <summary>Table of isentropic flow for γ = 1.4 at M = 1, as in NACA Report 1135: p 0.5283, T 0.8333.</summary>
    [Fact]
    public void The_ratios_at_sonic_flow_are_the_published_ones()
    {
        Assert.Equal(0.5283, ChokedVenturi.CriticalRatio, 4);
        Assert.Equal(0.8333 * 300, ChokedFlow.ThroatTemperatureC(300 - 273.15) + 273.15, 0.02);
        Assert.Equal(Derived.Number("criticalRatio"), ChokedVenturi.CriticalRatio, 1e-6);
        Assert.Equal(Derived.Number("chokedAbovePsig"), ChokedVenturi.ChokedAbovePsig(), 1e-4);
    }

    [Fact]
    public void Thrust_from_the_momentum_balance_is_1_268_of_the_supply_less_the_atmosphere_and_its_slope_1_88_percent()
    {
        foreach (JsonElement row in Derived.GetProperty("thrust").EnumerateArray())
        {
            double psig = row.Number("psig");
            double formula = (ChokedVenturi.ThrustCoefficient * (psig + StandardAir.PressurePsia)) - StandardAir.PressurePsia;
            Assert.Equal(row.Number("psi"), formula, 1e-4);
            Assert.Equal(row.Number("psi") / Derived.GetProperty("thrust")[2].Number("psi"), ChokedVenturi.DepressionShare(psig, 50)!.Value, 1e-6);
        }

        Assert.Equal(0.0188, Derived.Number("slopeAt50"), 4);
        Assert.Equal(Derived.Number("slopeAt50"), VacuumLaw.Derived(50).Value.SharePerPsi.Value, 1e-6);
    }

    [Fact]
    public void Choked_flow_is_52_5_litres_a_minute_a_square_millimetre_at_50_psi()
    {
        Assert.Equal(52.5, ChokedFlow.SlpmPerMm2(50), 1);
        foreach (JsonElement row in Derived.GetProperty("slpmPerMm2").EnumerateArray())
        {
            Assert.Equal(row.Number("slpm"), ChokedFlow.SlpmPerMm2(row.Number("psig"), row.Number("celsius")), 1e-4 * row.Number("slpm"));
        }

        Assert.Equal(ChokedFlow.SlpmPerMm2(50) * 2, ChokedFlow.SlpmPerMm2((2 * (50 + StandardAir.PressurePsia)) - StandardAir.PressurePsia), 9);
        Assert.Equal(2.5, ChokedFlow.EffectiveAreaMm2(2.5 * ChokedFlow.SlpmPerMm2(70), 70), 12);
    }

    [Fact]
    public void Flow_choked_and_not_is_that_of_the_isentropic_nozzle()
    {
        foreach (JsonElement row in Derived.GetProperty("slpm").EnumerateArray())
        {
            double slpm = ChokedFlow.Slpm(2.5, row.Number("up"), row.Number("down"), row.Number("celsius"));
            Assert.Equal(row.Number("slpm"), slpm, 1e-4 * row.Number("slpm"));
        }

        Assert.Equal(0, ChokedFlow.Slpm(2.5, 50, 50));
        Assert.Equal(-ChokedFlow.Slpm(2.5, 50, 20), ChokedFlow.Slpm(2.5, 20, 50));
        Assert.True(ChokedFlow.IsChoked(50, 19.4));
        Assert.False(ChokedFlow.IsChoked(50, 19.6));
    }

    [Fact]
    public void The_throat_of_air_at_20_degrees_is_at_minus_29()
    {
        Assert.Equal(-29, ChokedFlow.ThroatTemperatureC(20), 0);
        foreach (JsonElement row in Derived.GetProperty("throatTemperatureC").EnumerateArray())
        {
            Assert.Equal(row.Number("throat"), ChokedFlow.ThroatTemperatureC(row.Number("celsius")), 1e-4);
        }
    }

    [Fact]
    public void A_receiver_falls_as_its_mass_balance_says()
    {
        foreach (JsonElement row in Derived.GetProperty("fallSeconds").EnumerateArray())
        {
            double seconds = Receiver.SecondsToFall(row.Number("litres"), row.Number("from"), row.Number("to"), row.Number("slpm"));
            Assert.Equal(row.Number("seconds"), seconds, 0.002);
        }

        // 24 l from 90 to 55 psi: 114 s at 30, 57 s at 60, 29 s at 120 litres a minute.
        Assert.Equal([114, 57, 29], ((double[])[30, 60, 120]).Select(q => Math.Round(Receiver.SecondsToFall(24, 90, 55, q))));
    }

    [Fact]
    public void The_trade_texts_formula_for_a_leak_is_the_one_at_20_degrees()
    {
        // V·ΔP/(Δt·Patm), as published for bleed-down and pressure-decay tests: 24 l losing 2 psi a minute.
        Assert.Equal(24 * 2 / 14.69595, Receiver.FlowSlpm(24, 2), 12);
        Assert.Equal(3.3, Receiver.FlowSlpm(24, 2), 1);
        Assert.Equal(Receiver.FlowSlpm(24, 2) * 293.15 / 313.15, Receiver.FlowSlpm(24, 2, 40), 12);
        Assert.Equal(0.36, Receiver.PsiPerKelvin(90, 20), 2);
        Assert.Equal(-Receiver.FlowSlpm(24, 2), Receiver.FlowSlpm(24, -2));
    }

    [Fact]
    public void A_line_that_lost_its_regulator_decays_as_step_by_step()
    {
        var decay = LineDecay.After(0.5, 50, 60);
        Assert.Equal(2.2, decay.TimeConstantSeconds, 1);
        foreach (JsonElement row in Derived.GetProperty("decay").EnumerateArray())
        {
            Assert.Equal(row.Number("after"), decay.PressurePsigAt(row.Number("seconds")), 1e-3);
        }

        Assert.Equal([0.18, 0.37, 0.81], ((double[])[45, 40, 30]).Select(p => Math.Round(decay.SecondsTo(p), 2)));
        Assert.Equal(0.074, LineDecay.After(0.1, 50, 60).SecondsTo(40), 3);
        Assert.Equal(0, decay.SecondsTo(51));
        Assert.Equal(40, decay.PressurePsigAt(decay.SecondsTo(40)), 9);
    }

    [Fact]
    public void Time_to_the_setpoint_has_the_interval_of_its_rate()
    {
        SupplyReserve reserve = TimeToSetpoint.From(90, 60, new Uncertain(0.25, 0.025));
        Assert.Equal(120, reserve.Seconds, 9);
        Assert.Equal(30 / (0.25 + (1.959964 * 0.025)), reserve.Earliest, 1e-4);
        Assert.Equal(30 / (0.25 - (1.959964 * 0.025)), reserve.Latest, 1e-4);
        Assert.Equal(new SupplyReserve(0, 0, 0), TimeToSetpoint.From(60, 60, new Uncertain(0.25, 0.1)));
        Assert.Equal(double.PositiveInfinity, TimeToSetpoint.From(90, 60, new Uncertain(0.1, 0.1)).Latest);
        Assert.Equal(double.PositiveInfinity, TimeToSetpoint.From(90, 60, new Uncertain(-0.1, 0.01)).Seconds);

        SupplyReserve byFlow = TimeToSetpoint.From(90, 55, new Uncertain(24, 0), new Uncertain(60, 0));
        Assert.Equal(Receiver.SecondsToFall(24, 90, 55, 60), byFlow.Seconds, 9);
        Assert.Equal(byFlow.Seconds, byFlow.Latest, 9);
    }

    [Theory]
    [InlineData(0, 90, 55, 30, "volumeLitres")]
    [InlineData(double.NaN, 90, 55, 30, "volumeLitres")]
    [InlineData(24, 50, 55, 30, "toPsi")]
    [InlineData(24, double.NaN, 55, 30, "toPsi")]
    [InlineData(24, 90, 55, 0, "flowSlpm")]
    public void A_receiver_names_what_is_wrong(double volume, double from, double to, double flow, string name) =>
        Assert.Equal(name, Assert.Throws<ArgumentException>(() => Receiver.SecondsToFall(volume, from, to, flow)).ParamName);

    [Fact]
    public void No_pressure_below_the_vacuum_and_no_temperature_below_zero_kelvin()
    {
        Assert.Equal("upstreamPsig", Assert.Throws<ArgumentException>(() => ChokedFlow.SlpmPerMm2(-15)).ParamName);
        Assert.Equal("temperatureC", Assert.Throws<ArgumentException>(() => ChokedFlow.SlpmPerMm2(50, -274)).ParamName);
        Assert.Equal("atmospherePsi", Assert.Throws<ArgumentException>(() => ChokedFlow.SlpmPerMm2(50, 20, double.NaN)).ParamName);
        Assert.Equal("seconds", Assert.Throws<ArgumentException>(() => LineDecay.After(0.5, 50, 60).PressurePsigAt(-1)).ParamName);
    }
}
