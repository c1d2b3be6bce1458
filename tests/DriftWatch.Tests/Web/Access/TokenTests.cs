using DriftWatch.Web.Access;
using Xunit;

namespace DriftWatch.Tests.Web.Access;

public sealed class TokenTests
{
    private const string Token = "dw-k7f3q2m9-abcdefghijkmnpqrstuvwxyz2345678abcdefghi";

    /// <summary>Made by Python 3: hashlib.pbkdf2_hmac("sha256", token, bytes(range(16)), 100000, 32).</summary>
    private const string Elsewhere = "pbkdf2-sha256$100000$AAECAwQFBgcICQoLDA0ODw==$du1Ldj2gQHwBijvYGL41TgqR8SNTBVColS9lD/K579I=";

    [Fact]
    public void A_hash_that_another_library_made_fits_its_token_and_no_other()
    {
        TokenHash hash = TokenHash.Parse(Elsewhere)!;
        Assert.True(hash.Fits(Token));
        Assert.False(hash.Fits(Token[..^1] + "j"));
        Assert.Equal(Elsewhere, hash.ToString());
    }

    [Fact]
    public void Each_hash_has_a_salt_of_its_own_and_is_stretched_as_published()
    {
        TokenHash one = TokenHash.Of(Token), other = TokenHash.Of(Token);
        Assert.NotEqual(one.Hash, other.Hash);
        Assert.Equal(600_000, one.Rounds);
        Assert.True(one.Fits(Token));
    }

    [Theory]
    [InlineData("")]
    [InlineData(Token)]
    [InlineData("pbkdf2-sha256$99999$AAECAwQFBgcICQoLDA0ODw==$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=")]
    [InlineData("pbkdf2-sha256$100000$AAEC$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=")]
    [InlineData("pbkdf2-sha256$100000$AAECAwQFBgcICQoLDA0ODw==$AAAA")]
    [InlineData("sha256$100000$AAECAwQFBgcICQoLDA0ODw==$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=")]
    [InlineData("pbkdf2-sha256$100000$AAECAwQFBgcICQoLDA0ODw==$not base64")]
    public void What_is_no_such_hash_is_none(string text) => Assert.Null(TokenHash.Parse(text));

    [Fact]
    public void Tokens_have_one_form_and_no_two_are_the_same()
    {
        (string id, string token) = Tokens.Make();
        Assert.Equal(id, Tokens.IdOf(token));
        Assert.NotEqual(token, Tokens.Make().Token);
        Assert.Null(Tokens.IdOf(token[..^1]));
        Assert.Null(Tokens.IdOf(token.ToUpperInvariant()));
        Assert.Null(Tokens.IdOf(""));
    }
}
