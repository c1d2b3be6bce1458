namespace DriftWatch.Acquisition.PracticeRig;

/// <summary>
/// What a seed decides: no two rigs are alike, and no judgement may lean on one rig's numbers. Spans are assumptions
/// that keep a sound rig inside the normal column of the threshold table.
/// </summary>
public sealed record RigParameters
{
    public AirPlantParameters Air { get; init; } = new();

    public required RfHeadParameters Heads { get; init; }

    public required TimingGeometry Timing { get; init; }

    public double RevolutionsPerSecond { get; init; } = 240;

    /// <summary>Throat over mixing area of the venturi; 0.0054 gives 10 inH2O at 50 psi (derived).</summary>
    public double VenturiAreaRatio { get; init; } = 0.0054;

    public double GuideDirt { get; init; }

    /// <summary>The machine's own pressure switch stops the wheel below this. Source: 87.5 % trip ratio of a bearing maker's advice, and some wear.</summary>
    public double PressureSwitchPsi { get; init; } = 42;

    public double TrackingMil { get; init; }

    public double ControlTrackDb { get; init; } = -10;

    public double LockSeconds { get; init; } = 3.5;

    public double RoomDegC { get; init; } = 21.5;

    public double RoomHumidity { get; init; } = 44;

    public double DewPointDegC { get; init; } = -29;

    public double MainsHz { get; init; } = 60;

    public double TimingNoiseNs { get; init; } = 3;

    /// <summary>Phases of the slow waves, radians.</summary>
    public double Phase { get; init; }

    /// <summary>How what goes wrong shows on this machine.</summary>
    public TroubleParameters Troubles { get; init; } = new();

    /// <param name="seed">Any number.</param>
    /// <param name="is625">True for 625/50: 250 rev/s and 50 Hz mains.</param>
    public static RigParameters From(ulong seed, bool is625 = false)
    {
        RigRandom r = RigRandom.Stream(seed, "parameters");
        double Around(double centre, double share) => centre * r.Between(1 - share, 1 + share);
        double revolutions = is625 ? 250 : 240;
        double level = r.Between(-12, -8);
        return new RigParameters
        {
            RevolutionsPerSecond = revolutions,
            MainsHz = (is625 ? 50 : 60) + r.Between(-0.03, 0.03),
            Air = new AirPlantParameters
            {
                ReceiverLitres = Around(24, 0.15),
                LineLitres = Around(0.5, 0.2),
                CutInPsi = r.Between(76, 80),
                CutOutPsi = r.Between(97, 103),
                CompressorLitresPerMinute = Around(85, 0.08),
                LeakLitresPerMinute = r.Between(0.5, 2.5),
                SetpointPsi = r.Between(49.7, 50.3),
                RegulatorLitresPerMinutePerPsi = Around(60, 0.2),
                FeedThrough = r.Between(0.003, 0.010),
                FilterDropPsi = r.Between(0.2, 0.5),
                BearingLitresPerMinute = Around(22, 0.1),
                VenturiLitresPerMinute = Around(10, 0.1),
            },
            VenturiAreaRatio = Around(0.0054, 0.12),
            GuideDirt = r.Between(0, 0.06),
            PressureSwitchPsi = r.Between(41, 43.5),
            Heads = new RfHeadParameters
            {
                LevelDb = [level + r.Between(-.8, .8), level + r.Between(-.8, .8), level + r.Between(-.8, .8), level + r.Between(-.8, .8)],
                WearDbPerHour = [r.Between(0, .02), r.Between(0, .02), r.Between(0, .02), r.Between(0, .02)],
                AxialMil = [r.Between(-.2, .2), r.Between(-.2, .2), r.Between(-.2, .2), r.Between(-.2, .2)],
                ProgrammeDb = r.Between(0.1, 0.25),
                WritingSpeedInchesPerSecond = 2 * Math.PI * revolutions * 1.0335,
            },
            Timing = new TimingGeometry
            {
                PenetrationMil = r.Between(-.02, .02),
                HeightMil = r.Between(-.03, .03),
                LagArcmin = [r.Between(-.06, .06), r.Between(-.06, .06), r.Between(-.06, .06), r.Between(-.06, .06)],
                ProjectionMil = [r.Between(-.03, .03), r.Between(-.03, .03), r.Between(-.03, .03), r.Between(-.03, .03)],
                DrawnIn = r.Between(0, 0.5),
                RevolutionSineNs = r.Between(-4, 4),
                RevolutionCosineNs = r.Between(-4, 4),
            },
            TrackingMil = r.Between(-.3, .3),
            ControlTrackDb = r.Between(-12, -8),
            LockSeconds = r.Between(2.5, 4.5),
            RoomDegC = r.Between(20, 23),
            RoomHumidity = r.Between(38, 50),
            DewPointDegC = r.Between(-33, -26),
            TimingNoiseNs = r.Between(2, 4),
            Phase = r.Between(0, 2 * Math.PI),
            Troubles = TroubleParameters.From(seed, is625),
        };
    }
}
