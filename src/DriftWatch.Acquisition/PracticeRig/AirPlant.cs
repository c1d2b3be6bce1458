namespace DriftWatch.Acquisition.PracticeRig;

/// <summary>The hidden numbers of the air plant. Pressures are gauge unless they say absolute; flows are standard litres a minute.</summary>
public sealed record AirPlantParameters
{
    public double ReceiverLitres { get; init; } = 24;

    /// <summary>The volume between regulator and bearing.</summary>
    public double LineLitres { get; init; } = 0.5;

    public double CutInPsi { get; init; } = 78;

    public double CutOutPsi { get; init; } = 100;

    /// <summary>Delivery against atmosphere.</summary>
    public double CompressorLitresPerMinute { get; init; } = 85;

    /// <summary>Share of the delivery lost for each psi of receiver pressure.</summary>
    public double CompressorFallPerPsi { get; init; } = 0.0025;

    /// <summary>Leak of the receiver's fittings at 90 psi.</summary>
    public double LeakLitresPerMinute { get; init; } = 1;

    public double SetpointPsi { get; init; } = 50;

    /// <summary>Flow the regulator gives for each psi of droop.</summary>
    public double RegulatorLitresPerMinutePerPsi { get; init; } = 60;

    /// <summary>Rise of the regulated pressure for each psi of supply.</summary>
    public double FeedThrough { get; init; } = 0.008;

    /// <summary>Effective area of the open regulator.</summary>
    public double RegulatorAreaMm2 { get; init; } = 3;

    /// <summary>Drop over the bearing's filter at the working flow.</summary>
    public double FilterDropPsi { get; init; } = 0.3;

    public double BearingLitresPerMinute { get; init; } = 22;

    public double VenturiLitresPerMinute { get; init; } = 10;
}

/// <summary>What is wrong with the air at this instant; all zero is a sound plant. Flows are standard litres a minute.</summary>
public readonly record struct AirTroubles
{
    /// <summary>0 (sound) to 1 (gives nothing).</summary>
    public double CompressorLoss { get; init; }

    /// <summary>Creep (positive) or sag (negative) of the regulator.</summary>
    public double RegulatorShiftPsi { get; init; }

    /// <summary>Further drop over the filter at the working flow; it goes with the square of the flow, so it recovers at rest.</summary>
    public double FilterExtraPsi { get; init; }

    /// <summary>Leak of the receiver or supply side, at 90 psi.</summary>
    public double SupplyLeakLitresPerMinute { get; init; }

    /// <summary>Leak between regulator and machine, at the working pressure.</summary>
    public double LineLeakLitresPerMinute { get; init; }

    /// <summary>Further rise of the regulated pressure for each psi of supply.</summary>
    public double FeedThroughMore { get; init; }

    /// <summary>Further flow through the bearing, as a share of its sound flow.</summary>
    public double BearingFlowMore { get; init; }

    /// <summary>Share of the venturi's flow that is missing: a clogged throat or a shut cock, 0 to 1.</summary>
    public double VenturiFlowLess { get; init; }
}

/// <summary>
/// Compressor, receiver, regulator, filter, bearing and venturi as two volumes of air and the flows between them.
/// <list type="bullet">
/// <item>A volume V that gains q standard litres a minute rises by Patm·q/V psi a minute (ideal gas, constant
/// temperature); so a receiver falls from P1 to P2 in V(P1 − P2)/(Patm·q).</item>
/// <item>A choked opening passes 52.5 standard l/min per mm² at 50 psig and 20 °C, in proportion to the absolute
/// pressure; below the critical ratio of 0.528 the ellipse of ISO 6358 takes over.</item>
/// <item>With the supply gone the line empties with τ = V·P0/(Patm·q).</item>
/// </list>
/// The regulated side is solved implicitly, so that a stiff regulator on a small volume is stable at any step.
/// </summary>
public sealed class AirPlant
{
    /// <summary>Standard atmosphere, psi. Source: NIST SP 811 (101.325 kPa).</summary>
    public const double AtmospherePsi = 14.696;

    /// <summary>Choked flow per mm² and psi absolute, standard l/min. Derived: 52.5 at 64.696 psi absolute.</summary>
    private const double ChokedLitresPerMm2Psi = 52.5 / (50 + AtmospherePsi);

    private const double CriticalRatio = 0.528;

    /// <summary>A hand opens the valve in about this time, so that the line fills without a blow. Assumption.</summary>
    private const double OpeningSeconds = 4;

    private readonly AirPlantParameters _p;
    private readonly double _loadPerPsi;
    private readonly double _setpointAtNoFlow;
    private double _flow;
    private double _opening;

    public AirPlant(AirPlantParameters parameters, double receiverPsi)
    {
        _p = parameters;
        double load = parameters.BearingLitresPerMinute + parameters.VenturiLitresPerMinute;
        _loadPerPsi = load / (parameters.SetpointPsi + AtmospherePsi);
        _setpointAtNoFlow = parameters.SetpointPsi + (load / parameters.RegulatorLitresPerMinutePerPsi) + parameters.FilterDropPsi;
        NormalLoad = load;
        ReceiverPsi = receiverPsi;
    }

