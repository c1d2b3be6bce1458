namespace DriftWatch.Analysis.RfHeads;

/// <summary>Levels of a composite picture of 1 V peak to peak. Millivolts above blanking; sync is counted downwards.</summary>
/// <param name="Name">In words of the trade.</param>
/// <param name="Lines">525 or 625.</param>
/// <param name="WhiteMillivolts">Peak white.</param>
/// <param name="SyncMillivolts">Depth of sync.</param>
/// <param name="BlackMillivolts">Black: the set-up where there is one.</param>
/// <param name="AudioZeroDbfs">Of the zero-level tone after conversion. Source: from memory.</param>
/// <param name="Source">Of the picture's levels.</param>
public sealed record VideoStandard(
    string Name, int Lines, double WhiteMillivolts, double SyncMillivolts, double BlackMillivolts, double AudioZeroDbfs, string Source)
{
    /// <summary>One IRE unit: 140 of them are 1 V peak to peak.</summary>
    public const double MillivoltsPerIre = 1000.0 / 140;

    private const string Published = "published: 140 IRE are 1 V p-p in 525/60, 700 and 300 mV in 625/50 (epanorama.net, 'Video signal levels')";

    public static VideoStandard Lines525WithSetUp { get; } = new(
        "525/60 with set-up", 525, 100 * MillivoltsPerIre, 40 * MillivoltsPerIre, 7.5 * MillivoltsPerIre, -20, Published);

    public static VideoStandard Lines525WithoutSetUp { get; } = new(
        "525/60 without set-up", 525, 100 * MillivoltsPerIre, 40 * MillivoltsPerIre, 0, -20, Published);

    public static VideoStandard Lines625 { get; } = new("625/50", 625, 700, 300, 0, -18, Published);
}

/// <summary>What is compared.</summary>
public enum OutputQuantity
{
    Black,
    White,
    Sync,
    ChromaPhase,
    Saturation,
    AudioZero,
}

/// <summary>How far off a level is.</summary>
public enum LevelVerdict
{
    Good,
    Off,
    Advisory,
    Alarm,
}

/// <summary>What was read; what wasn't is null. Levels in millivolts above blanking, sync positive downwards.</summary>
public sealed record OutputReadings
{
    public double? BlackMillivolts { get; init; }

    public double? WhiteMillivolts { get; init; }

    public double? SyncMillivolts { get; init; }

    /// <summary>The coloured bar whose vector was read.</summary>
    public ColourBar Bar { get; init; } = ColourBar.Red;

    /// <summary>Amplitude of the coloured bars, percent.</summary>
    public double ColoursPercent { get; init; } = 75;

    /// <summary>Peak to peak.</summary>
    public double? ChromaMillivolts { get; init; }

    /// <summary>From the (B−Y) axis, on a line of positive V.</summary>
    public double? AngleDegrees { get; init; }

    public double? AudioZeroDbfs { get; init; }
}

/// <summary>One level against its figure.</summary>
/// <param name="Quantity">Which.</param>
/// <param name="Measured">In <paramref name="Unit"/>.</param>
/// <param name="Nominal">The standard's figure.</param>
/// <param name="Unit">mV, °, % or dBFS.</param>
/// <param name="Verdict">How far off.</param>
public readonly record struct LevelComparison(OutputQuantity Quantity, double Measured, double Nominal, string Unit, LevelVerdict Verdict)
{
    /// <summary>Measured less nominal.</summary>
    public double Difference => Measured - Nominal;
}

/// <summary>Levels of the output held against a standard, and whether they are of one standard at all.</summary>
public static class OutputLevels
{
    /// <summary>
    /// Good, advisory and alarm, either side. Sync: ±1, ±2, ±4 IRE in 525/60 and ±7, ±15, ±30 mV in 625/50; black and white alike. Phase ±2, ±5, ±10°,
    /// saturation ±3, ±6, ±12 %, audio ±0.3, ±0.5, ±1 dB. Source: common practice, no source.
    /// </summary>
    public static (double Good, double Advisory, double Alarm) Tolerance(OutputQuantity quantity, VideoStandard standard)
    {
        ArgumentNullException.ThrowIfNull(standard);
        return quantity switch
        {
            OutputQuantity.ChromaPhase => (2, 5, 10),
            OutputQuantity.Saturation => (3, 6, 12),
            OutputQuantity.AudioZero => (0.3, 0.5, 1),
            _ when standard.Lines == 525 => (VideoStandard.MillivoltsPerIre, 2 * VideoStandard.MillivoltsPerIre, 4 * VideoStandard.MillivoltsPerIre),
            _ => (7, 15, 30),
        };
    }

