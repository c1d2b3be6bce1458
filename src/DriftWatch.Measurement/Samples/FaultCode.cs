namespace DriftWatch.Measurement.Samples;

/// <summary>
/// Why there is no number. The numeric values are stored and never change; the slugs stand in recordings as
/// <c>!slug</c>. Append only.
/// </summary>
public enum FaultCode : byte
{
    /// <summary>A period passed without a reading and nothing says why.</summary>
    Missing = 0,

    /// <summary>The instrument did not answer within its time.</summary>
    NoAnswer = 1,

    /// <summary>The line is down: the port is missing, denied or vanished.</summary>
    LineDown = 2,

    /// <summary>A checksum or CRC did not match.</summary>
    BadChecksum = 3,

    /// <summary>The text or frame does not follow the profile's grammar.</summary>
    Garbled = 4,

    /// <summary>The instrument itself reported an error (an exception code, an error queue entry).</summary>
    InstrumentError = 5,

    /// <summary>NaN, infinity or a number too large for its field.</summary>
    NotANumber = 6,

    /// <summary>At or beyond the top of the input's range; a full-scale code counts.</summary>
    OverRange = 7,

    /// <summary>At or beyond the bottom of the input's range.</summary>
    UnderRange = 8,

    /// <summary>A current loop below its failure level: wire broken or transmitter dead.</summary>
    OpenLoop = 9,

    /// <summary>A current loop above its failure level: short or transmitter fault.</summary>
    LoopHigh = 10,

    /// <summary>A step no real quantity here can make between two readings.</summary>
    ImplausibleJump = 11,

    /// <summary>The same code for longer than noise allows.</summary>
    Stuck = 12,

    /// <summary>A ratio whose supply rail is missing or out of its range.</summary>
    SupplyLost = 13,
}

public static class FaultCodes
{
    private static readonly string[] Slugs =
    [
        "missing", "no-answer", "line-down", "bad-checksum", "garbled", "instrument-error", "not-a-number",
        "over-range", "under-range", "open-loop", "loop-high", "implausible-jump", "stuck", "supply-lost",
    ];

    public static IReadOnlyList<string> All => Slugs;

    public static string ToSlug(this FaultCode code) => Slugs[(int)code];

    public static bool TryParse(ReadOnlySpan<char> slug, out FaultCode code)
    {
        for (int i = 0; i < Slugs.Length; i++)
        {
            if (slug.SequenceEqual(Slugs[i]))
            {
                code = (FaultCode)i;
                return true;
            }
        }

        code = FaultCode.Missing;
        return false;
    }
}