    /// <summary>Flow at the working point, standard l/min.</summary>
    public double NormalLoad { get; }

    public double ReceiverPsi { get; private set; }

    /// <summary>At the bearing's inlet, after the filter.</summary>
    public double RegulatedPsi { get; private set; }

    public bool CompressorRuns { get; private set; }

    /// <summary>The valve between regulator and machine: turned open within four seconds, shut at once.</summary>
    public bool ValveIsOpen { get; set; }

    /// <summary>False keeps the compressor still whatever the pressure.</summary>
    public bool CompressorEnabled { get; set; } = true;

    /// <summary>Slow and small movements of the setting: touched knobs, psi.</summary>
    public double SettingShiftPsi { get; set; }

    /// <param name="seconds">The step, > 0.</param>
    /// <param name="troubles">What is wrong with the air; nothing by default.</param>
    public void Step(double seconds, in AirTroubles troubles = default)
    {
        StepLine(seconds, troubles);

        if (ReceiverPsi <= _p.CutInPsi)
        {
            CompressorRuns = CompressorEnabled;
        }
        else if (ReceiverPsi >= _p.CutOutPsi || !CompressorEnabled)
        {
            CompressorRuns = false;
        }

        double delivery = CompressorRuns
            ? _p.CompressorLitresPerMinute * (1 - troubles.CompressorLoss) * Math.Max(0, 1 - (_p.CompressorFallPerPsi * ReceiverPsi))
            : 0;
        double leak = (_p.LeakLitresPerMinute * ReceiverPsi / 90) + SupplyLeak(troubles.SupplyLeakLitresPerMinute);
        double gain = AtmospherePsi * seconds / (60 * _p.ReceiverLitres);
        ReceiverPsi = Math.Max(0, ReceiverPsi + (gain * (delivery - leak - _flow)));
    }

    /// <summary>Through a hole to atmosphere, given by its flow at 90 psi: choked, so in proportion to the absolute pressure.</summary>
    private double SupplyLeak(double litresPerMinuteAt90Psi)
    {
        double absolute = ReceiverPsi + AtmospherePsi;
        return litresPerMinuteAt90Psi * absolute / (90 + AtmospherePsi) * Ellipse(AtmospherePsi / absolute);
    }

    private void StepLine(double seconds, in AirTroubles troubles)
    {
        double before = RegulatedPsi + AtmospherePsi;
        double gain = AtmospherePsi * seconds / (60 * _p.LineLitres);
        double moreLoad = (_p.BearingLitresPerMinute * troubles.BearingFlowMore)
            - (_p.VenturiLitresPerMinute * troubles.VenturiFlowLess) + troubles.LineLeakLitresPerMinute;
        double load = (_loadPerPsi + (moreLoad / (_p.SetpointPsi + AtmospherePsi))) * Ellipse(AtmospherePsi / before);

        // The filter's drop goes with the square of the flow: as a resistance at the last step's flow it is linear.
        double filterPsiPerFlow = (_p.FilterDropPsi + troubles.FilterExtraPsi) * _flow / (NormalLoad * NormalLoad);
        double conductance = ValveIsOpen ? 1 / ((1 / _p.RegulatorLitresPerMinutePerPsi) + filterPsiPerFlow) : 0;
        double setting = _setpointAtNoFlow + SettingShiftPsi + troubles.RegulatorShiftPsi
            + ((_p.FeedThrough + troubles.FeedThroughMore) * (ReceiverPsi - (0.5 * (_p.CutInPsi + _p.CutOutPsi)))) + AtmospherePsi;

        double after = (before + (gain * conductance * setting)) / (1 + (gain * (conductance + load)));
        double flow = conductance * (setting - after);
        double inlet = ReceiverPsi + AtmospherePsi;
        _opening = ValveIsOpen ? Math.Min(1, _opening + (seconds / OpeningSeconds)) : 0;
        double greatest = _opening * ChokedLitresPerMm2Psi * _p.RegulatorAreaMm2 * inlet * Ellipse(before / inlet);
        double possible = Math.Clamp(flow, 0, greatest);
        if (possible != flow)
        {
            flow = possible;
            after = (before + (gain * flow)) / (1 + (gain * load));
        }

        _flow = flow;
        RegulatedPsi = Math.Max(0, after - AtmospherePsi);
    }

    /// <summary>Flow through an opening as a share of choked flow, by the ratio of outlet to inlet absolute pressure.</summary>
    private static double Ellipse(double ratio)
    {
        if (ratio <= CriticalRatio)
        {
            return 1;
        }

        double x = (ratio - CriticalRatio) / (1 - CriticalRatio);
        return x >= 1 ? 0 : Math.Sqrt(1 - (x * x));
    }
}
