using System.CommandLine;
using System.Globalization;
using System.Net;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using DriftWatch.Cli;
using DriftWatch.Cli.Transfers;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers;
using DriftWatch.Reports.Packages;
using DriftWatch.Storage;
using DriftWatch.Tests.Cli;
using DriftWatch.Tests.Recordings;
using DriftWatch.Tests.Reports.Dossiers;
using DriftWatch.Transfers;
using DriftWatch.Watch.Transfers;
using DriftWatch.Web;
using DriftWatch.Web.Api;
using DriftWatch.Web.Api.Transfers;
using Microsoft.Extensions.DependencyInjection;
using Xunit;
using BenchReader = DriftWatch.Storage.Queries.BenchReader;

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
        System.CommandLine.Command command = type == "application/zip" ? PackageCommand.Create(At) : ReportCommand.Create(At);
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

    /// <summary>A record that still grows, or whose last minute is missing, is no evidence, whoever asks.</summary>
    [Theory]
    [InlineData("2026-01-15T09:27:20Z", 1, "The run ended less than a minute ago, and the minute after it belongs to the package. Ask again in a minute.")]
    [InlineData("2026-01-15T10:20:00Z", 2, "The tape still runs, so its record grows while it is packed. End the run, and ask again a minute later.")]
    public async Task What_the_page_packs_too_early_the_command_line_does_not_pack_either(string now, int pass, string says)
    {
        TransferredStore.BeginAnotherRun(Store);
        string target = _folder.PathOf("early.zip");
        ParseResult asked = PackageCommand.Create(new Standing(DateTimeOffset.Parse(now, CultureInfo.InvariantCulture)))
            .Parse([Store, "--transfer", TransferredStore.Transfer.ToString(), "--pass", pass.ToString(CultureInfo.InvariantCulture), "--out", target]);
        CommandException refused = await Assert.ThrowsAsync<CommandException>(() => asked.InvokeAsync(new InvocationConfiguration { EnableDefaultExceptionHandler = false }));
        Assert.Equal((ExitCode.BadInput, says), (refused.Code, refused.Message));
        Assert.False(File.Exists(target));
    }

    /// <summary>Lists that the site changed since tell of the passes to come: page, report and command line judge one that has run by those of its day.</summary>
    [Fact]
    public async Task A_pass_that_has_run_is_judged_by_the_lists_of_its_day()
    {
        using var reader = new BenchReader(Store);
        BenchDefinition then = reader.DifferentBenches()[^1].Bench;
        TransferProcedures lists = then.Procedures ?? TransferReader.Default;
        string before = await _served.Client.GetStringAsync($"{Root}passes/{TransferredStore.Pass}/review");
        BenchDefinition later = then with
        {
            SourceHash = new string('e', 64),
            Procedures = lists with
            {
                Checks = new CheckList("later", []),
                Rules = lists.Rules with { Hash = "later", Rules = [], Review = lists.Rules.Review with { HandleSeconds = 300 } },
            },
        };
        using (BenchStore store = BenchStore.Open(Store, new BenchStoreOptions()))
        {
            store.Append([EngineInput.OfBench(store.LastTime, later) with { Number = store.LastNumber + 1 }]);
        }

        using var desk = new TransferDesk(reader, () => later, _ => throw new IOException("nothing is entered"), At);
        TransferBook book = desk.Book;
        BookPass ran = book.Transfer(TransferredStore.Transfer)!.Passes[0], open = book.Transfer(TransferredStore.Transfer)!.Passes[1];
        Assert.Equal(lists.Rules.Hash, desk.BenchOf(ran).Procedures.Rules.Hash);
        Assert.Equal("later", desk.BenchOf(open).Procedures.Rules.Hash);
        PassReview review = desk.Review(book, ran);
        Assert.NotEmpty(review.Progress.ChecksUnsigned);
        Assert.Equal(JsonNode.Parse(before)!.ToJsonString(), JsonSerializer.SerializeToNode(ReviewAnswer.Of(review), ApiJson.Options)!.ToJsonString());
        Dossier dossier = DossierReader.OfTransfer(Store, TransferredStore.Transfer.ToString(), 1);
        Assert.Equal(lists.Rules.Hash, dossier.Transfer!.Procedures.Rules.Hash);
        Assert.Equal(review.Sections.Select(s => (s.FromSeconds, s.ToSeconds)), dossier.Transfer.Review.Sections.Select(s => (s.FromSeconds, s.ToSeconds)));
        (int code, string shown, _) = await CommandLineTests.RunAsync("transfer", "show", Store, "--pass", TransferredStore.Pass.ToString());
        Assert.Equal(ExitCode.Done, code);
        Assert.Contains("tape-inspected", shown, StringComparison.Ordinal); // an item of the list of then
    }

    [Fact]
    public async Task The_lists_of_a_pass_are_had_by_its_id()
    {
        JsonNode now = JsonNode.Parse(await _served.Client.GetStringAsync("/api/v1/benches/sound-transfer/procedures"))!;
        Assert.True(JsonNode.DeepEquals(now, JsonNode.Parse(await _served.Client.GetStringAsync($"/api/v1/benches/sound-transfer/procedures?pass={TransferredStore.Pass}"))));
        using HttpResponseMessage none = await _served.Client.GetAsync($"/api/v1/benches/sound-transfer/procedures?pass={TransferredStore.Tape}");
        Assert.Equal(HttpStatusCode.NotFound, none.StatusCode);
    }

    /// <summary>What the page shows beside each item before anybody signs it; the script puts the air on at 08:00:20 and the wheel at 08:00:30.</summary>
    [Fact]
    public async Task Who_prepares_by_command_line_is_told_what_readings_say_now()
    {
        TransferredStore.DescribeAgain(Store, "625/50");
        using var output = new StringWriter();
        await TransferLook.Show(new Standing(DateTimeOffset.Parse("2026-01-15T08:02:00Z", CultureInfo.InvariantCulture))).Parse([Store])
            .InvokeAsync(new InvocationConfiguration { Output = output, EnableDefaultExceptionHandler = false });
        string shown = output.ToString();
        Assert.Contains("pass 2, preparing", shown, StringComparison.Ordinal);
        Assert.Contains("standard now contradicted: The wheel turns 2", shown, StringComparison.Ordinal);
        Assert.Contains(" now proved: When the wheel began to turn at 2026-01-15T08:00:3", shown, StringComparison.Ordinal);
        Assert.Contains(" now proved: Regulated air is", shown, StringComparison.Ordinal);
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
