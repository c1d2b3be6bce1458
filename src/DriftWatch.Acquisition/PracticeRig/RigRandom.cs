namespace DriftWatch.Acquisition.PracticeRig;

/// <summary>
/// The rig's own random numbers: xoshiro256++ seeded by SplitMix64 (Blackman and Vigna's public-domain generators), in
/// 64-bit integer arithmetic only, so that one seed gives one run on every platform. Each part of the rig draws from a
/// stream of its own, named by a word: drawing more in one part shifts nothing in another.
/// </summary>
public sealed class RigRandom
{
    /// <summary>Standard deviation of the sum of eight 16-bit pieces: √(8 · (65536² − 1) / 12).</summary>
    private const double SumDeviation = 53509.91;
    private const double SumMean = 8 * 65535 / 2.0;

    private ulong _s0;
    private ulong _s1;
    private ulong _s2;
    private ulong _s3;

    public RigRandom(ulong seed)
    {
        ulong state = seed;
        _s0 = SplitMix(ref state);
        _s1 = SplitMix(ref state);
        _s2 = SplitMix(ref state);
        _s3 = SplitMix(ref state);
    }

    /// <summary>The stream of this seed that belongs to a word (its FNV-1a hash is folded into the seed).</summary>
    public static RigRandom Stream(ulong seed, string word)
    {
        ulong hash = 14695981039346656037UL;
        foreach (char letter in word)
        {
            hash = (hash ^ letter) * 1099511628211UL;
        }

        ulong state = seed;
        return new RigRandom(SplitMix(ref state) ^ hash);
    }

    public ulong Next()
    {
        ulong result = ulong.RotateLeft(_s0 + _s3, 23) + _s0;
        ulong t = _s1 << 17;
        _s2 ^= _s0;
        _s3 ^= _s1;
        _s1 ^= _s2;
        _s0 ^= _s3;
        _s2 ^= t;
        _s3 = ulong.RotateLeft(_s3, 45);
        return result;
    }

    /// <summary>0 ≤ value &lt; 1, in steps of 2⁻⁵³.</summary>
    public double Unit() => (Next() >> 11) * (1.0 / (1UL << 53));

    public double Between(double low, double high) => low + ((high - low) * Unit());

    /// <summary>
    /// Mean 0, deviation 1, bell-shaped and bounded at ±4.9: the sum of eight 16-bit pieces of two draws. No logarithm
    /// or root is taken, so no platform's mathematics library can change it.
    /// </summary>
    public double Normal()
    {
        ulong a = Next();
        ulong b = Next();
        ulong sum = (a & 0xFFFF) + ((a >> 16) & 0xFFFF) + ((a >> 32) & 0xFFFF) + (a >> 48)
            + (b & 0xFFFF) + ((b >> 16) & 0xFFFF) + ((b >> 32) & 0xFFFF) + (b >> 48);
        return (sum - SumMean) / SumDeviation;
    }

    private static ulong SplitMix(ref ulong state)
    {
        ulong z = state += 0x9E3779B97F4A7C15UL;
        z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9UL;
        z = (z ^ (z >> 27)) * 0x94D049BB133111EBUL;
        return z ^ (z >> 31);
    }
}
