namespace DriftWatch.Watch.Diagnosis;

/// <summary>
/// What causes are weighed by: roles and derived quantities by their slugs, and a few that are several of them seen
/// together. Each with the deviation, in tolerances, by which it stands off its baseline while nothing is wrong; that
/// is more than its noise, because rooms warm and hands touch knobs.
/// </summary>
internal static class Subjects
{
    /// <summary>The head that is lowest against the median of the others.</summary>
    public const string OneHead = "one-head";

    /// <summary>A channel gives faults or nothing at all.</summary>
    public const string Readings = "readings";

    /// <summary>A head has fallen against the others over weeks of line-ups.</summary>
    public const string Wear = "wear";

    /// <summary>Source: 65 hours of sound practice nights for tuning, at 780 instants; rounded up.</summary>
    private static readonly Dictionary<string, double> Unrest = new(StringComparer.Ordinal)
    {
        ["regulated-air"] = 0.11,
        ["normalised-vacuum"] = 0.008,
        ["control-track"] = 0.02,
        ["control-track-phase"] = 0.12,
        ["servo-lock"] = 0.05,
        ["dew-point"] = 0.09,
        ["rf-common"] = 0.11,
        ["rf-tilt"] = 0.02,
        [OneHead] = 0.05,
        ["skew"] = 0.02,
        ["scallop"] = 0.02,
        ["async-residual"] = 0.05,
        ["compressor-duty"] = 0.03,
        ["supply-fall-rate"] = 0.05,
        ["supply-rise-rate"] = 0.09,
        ["supply-fall-bend"] = 0.13,
        ["regulator-effect"] = 0.15,
        ["regulated-unrest"] = 0.03,
        ["vacuum-unrest"] = 0.3,
        ["control-track-dips"] = 0.05,
        ["rf-tilt-dips"] = 0.05,
        [Readings] = 0.1,
        [Wear] = 0.1,
    };

    // What is worked out from others, or follows them wherever they go: it says nothing besides, but a finding on it is theirs. Source: derived.
    private static readonly Dictionary<string, IReadOnlyList<string>> Followers = new(StringComparer.Ordinal)
    {
        ["guide-vacuum"] = ["regulated-air", "normalised-vacuum"],
        ["rf-level"] = ["rf-common", OneHead],
        ["rf-difference"] = [OneHead],
        ["rf-spread"] = [OneHead, Wear],
        ["supply-air"] = ["compressor-duty", "supply-fall-rate", "supply-rise-rate"],
        ["supply-headroom"] = ["compressor-duty", "supply-fall-rate", "supply-rise-rate"],
        ["time-to-setpoint"] = ["compressor-duty", "supply-fall-rate", "supply-rise-rate"],
        ["compressor-period"] = ["compressor-duty", "supply-fall-rate", "supply-rise-rate"],
        ["throat-frost-margin"] = ["dew-point"],
        ["timing-error"] = ["skew", "scallop", "async-residual"],
        ["head-step"] = ["skew", "scallop", "async-residual"],
        ["corrector-use"] = ["skew", "scallop", "async-residual", "servo-lock", "control-track"],
        ["sync-level"] = ["servo-lock", "control-track"],
    };

    // Told by cycles of the compressor, and after so many: that it stands still means nothing before. Source: derived, a median of eight follows after five.
    private static readonly Dictionary<string, int> CyclesBehind = new(StringComparer.Ordinal)
    {
        ["compressor-duty"] = 1,
        ["supply-fall-rate"] = 1,
        ["supply-rise-rate"] = 1,
        ["supply-fall-bend"] = 5,
        ["regulator-effect"] = 5,
    };

    /// <summary>All by which causes are weighed.</summary>
    public static IReadOnlyCollection<string> All => Unrest.Keys;

    /// <summary>Standard deviation off the baseline while nothing is wrong, in tolerances.</summary>
    public static double UnrestOf(string subject) => Unrest[subject];

    /// <summary>The subjects whose movement makes this one move; empty where it is one of them itself.</summary>
    public static IReadOnlyList<string> Behind(string subject) => Followers.GetValueOrDefault(subject) ?? [];

    /// <summary>Cycles of the compressor by which it is behind what happens; 0 where it does not wait for them.</summary>
    public static int CyclesToTell(string subject) => CyclesBehind.GetValueOrDefault(subject);
}
