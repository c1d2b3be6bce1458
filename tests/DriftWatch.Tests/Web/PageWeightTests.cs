using System.IO.Compression;
using System.Reflection;
using DriftWatch.Web;
using Xunit;

namespace DriftWatch.Tests.Web;

public sealed class PageWeightTests
{
    // What a phone at the rack loads over a weak link. Source: common practice, no source.
    private const int MostBytes = 250_000;

    [Fact]
    public void All_pages_together_weigh_less_packed_than_one_may()
    {
        Assembly service = typeof(WebSettings).Assembly;
        long packed = 0;
        string[] files = [.. service.GetManifestResourceNames().Where(n => n.EndsWith(".js", StringComparison.Ordinal) || n.EndsWith(".css", StringComparison.Ordinal) || n.EndsWith(".html", StringComparison.Ordinal) || n.EndsWith(".svg", StringComparison.Ordinal))];
        Assert.Contains(files, f => f.EndsWith("app.js", StringComparison.Ordinal));
        foreach (string file in files)
        {
            using var to = new MemoryStream();
            using (var gzip = new GZipStream(to, CompressionLevel.Optimal, leaveOpen: true))
            using (Stream from = service.GetManifestResourceStream(file)!)
            {
                from.CopyTo(gzip);
            }

            packed += to.Length;
        }

        Assert.InRange(packed, 1, MostBytes);
    }
}
