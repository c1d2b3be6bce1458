using DriftWatch.Acquisition.PracticeRig;

namespace DriftWatch.Tests.PracticeRig;

/// <summary>The air of the rig against figures derived from the ideal gas and from choked flow.</summary>
public class AirPlantTests
{
    private const double Step = RigSimulation.StepSeconds;

    [Theory]
    [InlineData(30, 114)]
    [InlineData(60, 57)]
    public void A_receiver_of_24_l_falls_from_90_to_55_psi_in_the_derived_time(double litresPerMinute, double seconds)
    {
        // t = V·(P1 − P2)/(14.696·q)
        AirPlant plant = Withdrawing(litresPerMinute, receiverPsi: 95);
        double begins = TimeUntil(plant, () => plant.ReceiverPsi <= 90);
        double ends = TimeUntil(plant, () => plant.ReceiverPsi <= 55);

        Assert.InRange(begins + ends, begins, 1e9);
        Assert.InRange(ends, seconds - 0.8, seconds + 0.8);
    }

    [Fact]
    public void A_line_of_half_a_litre_empties_with_2_2_s_when_its_supply_is_shut()
    {
        // τ = V·P0/(Patm·q) = 0.5 l · 64.696/(14.696 · 1 l/s) = 2.2 s, of the absolute pressure while the bearing is choked
        AirPlant plant = Withdrawing(60, receiverPsi: 95);
        for (int i = 0; i < 500; i++)
        {
            plant.Step(Step);
        }

        double start = plant.RegulatedPsi + AirPlant.AtmospherePsi;
        plant.ValveIsOpen = false;
        double seconds = TimeUntil(plant, () => plant.RegulatedPsi + AirPlant.AtmospherePsi <= start * Math.Exp(-0.4));
        Assert.InRange(seconds / 0.4, 2.15, 2.25);
    }

    [Theory]
    [InlineData(45, 0.18)]
    [InlineData(40, 0.37)]
    [InlineData(30, 0.81)]
    public void The_regulated_side_falls_within_a_fraction_of_a_second(double toPsi, double derivedSeconds)
    {
        AirPlant plant = Withdrawing(60, receiverPsi: 95);
        for (int i = 0; i < 500; i++)
        {
            plant.Step(Step);
        }

        Assert.InRange(plant.RegulatedPsi, 49.9, 50.1);
        plant.ValveIsOpen = false;
        Assert.InRange(TimeUntil(plant, () => plant.RegulatedPsi <= toPsi), derivedSeconds - 0.02, derivedSeconds + 0.025);
    }

    [Fact]
    public void The_compressor_cycles_between_its_two_pressures_and_the_regulated_side_hardly_moves()
    {
        var parameters = new AirPlantParameters();
        var plant = new AirPlant(parameters, 90) { ValveIsOpen = true };
        var starts = new List<double>();
        bool ran = false;
        double least = double.MaxValue;
        double greatest = 0;
        for (int i = 0; i < 100 * 1200; i++)
        {
            plant.Step(Step);
            if (plant.CompressorRuns && !ran)
            {
                starts.Add(i * Step);
            }

            ran = plant.CompressorRuns;
            if (i > 1000)
            {
                least = Math.Min(least, plant.RegulatedPsi);
                greatest = Math.Max(greatest, plant.RegulatedPsi);
                Assert.InRange(plant.ReceiverPsi, parameters.CutInPsi - 0.5, parameters.CutOutPsi + 0.5);
            }
        }

        Assert.True(starts.Count >= 5, $"only {starts.Count} cycles in twenty minutes");
        Assert.InRange(greatest - least, 0.01, 0.3); // the threshold table calls < 0.3 psi of ripple normal
    }

    [Fact]
    public void A_clogged_filter_lets_the_pressure_sag_under_flow_and_leaves_the_supply_alone()
    {
        var clean = new AirPlant(new AirPlantParameters(), 90) { ValveIsOpen = true };
        var clogged = new AirPlant(new AirPlantParameters(), 90) { ValveIsOpen = true };
        for (int i = 0; i < 2000; i++)
        {
            clean.Step(Step);
            clogged.Step(Step, new AirTroubles { FilterExtraPsi = 6 });
        }

        Assert.InRange(clean.RegulatedPsi - clogged.RegulatedPsi, 4, 6);
        Assert.InRange(clogged.ReceiverPsi - clean.ReceiverPsi, 0, 2);
    }

    private static AirPlant Withdrawing(double litresPerMinute, double receiverPsi) => new(
        new AirPlantParameters
        {
            BearingLitresPerMinute = litresPerMinute,
            VenturiLitresPerMinute = 0,
            LeakLitresPerMinute = 0,
            FeedThrough = 0,
            RegulatorAreaMm2 = 10,
        },
        receiverPsi)
    {
        ValveIsOpen = true,
        CompressorEnabled = false,
    };

    private static double TimeUntil(AirPlant plant, Func<bool> reached)
    {
        int steps = 0;
        while (!reached())
        {
            plant.Step(Step);
            Assert.True(++steps < 100_000, "never reached");
        }

        return steps * Step;
    }
}
