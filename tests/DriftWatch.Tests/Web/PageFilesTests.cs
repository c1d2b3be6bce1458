using System.IO.Compression;
using System.Net;
using System.Net.Http.Headers;
using DriftWatch.Tests.Support;
using DriftWatch.Web;
using Xunit;

namespace DriftWatch.Tests.Web;

public sealed class PageFilesTests : IAsyncLifetime
{
    private ServedBench _served = null!;

    public async Task InitializeAsync() => _served = await ServedBench.StartAsync(new WebSettings(), new FakeBench(TimeProvider.System));

    public async Task DisposeAsync() => await _served.DisposeAsync();

    [Theory]
    [InlineData("/app.js", "app.js", "text/javascript", "", null)]
    [InlineData("/app.js", "app.js", "text/javascript", "gzip", "gzip")]
    [InlineData("/night/night.css", "night/night.css", "text/css", "gzip, br;q=0", "gzip")]
    [InlineData("/heads/heads.js", "heads/heads.js", "text/javascript", "gzip, deflate, br, zstd", "br")]
    [InlineData("/mark.svg", "mark.svg", "image/svg+xml", "br;q=0.5", "br")]
    [InlineData("/transfers/pass.css", "transfers/pass.css", "text/css", "identity", null)]
    public async Task A_file_of_the_page_comes_whole_and_packed_as_it_was_asked_for(string path, string file, string type, string accepted, string? expected)
    {
        byte[] written = await File.ReadAllBytesAsync(Path.Combine(Checkout.Root, "src", "DriftWatch", "Web", "Page", file));
        for (int i = 0; i < 2; i++) // out of the program, then as it was kept
        {
            using HttpResponseMessage response = await AskAsync(path, accepted);
            Assert.Equal(HttpStatusCode.OK, response.StatusCode);
            Assert.Equal(type, response.Content.Headers.ContentType!.MediaType);
            Assert.True(response.Headers.CacheControl!.NoCache);
            string? packing = response.Content.Headers.ContentEncoding.SingleOrDefault();
            Assert.Equal(expected, packing);
            await using Stream body = await response.Content.ReadAsStreamAsync();
            await using Stream plain = packing switch { "br" => new BrotliStream(body, CompressionMode.Decompress), "gzip" => new GZipStream(body, CompressionMode.Decompress), _ => body };
            using var read = new MemoryStream();
            await plain.CopyToAsync(read);
            Assert.Equal(written, read.ToArray());
        }
    }

    [Fact]
    public async Task What_a_browser_has_is_not_sent_again_and_what_it_has_packed_otherwise_is()
    {
        using HttpResponseMessage first = await AskAsync("/app.js", "br");
        EntityTagHeaderValue tag = first.Headers.ETag!;
        using HttpResponseMessage again = await AskAsync("/app.js", "br", tag);
        Assert.Equal(HttpStatusCode.NotModified, again.StatusCode);
        Assert.Empty(await again.Content.ReadAsByteArrayAsync());
        using HttpResponseMessage otherwise = await AskAsync("/app.js", "gzip", tag);
        Assert.Equal(HttpStatusCode.OK, otherwise.StatusCode);
        using HttpResponseMessage other = await AskAsync("/api.js", "br", tag);
        Assert.Equal(HttpStatusCode.OK, other.StatusCode);
    }

    [Fact]
    public async Task A_page_is_served_with_the_script_and_the_sheet_that_were_gathered_for_it()
    {
        Assert.Equal(await _served.Client.GetStringAsync("/index.html"), await _served.Client.GetStringAsync("/"));
        Assert.Contains("index.all.js", await _served.Client.GetStringAsync("/"), StringComparison.Ordinal);
        Assert.Contains("// ---- live.js", await _served.Client.GetStringAsync("/index.all.js"), StringComparison.Ordinal);
        Assert.StartsWith(await _served.Client.GetStringAsync("/base.css"), await _served.Client.GetStringAsync("/index.all.css"), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Its_head_tells_the_size_and_what_is_no_file_of_it_is_not_found()
    {
        using var head = new HttpRequestMessage(HttpMethod.Head, "/app.js");
        using HttpResponseMessage told = await _served.Client.SendAsync(head);
        Assert.Equal(new FileInfo(Path.Combine(Checkout.Root, "src", "DriftWatch", "Web", "Page", "app.js")).Length, told.Content.Headers.ContentLength);
        foreach (string path in (string[])["/night", "/none.js", "/none.all.js", "/index.all.svg", "/vendor/uplot-1.6.32", "/../WebServer.cs", "/%2e%2e/WebServer.cs"])
        {
            using HttpResponseMessage response = await _served.Client.GetAsync(path);
            Assert.Equal(HttpStatusCode.NotFound, response.StatusCode);
        }
    }

    private async Task<HttpResponseMessage> AskAsync(string path, string accepted, EntityTagHeaderValue? known = null)
    {
        using var request = new HttpRequestMessage(HttpMethod.Get, path);
        if (accepted.Length > 0)
        {
            request.Headers.TryAddWithoutValidation("Accept-Encoding", accepted);
        }

        if (known is not null)
        {
            request.Headers.IfNoneMatch.Add(known);
        }

        return await _served.Client.SendAsync(request);
    }
}
