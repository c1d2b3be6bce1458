using System.CommandLine;
using System.Globalization;
using System.Net;
using System.Text;
using DriftWatch.Cli;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Packages;
using DriftWatch.Tests.Recordings;
using DriftWatch.Tests.Reports.Dossiers;
using DriftWatch.Web;
using Microsoft.Extensions.DependencyInjection;
using Xunit;

namespace DriftWatch.Tests.Web.Transfers;

/// <summary>The documents of a transfer over the API, held against those that the command line makes of the same store.</summary>
[Collection(ImportedStores.Name)]
public sealed class TransferPapersTests : IAsyncLifetime, IDisposable
{
    private static readonly string Root = $"/api/v1/benches/sound-transfer/transfers/{TransferredStore.Transfer}/";
    private static readonly TimeProvider At = new Standing(new(2026, 3, 1, 12, 0, 0, TimeSpan.Zero));
    private readonly RecordingFolder _folder = new();
    private readonly StoredView _view;
    private ServedBench _served = null!;

    public TransferPapersTests(ImportedStores stores)
    {
        TransferredStore.Make(stores.Sound, Store);
        TransferredStore.OpenAnotherPass(Store);
        _view = new StoredView(Store);
    }

    private string Store => _folder.PathOf("store");

    public async Task InitializeAsync() => _served = await ServedBench.StartAsync(new WebSettings(), builder => builder.Services.AddSingleton<TimeProvider>(At), _view);

    public async Task DisposeAsync() => await _served.DisposeAsync();

    public void Dispose()
    {
        _view.Dispose();
        _folder.Dispose();
    }

    /// <summary>Both are given the same instant to be made at: then not a byte may differ, whatever depends on it.</summary>
    [Theory]
    [InlineData("report.html?pass=1", "text/html", null)]
    [InlineData("report.pdf", "application/pdf", "MC-0117-pass-1-report.pdf")] // the last pass that ran is the first
    [InlineData("package?pass=1", "application/zip", "MC-0117-pass-1-evidence.zip")]
    public async Task A_document_is_the_command_line_s_to_the_byte(string what, string type, string? name)
    {
        string file = _folder.PathOf(name ?? "report.html");
        Command command = type == "application/zip" ? PackageCommand.Create(At) : ReportCommand.Create(At);
        await command.Parse([Store, "--transfer", TransferredStore.Transfer.ToString(), "--out", file, "--zone", "Europe/Paris"])
            .InvokeAsync(new InvocationConfiguration { Output = TextWriter.Null, Error = TextWriter.Null, EnableDefaultExceptionHandler = false });

        using HttpResponseMessage answer = await _served.Client.GetAsync($"{Root}{what}{(what.Contains('?', StringComparison.Ordinal) ? '&' : '?')}zone=Europe/Paris");
        Assert.Equal(type, answer.Content.Headers.ContentType?.MediaType);
        Assert.Equal(name, answer.Content.Headers.ContentDisposition?.FileName?.Trim('"'));
        byte[] ours = await answer.Content.ReadAsByteArrayAsync();
        Assert.True((await File.ReadAllBytesAsync(file)).AsSpan().SequenceEqual(ours), "they differ");
        if (type == "text/html")
        {
            Assert.Equal(HtmlDocument.Policy, string.Join("; ", answer.Headers.GetValues("Content-Security-Policy")));
            Assert.Contains("MC-0117", Encoding.UTF8.GetString(ours), StringComparison.Ordinal);
        }
        else if (type == "application/zip")
        {
            string saved = _folder.PathOf("saved.zip");
            await File.WriteAllBytesAsync(saved, ours);
            Assert.Empty(BagCheck.Of(saved));
        }
    }

    [Theory]
    [InlineData("?pass=0", HttpStatusCode.BadRequest, "is not a whole number")]
    [InlineData("?pass=first", HttpStatusCode.BadRequest, "is not a whole number")]
    [InlineData("?zone=Mars", HttpStatusCode.BadRequest, "no time zone this machine knows")]
    [InlineData("?pass=2", HttpStatusCode.Conflict, "No tape has run in pass 2 yet.")]
    [InlineData("?pass=7", HttpStatusCode.NotFound, "This transfer has no pass 7: it has 2.")]
    public async Task What_can_t_be_made_is_said_with_its_remedy(string query, HttpStatusCode code, string says)
    {
        foreach (string what in new[] { "report.pdf", "report.html", "package" })
        {
            using HttpResponseMessage answer = await _served.Client.GetAsync(Root + what + query);
            string text = await answer.Content.ReadAsStringAsync();
            Assert.Equal(code, answer.StatusCode);
            Assert.Contains(says, text, StringComparison.Ordinal);
            Assert.Contains("remedy", text, StringComparison.Ordinal);
        }
    }

    [Theory]
    [InlineData("2026-01-15T09:27:20Z", "package?pass=1", "The run ended less than a minute ago")]
    [InlineData("2026-01-15T10:20:00Z", "package?pass=2", "The tape still runs, so its record grows while it is packed.")]
    [InlineData("2026-01-16T22:00:10Z", "package?pass=2", "of at most 36 h at once, and this run is longer")] // from 10:00:05 of the day before: 36 h and 5 s
    [InlineData("2026-01-16T22:00:10Z", "report.pdf?pass=2", "of at most 36 h at once, and this run is longer")]
    public async Task What_is_asked_for_too_early_or_is_too_long_is_refused_with_its_remedy(string now, string what, string says)
    {
        TransferredStore.BeginAnotherRun(Store);
        var time = new Standing(DateTimeOffset.Parse(now, CultureInfo.InvariantCulture));
        using var view = new StoredView(Store, time: time);
        await using ServedBench served = await ServedBench.StartAsync(new WebSettings(), builder => builder.Services.AddSingleton<TimeProvider>(time), view);
        using HttpResponseMessage answer = await served.Client.GetAsync(Root + what);
        string text = await answer.Content.ReadAsStringAsync();
        Assert.Equal(HttpStatusCode.Conflict, answer.StatusCode);
        Assert.Contains(says, text, StringComparison.Ordinal);
        Assert.Contains("remedy", text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_transfer_that_is_not_there_has_no_documents()
    {
        using HttpResponseMessage answer = await _served.Client.GetAsync($"/api/v1/benches/sound-transfer/transfers/{TransferredStore.Tape}/report.pdf");
        Assert.Equal(HttpStatusCode.NotFound, answer.StatusCode);
    }

    /// <summary>A clock that stands.</summary>
    private sealed class Standing(DateTimeOffset at) : TimeProvider
    {
        public override DateTimeOffset GetUtcNow() => at;
    }
}
