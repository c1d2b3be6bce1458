namespace DriftWatch.Measurement.Channels;

/// <summary>
/// What a channel means to the machine. Judgement asks for roles, never for ids or labels, so that any bench can call
/// its channels what it likes. A bench may lack any role; judgement then says what it can't tell.
/// </summary>
public enum ChannelRole
{
    /// <summary>Kept, shown and held to its own limits; nothing else is inferred from it.</summary>
    Other,

    /// <summary>Compressor or house air before the regulator.</summary>
    SupplyAir,

    /// <summary>Air after the regulator, at the bearing inlet.</summary>
    RegulatedAir,

    /// <summary>Vacuum in the tape guide, as a positive depression.</summary>
    GuideVacuum,

    /// <summary>RF level of one head, in dB; the channel names its head.</summary>
    RfLevel,

    /// <summary>Control-track level, in dB.</summary>
    ControlTrack,

    /// <summary>Timing error over one revolution: a frame.</summary>
    TimingError,

    /// <summary>Greatest timing error the corrector sees, as a share of its range in percent.</summary>
    CorrectorUse,

    /// <summary>1 when the machine's servos report lock, else 0.</summary>
    ServoLock,

    /// <summary>Head wheel speed, in revolutions a second.</summary>
    WheelSpeed,

    /// <summary>Sync amplitude, in IRE or mV.</summary>
    SyncLevel,

    /// <summary>Luminance level, in IRE or mV.</summary>
    VideoLevel,

    /// <summary>Audio level, in dB.</summary>
    AudioLevel,

    /// <summary>Pressure dew point of the air, in °C.</summary>
    DewPoint,

    AmbientTemperature,
    AmbientHumidity,
    Barometer,

    /// <summary>1 while the compressor runs, else 0.</summary>
    CompressorRunning,

    /// <summary>The supply rail of ratiometric sensors, in volts.</summary>
    SensorRail,

    /// <summary>Phase between the wheel and the control track, in degrees; one mil of tracking is 5.76°.</summary>
    ControlTrackPhase,

    /// <summary>RF level at the end of the pass over that at its beginning, in dB.</summary>
    RfTilt,

    /// <summary>Drive of the servo that moves the guide in and out, from mid-range as a share of its range in percent: at its end it can correct no more.</summary>
    GuideServo,

    /// <summary>Place on the tape by a counter of the machine, in seconds of play from where it was set to zero.</summary>
    TapeCounter,

    /// <summary>Place on the tape by recorded timecode, in seconds since its midnight.</summary>
    Timecode,
}

/// <summary>How far the machine has come; vacuum, RF and timing mean something only in the right state.</summary>
public enum MachineState
{
    /// <summary>Not enough channels or evidence to tell. Judged ungated: ignorance hides nothing.</summary>
    Unknown,

    /// <summary>Regulated air is absent or too low for the wheel to float.</summary>
    NoAir,

    /// <summary>Air is up; no tape closes the guide.</summary>
    AirUp,

    /// <summary>Tape closes the slots of the guide, so there is vacuum; no RF yet.</summary>
    TapeOnGuide,

    /// <summary>Tape runs: heads read RF.</summary>
    Running,

    /// <summary>Servos are locked: timing and levels can be trusted.</summary>
    Locked,
}

public enum ChannelKind
{
    /// <summary>One number per sampling period, optionally with its extremes.</summary>
    Series,

    /// <summary>A fixed-length vector with a declared axis.</summary>
    Frame,
}

/// <summary>The slugs of roles, states and kinds as they stand in bench files and findings: kebab-case of the name.</summary>
public static class Slugs
{
    public static string Of<T>(T value)
        where T : struct, Enum => SlugTable<T>.Of(value);

    public static bool TryParse<T>(string slug, out T value)
        where T : struct, Enum => SlugTable<T>.TryParse(slug, out value);

    public static IReadOnlyList<string> All<T>()
        where T : struct, Enum => SlugTable<T>.All;

    private static class SlugTable<T>
        where T : struct, Enum
    {
        private static readonly Dictionary<T, string> ByValue = Enum.GetValues<T>().ToDictionary(v => v, v => Kebab(v.ToString()));
        private static readonly Dictionary<string, T> BySlug = ByValue.ToDictionary(p => p.Value, p => p.Key, StringComparer.Ordinal);

        public static IReadOnlyList<string> All { get; } = [.. Enum.GetValues<T>().Select(v => ByValue[v])];

        public static string Of(T value) => ByValue[value];

        public static bool TryParse(string slug, out T value) => BySlug.TryGetValue(slug, out value);

        private static string Kebab(string name)
        {
            var builder = new System.Text.StringBuilder(name.Length + 4);
            for (int i = 0; i < name.Length; i++)
            {
                if (char.IsUpper(name[i]) && i > 0)
                {
                    builder.Append('-');
                }

                builder.Append(char.ToLowerInvariant(name[i]));
            }

            return builder.ToString();
        }
    }
}
