using System.IO.Compression;
using System.Net;
using DriftWatch.Reports.Documents;
using DriftWatch.Tests.Reports.Dossiers;
using DriftWatch.Web;

namespace DriftWatch.Tests.Web;

[Collection(ImportedStores.Name)]
public sealed class ReportApiTests(ImportedStores stores) : IAsyncLifetime, IDisposable
{
    private const string Root = "/api/v1/benches/failing-compressor/span";
    private const string Span = "from=2026-01-15T08:00:00Z&to=2026-01-15T08:50:00Z";
    private readonly StoredView _view = new(stores.Compressor);
    private ServedBench _served = null!;

    public async Task InitializeAsync() => _served = await ServedBench.StartAsync(new WebSettings(), _view);

    public async Task DisposeAsync() => await _served.DisposeAsync();

    public void Dispose() => _view.Dispose();

    [Fact]
    public async Task A_span_s_report_is_a_pdf_to_be_saved_or_a_page_under_its_own_policy()
    {
        using HttpResponseMessage pdf = await _served.Client.GetAsync($"{Root}/report.pdf?{Span}");
        Assert.Equal("application/pdf", pdf.Content.Headers.ContentType?.MediaType);
        Assert.Equal("failing-compressor-2026-01-15T080000Z-50min-report.pdf", pdf.Content.Headers.ContentDisposition?.FileName?.Trim('"'));
        Assert.Equal("%PDF"u8.ToArray(), (await pdf.Content.ReadAsByteArrayAsync())[..4]);

        using HttpResponseMessage html = await _served.Client.GetAsync($"{Root}/report.html?{Span}&zone=Europe/Paris");
        Assert.Equal("text/html", html.Content.Headers.ContentType?.MediaType);
        Assert.Null(html.Content.Headers.ContentDisposition);
        Assert.Equal(HtmlDocument.Policy, string.Join("; ", html.Headers.GetValues("Content-Security-Policy")));
        Assert.Contains("15 Jan 2026 09:01:13 to 09:42:01 Europe/Paris", await html.Content.ReadAsStringAsync(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Its_evidence_is_a_bag_in_a_zip()
    {
        using HttpResponseMessage answer = await _served.Client.GetAsync($"{Root}/package.zip?{Span}");
        Assert.Equal("application/zip", answer.Content.Headers.ContentType?.MediaType);
        using var zip = new ZipArchive(new MemoryStream(await answer.Content.ReadAsByteArrayAsync()));
        Assert.Contains(zip.Entries, e => e.FullName == "failing-compressor-2026-01-15T080000Z-50min-evidence/bagit.txt");
        Assert.Contains(zip.Entries, e => e.FullName.EndsWith("/data/record/record.dwlog.gz", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData("from=2026-01-13T08:00:00Z&to=2026-01-15T08:50:00Z", HttpStatusCode.BadRequest, "at most 36 h")]
    [InlineData("from=2026-01-15T08:00:00Z&to=2026-01-15T08:50:00Z&zone=Mars", HttpStatusCode.BadRequest, "no time zone this machine knows")]
    [InlineData("from=2026-02-15T08:00:00Z&to=2026-02-15T08:50:00Z", HttpStatusCode.NotFound, "in which the bench was watched")]
    public async Task What_can_t_be_reported_is_said_with_its_remedy(string query, HttpStatusCode code, string says)
    {
        foreach (string what in new[] { "report.pdf", "report.html", "package.zip" })
        {
            using HttpResponseMessage answer = await _served.Client.GetAsync($"{Root}/{what}?{query}");
            Assert.Equal(code, answer.StatusCode);
            Assert.Contains(says, await answer.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        }
    }
}
