using System.Buffers;
using System.Globalization;
using System.Security.Cryptography;
using System.Text;

namespace DriftWatch.Web.Access;

/// <summary>
/// A token as it is kept: stretched with PBKDF2 (RFC 8018) over HMAC-SHA-256 with a salt of its own, so that the access file lets
/// nobody in. Written <c>pbkdf2-sha256$rounds$salt$hash</c>, the last two in base64.
/// </summary>
internal sealed record TokenHash(int Rounds, string Salt, string Hash)
{
    /// <summary>Source: the OWASP cheat sheet on storing passwords, for PBKDF2 over HMAC-SHA-256 (from memory). A token has 200 random bits and would need less.</summary>
    public const int DefaultRounds = 600_000;

    private const string Scheme = "pbkdf2-sha256";
    private const int FewestRounds = 100_000;
    private const int MostRounds = 10_000_000; // some seconds on a small board
    private const int SaltBytes = 16;
    private const int HashBytes = 32;

    public static TokenHash Of(string token, int rounds = DefaultRounds)
    {
        byte[] salt = RandomNumberGenerator.GetBytes(SaltBytes);
        return new TokenHash(rounds, Convert.ToBase64String(salt), Convert.ToBase64String(Stretch(token, salt, rounds)));
    }

    /// <summary>Null when the text is none.</summary>
    public static TokenHash? Parse(string text)
    {
        Span<byte> salt = stackalloc byte[64];
        Span<byte> hash = stackalloc byte[64];
        return text.Split('$') is [Scheme, var rounds, var saltText, var hashText]
            && int.TryParse(rounds, NumberStyles.None, CultureInfo.InvariantCulture, out int count) && count is >= FewestRounds and <= MostRounds
            && Convert.TryFromBase64String(saltText, salt, out int saltLength) && saltLength >= SaltBytes
            && Convert.TryFromBase64String(hashText, hash, out int hashLength) && hashLength == HashBytes
                ? new TokenHash(count, saltText, hashText)
                : null;
    }

    /// <summary>Takes as long for a wrong token as for the right one: some tenths of a second of a processor.</summary>
    public bool Fits(string token) => CryptographicOperations.FixedTimeEquals(
        Stretch(token, Convert.FromBase64String(Salt), Rounds), Convert.FromBase64String(Hash));

    public override string ToString() => string.Create(CultureInfo.InvariantCulture, $"{Scheme}${Rounds}${Salt}${Hash}");

    private static byte[] Stretch(string token, byte[] salt, int rounds) =>
        Rfc2898DeriveBytes.Pbkdf2(Encoding.UTF8.GetBytes(token), salt, rounds, HashAlgorithmName.SHA256, HashBytes);
}

/// <summary>
/// The form of a token: <c>dw-id-secret</c>. The id is no secret; it says which line of the access file to hold the token against, so
/// that a wrong one costs at most one stretching.
/// </summary>
internal static class Tokens
{
    public const int IdLength = 8;
    private const int SecretLength = 40; // of 32 letters: 200 bits
    private const string Prefix = "dw-";
    private const string Letters = "abcdefghijkmnpqrstuvwxyz23456789"; // without l, o, 0 and 1, which a person mixes up
    private static readonly SearchValues<char> OfAnId = SearchValues.Create(Letters);

    public static (string Id, string Token) Make()
    {
        string id = RandomNumberGenerator.GetString(Letters, IdLength);
        return (id, $"{Prefix}{id}-{RandomNumberGenerator.GetString(Letters, SecretLength)}");
    }

    /// <summary>Null when the text has not the form of a token.</summary>
    public static string? IdOf(string token) =>
        token.Length == Prefix.Length + IdLength + 1 + SecretLength && token.StartsWith(Prefix, StringComparison.Ordinal)
        && token[Prefix.Length + IdLength] == '-' && IsId(token.Substring(Prefix.Length, IdLength))
            ? token.Substring(Prefix.Length, IdLength)
            : null;

    public static bool IsId(string text) => text.Length == IdLength && !text.AsSpan().ContainsAnyExcept(OfAnId);
}
