using DriftWatch.Analysis.Pneumatics;
using Xunit;

namespace DriftWatch.Tests.Analysis.Pneumatics;

/// <summary>Figures derived from isentropic nozzle flow with γ = 1.4 by hand.</summary>
public class ChokedVenturiTests
{
    [Fact]
    public void The_constants_are_those_of_air_at_sonic_flow()
    {
        Assert.Equal(0.5283, ChokedVenturi.CriticalRatio, 4);
        Assert.Equal(1.268, ChokedVenturi.ThrustCoefficient, 3);
        Assert.Equal(13.1, ChokedVenturi.ChokedAbovePsig(), 1);
    }

    [Fact]
    public void At_50_psig_a_psi_is_1_88_percent() =>
        Assert.Equal(0.0188, ChokedVenturi.DepressionShare(51, 50)!.Value - 1, 4);

    [Theory]
    [InlineData(45)]
    [InlineData(40)]
    [InlineData(62)]
    public void It_is_linear_in_the_supply(double psig) =>
        Assert.Equal(1 + (0.018829 * (psig - 50)), ChokedVenturi.DepressionShare(psig, 50)!.Value, 3);

    [Theory]
    [InlineData(13, 50)]
    [InlineData(50, 13)]
    [InlineData(0, 50)]
    [InlineData(-14.7, 50)]
    public void Not_choked_it_says_nothing(double psig, double reference) => Assert.Null(ChokedVenturi.DepressionShare(psig, reference));

    [Fact]
    public void In_thin_air_vacuum_follows_the_supply_more_steeply() =>
        Assert.True(ChokedVenturi.DepressionShare(45, 50, 12.2) < ChokedVenturi.DepressionShare(45, 50));
}
