namespace DriftWatch.Acquisition.PracticeRig;

/// <summary>
/// How what goes wrong shows on one machine: drawn by the seed from a stream of its own, so that no judgement may lean on
/// one machine's proportions. Spans are assumptions.
/// </summary>
public sealed record TroubleParameters
{
    /// <summary>Whirl of the shaft for a bearing whose flow has doubled, rms as a multiple of the timing noise.</summary>
    public double WhirlPerDistress { get; init; } = 8;

    /// <summary>Whirl for each psi rms of wet air's jitter, rms as a multiple of the timing noise.</summary>
    public double WhirlPerWetPsi { get; init; } = 3;

    /// <summary>Correlation time of wet air's jitter.</summary>
    public double JitterSeconds { get; init; } = 0.4;

    /// <summary>Mean time between slugs of water.</summary>
    public double SlugGapSeconds { get; init; } = 45;

    /// <summary>Deviation of a slug's step as a multiple of the jitter.</summary>
    public double SlugPerJitter { get; init; } = 1.6;

    /// <summary>Share of the vacuum that the film of water costs for each psi rms of jitter, when it has grown.</summary>
    public double FilmPerPsi { get; init; } = 0.3;

    /// <summary>Time in which the film grows.</summary>
    public double FilmSeconds { get; init; } = 900;

    /// <summary>Loss of tip projection for each dB that wear costs, mil.</summary>
    public double WearMilPerDb { get; init; } = 0.02;

    /// <summary>Level at the end of the pass minus at its beginning on a sound machine, dB.</summary>
    public double TiltDb { get; init; }

    /// <summary>+1: contact is lost at the end of the pass; −1: at its beginning.</summary>
    public double LooseEnd { get; init; } = 1;

    /// <summary>The control track's phase with tracking at its peak, degrees.</summary>
    public double PhaseZeroDegrees { get; init; }

    /// <summary>The pack that turns when the rig is switched on.</summary>
    public double ReelRadiusInches { get; init; } = 3;

    /// <summary>15 (525/60) or 15.625 (625/50). Source: published.</summary>
    public double TapeInchesPerSecond { get; init; } = 15;

    public static TroubleParameters From(ulong seed, bool is625 = false)
    {
        RigRandom r = RigRandom.Stream(seed, "troubles");
        return new TroubleParameters
        {
            WhirlPerDistress = r.Between(6, 10),
            WhirlPerWetPsi = r.Between(2, 4),
            JitterSeconds = r.Between(0.2, 0.6),
            SlugGapSeconds = r.Between(25, 70),
            SlugPerJitter = r.Between(1.2, 2.2),
            FilmPerPsi = r.Between(0.2, 0.4),
            FilmSeconds = r.Between(600, 1500),
            WearMilPerDb = r.Between(0.01, 0.03),
            TiltDb = r.Between(-.4, .4),
            LooseEnd = r.Unit() < 0.5 ? -1 : 1,
            PhaseZeroDegrees = r.Between(-20, 20),
            ReelRadiusInches = r.Between(2.5, 5),
            TapeInchesPerSecond = is625 ? 15.625 : 15,
        };
    }
}

/// <summary>What sets one tape apart from the first: levels, and what line-up left of tracking and geometry.</summary>
/// <param name="LevelDb">All heads.</param>
/// <param name="ControlTrackDb">Level of the control track.</param>
/// <param name="TrackingMil">Tracking error left.</param>
/// <param name="PenetrationMil">The recording machine's penetration, as far as line-up has not taken it out.</param>
/// <param name="HeightMil">The recording machine's guide height, likewise.</param>
public sealed record RigTape(double LevelDb, double ControlTrackDb, double TrackingMil, double PenetrationMil, double HeightMil)
{
    public static RigTape First { get; } = new(0, 0, 0, 0, 0);

    /// <summary>Spans are assumptions; all stay inside the normal column of the threshold table.</summary>
    public static RigTape Draw(RigRandom random) => new(
        random.Between(-1.5, 1.5), random.Between(-1.5, 1.5), random.Between(-.3, .3), random.Between(-.02, .02), random.Between(-.03, .03));
}