    /// <param name="readings">What was read.</param>
    /// <param name="standard">What should be.</param>
    /// <returns>In the order of <see cref="OutputQuantity"/>; a shortfall where nothing was read.</returns>
    /// <exception cref="ArgumentException">A reading is not finite, or one of chroma and angle is missing, or the bar has no chroma.</exception>
    public static Answer<IReadOnlyList<LevelComparison>> Compare(OutputReadings readings, VideoStandard standard)
    {
        ArgumentNullException.ThrowIfNull(readings);
        ArgumentNullException.ThrowIfNull(standard);
        Check(readings);
        var found = new List<LevelComparison>();
        void Add(OutputQuantity quantity, double? measured, double nominal, string unit)
        {
            if (measured is { } value)
            {
                (double good, double advisory, double alarm) = Tolerance(quantity, standard);
                double off = Math.Abs(value - nominal);
                LevelVerdict verdict = off > alarm ? LevelVerdict.Alarm : off > advisory ? LevelVerdict.Advisory : off > good ? LevelVerdict.Off : LevelVerdict.Good;
                found.Add(new LevelComparison(quantity, value, nominal, unit, verdict));
            }
        }

        Add(OutputQuantity.Black, readings.BlackMillivolts, standard.BlackMillivolts, "mV");
        Add(OutputQuantity.White, readings.WhiteMillivolts, standard.WhiteMillivolts, "mV");
        Add(OutputQuantity.Sync, readings.SyncMillivolts, standard.SyncMillivolts, "mV");
        if (readings is { ChromaMillivolts: { } chroma, AngleDegrees: { } angle })
        {
            BarFigures bar = ColourBars.Of(readings.Bar, standard, readings.ColoursPercent);
            (double phase, double saturation) = ColourBars.Error(bar, chroma, angle);
            Add(OutputQuantity.ChromaPhase, bar.AngleDegrees + phase, bar.AngleDegrees, "°");
            Add(OutputQuantity.Saturation, 100 + saturation, 100, "%");
        }

        Add(OutputQuantity.AudioZero, readings.AudioZeroDbfs, standard.AudioZeroDbfs, "dBFS");
        return found.Count == 0 ? new Shortfall("levels", 0, 1) : found;
    }

    /// <summary>
    /// Which standard each level speaks for. The ratio of sync to white tells standards apart whatever the gain: 0.400 and 0.429; where it fits
    /// one, white and sync speak through it, else each by itself if it lies within 5 mV of a figure. Black above half of the set-up speaks for 525/60, a tone
    /// within 0.3 dB of a zero level for its standard. Limits: derived, a third of the distance of the figures.
    /// </summary>
    /// <param name="readings">What was read.</param>
    /// <returns>Each level that speaks, with 525 or 625. Levels that speak for different standards are mixed.</returns>
    public static IReadOnlyList<(string Level, int Lines)> SpeakFor(OutputReadings readings)
    {
        ArgumentNullException.ThrowIfNull(readings);
        Check(readings);
        VideoStandard old = VideoStandard.Lines525WithSetUp;
        VideoStandard other = VideoStandard.Lines625;
        var voices = new List<(string, int)>();
        void Hear(string level, double? value, double of525, double of625, double within)
        {
            if (value is { } v && Math.Min(Math.Abs(v - of525), Math.Abs(v - of625)) <= within)
            {
                voices.Add((level, Math.Abs(v - of525) <= within ? 525 : 625));
            }
        }

        double? ratio = readings is { SyncMillivolts: { } sync, WhiteMillivolts: > 0 and { } white } ? sync / white : null;
        Hear("sync to white", ratio, old.SyncMillivolts / old.WhiteMillivolts, other.SyncMillivolts / other.WhiteMillivolts, 0.006);
        if (voices.Count == 0)
        {
            Hear("white", readings.WhiteMillivolts, old.WhiteMillivolts, other.WhiteMillivolts, 5);
            Hear("sync", readings.SyncMillivolts, old.SyncMillivolts, other.SyncMillivolts, 5);
        }

        if (readings.BlackMillivolts > old.BlackMillivolts / 2)
        {
            voices.Add(("set-up", 525));
        }

        Hear("audio zero", readings.AudioZeroDbfs, old.AudioZeroDbfs, other.AudioZeroDbfs, 0.3);
        return voices;
    }

    private static void Check(OutputReadings readings)
    {
        double?[] all =
        [
            readings.BlackMillivolts, readings.WhiteMillivolts, readings.SyncMillivolts, readings.ChromaMillivolts, readings.AngleDegrees,
            readings.AudioZeroDbfs, readings.ColoursPercent,
        ];
        if (all.Any(r => r is { } value && !double.IsFinite(value)))
        {
            throw new ArgumentException("A reading is not finite; faults are removed before analysis.", nameof(readings));
        }

        if (readings.ChromaMillivolts is null != readings.AngleDegrees is null)
        {
            throw new ArgumentException("A vector is an amplitude and an angle.", nameof(readings));
        }

        if (readings is { ChromaMillivolts: not null, Bar: ColourBar.White or ColourBar.Black })
        {
            throw new ArgumentException("White and black have no chroma to compare.", nameof(readings));
        }
    }
}
