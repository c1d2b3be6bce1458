using DriftWatch.Acquisition.Lines;

namespace DriftWatch.Tests.Acquisition.Lines;

public class LinkErrorTests
{
    /// <summary>Numbers of asm-generic/errno-base.h: ENOENT 2, EIO 5, ENXIO 6, EACCES 13, EBUSY 16, ENODEV 19, ENOTTY 25.</summary>
    [Theory]
    [InlineData(2, "does not exist", "bench file")]
    [InlineData(5, "no device behind it", "plug the instrument in")]
    [InlineData(6, "no device behind it", "plug the instrument in")]
    [InlineData(13, "no permission", "dialout")]
    [InlineData(16, "in use by another program", "stop the other program")]
    [InlineData(19, "no device behind it", "plug the instrument in")]
    [InlineData(25, "not a serial port", "serial device")]
    [InlineData(24, "error 24", "check the cable")]
    public void Each_error_of_opening_has_its_words_and_its_remedy(int errno, string what, string remedy)
    {
        LinkException error = LinkErrors.OpenFailed("/dev/none", errno, "text of the system");
        Assert.Contains("/dev/none", error.Message, StringComparison.Ordinal);
        Assert.Contains(what, error.Message, StringComparison.Ordinal);
        Assert.Contains(remedy, error.Remedy, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("8N1", 10)]
    [InlineData("8E1", 11)]
    [InlineData("7e1", 10)]
    [InlineData("8N2", 11)]
    public void Framings_count_their_bits(string text, int bits)
    {
        Assert.True(SerialFraming.TryParse(text, out SerialFraming framing));
        Assert.Equal(bits, framing.BitsPerCharacter);
    }

    [Theory]
    [InlineData("")]
    [InlineData("9N1")]
    [InlineData("8X1")]
    [InlineData("8N3")]
    [InlineData("8N1 ")]
    public void Other_framings_are_refused(string text)
    {
        Assert.False(SerialFraming.TryParse(text, out _));
    }
}
