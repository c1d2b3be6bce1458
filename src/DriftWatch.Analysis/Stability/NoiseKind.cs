namespace DriftWatch.Analysis.Stability;

/// <summary>
/// Power-law noise by the exponent α of its spectral density S(f) ∝ f^α, with the names that frequency metrology gives them
/// (NIST SP 1065, section 3.2), where readings stand for the frequency. For readings of any quantity,
/// <see cref="WhiteFrequency"/> is plain white noise, the only kind that averaging lowers as 1/√τ.
/// </summary>
public enum NoiseKind
{
    /// <summary>α = −4, a drift that wanders.</summary>
    RandomRunFrequency = -4,

    /// <summary>α = −3.</summary>
    FlickerWalkFrequency = -3,

    /// <summary>α = −2: a random walk of the readings; deviation rises as √τ.</summary>
    RandomWalkFrequency = -2,

    /// <summary>α = −1: flicker (1/f) of the readings; the deviation stays level, averaging gains nothing.</summary>
    FlickerFrequency = -1,

    /// <summary>α = 0: white readings; deviation falls as 1/√τ.</summary>
    WhiteFrequency = 0,

    /// <summary>α = 1; deviation falls about as 1/τ.</summary>
    FlickerPhase = 1,

    /// <summary>α = 2: readings that are differences of white noise; deviation falls as 1/τ.</summary>
    WhitePhase = 2,
}
