using System.Net;
using System.Text;
using System.Text.Json;
using System.Text.RegularExpressions;
using DriftWatch.Cli;
using DriftWatch.Measurement.Channels;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Shifts;
using DriftWatch.Storage;
using DriftWatch.Tests.Cli;
using DriftWatch.Tests.Recordings;
using DriftWatch.Tests.Reports.Dossiers;
using DriftWatch.Tests.Web;
using DriftWatch.Transfers;
using DriftWatch.Watch.Transfers;
using DriftWatch.Web;
using DriftWatch.Web.Api;
using BenchReader = DriftWatch.Storage.Queries.BenchReader;

namespace DriftWatch.Tests.Reports.Shifts;

/// <summary>The night of the failing compressor handed over at instants of which its script tells what is so: by command line, API and document.</summary>
[Collection(ImportedStores.Name)]
public sealed partial class HandOverStoreTests : IDisposable
{
    private static readonly DateTimeOffset Made = new(2026, 3, 1, 12, 0, 0, TimeSpan.Zero);

    private readonly RecordingFolder _folder = new();

    public HandOverStoreTests(ImportedStores stores) => AShift.Copy(stores.Compressor, Store);

    private string Store => _folder.PathOf("store");

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void While_the_compressor_fails_it_is_what_waits_and_what_to_do_first()
    {
        HandOver shift = HandOverReader.Read(Store, AShift.Utc("08:00:00"), AShift.Utc("08:37:30"));
        Assert.Equal(MachineState.Locked, shift.State);
        Assert.InRange(shift.StateSinceUtc!.Value, AShift.Utc("08:00:30"), AShift.Utc("08:02:00"));
        Assert.Null(shift.SilentSinceUtc);
        HandOverPass pass = Assert.Single(shift.Passes);
        Assert.Equal(("MC-0094, Lifeboat Sunday", "0:35:30.0"), (pass.Tape, pass.Place.ToString()));
        HandOverAlarm worst = shift.Waiting.First();
        Assert.Equal("compressor-worn", worst.Line.Cause);
        Assert.InRange(worst.RaisedUtc, AShift.Utc("08:22:00"), AShift.Utc("08:30:10"));
        Assert.StartsWith("Finish or stop the tape before the supply", shift.Next[0].Text, StringComparison.Ordinal);
        Assert.Equal(["flash at the cut", "Compressor sounds rough."], shift.Notes.Select(n => n.Text));
        Assert.Equal(["0:18:30.0", "0:28:00.0"], shift.Notes.Select(n => n.Place.ToString()));
        Assert.Equal("Pre-flight signed: 2.", HandOverReader.Read(Store, AShift.Utc("07:00:00"), AShift.Utc("08:37:30")).Entries.Single(e => e.Kind == "check-signed").Text);
    }

    [Fact]
    public void With_the_book_in_hand_it_is_the_same_and_the_store_s_is_not_read()
    {
        KeptBook book;
        using (var reader = new BenchReader(Store))
        {
            book = KeptBook.Of(reader);
        }

        (long from, long to) = (AShift.Utc("07:00:00"), AShift.Utc("08:25:00")); // notes and the hand-over came later
        string read = JsonSerializer.Serialize(HandOverAnswer.Of(HandOverReader.Read(Store, from, to)));
        Assert.Equal(read, JsonSerializer.Serialize(HandOverAnswer.Of(HandOverReader.Read(Store, from, to, null, book))));
        Assert.Empty(HandOverReader.Read(Store, from, to, null, new KeptBook([], TransferBook.Empty)).Entries);
    }

    [Fact]
    public void Findings_that_are_left_out_are_said_on_sheet_and_page()
    {
        (long from, long to) = (AShift.Utc("08:00:00"), AShift.Utc("08:37:30"));
        Assert.Null(HandOverReader.Read(Store, from, to).LeftOutWords);
        HandOver shift = HandOverReader.Read(Store, from, to, mostLines: 2);
        string said = $"There were more findings than are told here: the oldest {shift.LinesLeftOut} lines are left out. A shift of fewer hours tells more.";
        Assert.InRange(shift.LinesLeftOut, 2, 200);
        Assert.Equal(said, HandOverAnswer.Of(shift).LeftOut);
        Assert.Contains(HandOverDocument.Of(shift, TimeZoneInfo.Utc, Made).Blocks.OfType<Facts>(), f => f.Items.Contains(new Fact("Left out", said)));
    }

    [Fact]
    public void Of_an_earlier_instant_nothing_is_told_that_came_later()
    {
        HandOver shift = HandOverReader.Read(Store, AShift.Utc("08:00:00"), AShift.Utc("08:15:00"));
        Assert.Empty(shift.Alarms);
        Assert.Empty(shift.Drifts);
        Assert.Equal(0, shift.Raised);
        Assert.Empty(shift.Notes);
        Assert.Equal("0:13:00.0", Assert.Single(shift.Passes).Place.ToString());
        Assert.DoesNotContain(shift.Due, d => d.What == "Head hours"); // 499.5 h and a quarter of an hour
    }

    [Fact]
    public void An_hour_after_the_end_it_is_told_as_it_stood_then()
    {
        HandOver shift = HandOverReader.Read(Store, null, AShift.Utc("09:50:00"));
        Assert.Equal(AShift.Utc("08:49:59"), shift.SilentSinceUtc!.Value, 2e9);
        HandOverDue hours = Assert.Single(shift.Due, d => d.What == "Head hours");
        Assert.True(hours.IsOverdue); // tape ran for more than half an hour
    }

    [Fact]
    public void The_same_store_gives_the_same_sheet_but_for_the_date_and_it_is_one_page()
    {
        byte[] once = Pdf(Made);
        Assert.Equal(once, Pdf(Made));
        Assert.Single(PageObject().Matches(Encoding.Latin1.GetString(once)));
        string[] html = Html(Made).Split('\n');
        string[] later = Html(Made.AddDays(3)).Split('\n');
        Assert.Contains("2026-03-01T12:00:00Z", Assert.Single(html.Zip(later), l => l.First != l.Second).First, StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_command_says_it_as_text_and_writes_what_is_asked_for()
    {
        string pdf = _folder.PathOf("night.pdf");
        (int code, string said, string error) = await CommandLineTests.RunAsync("handover", Store, "--to", "2026-01-15T08:37:30Z", "--zone", "Europe/Paris");
        Assert.True(code == ExitCode.Done, error);
        Assert.Contains("1 alarm waits for an answer", said, StringComparison.Ordinal);
        Assert.Contains("MC-0094, Lifeboat Sunday, pass 1: running since 15 Jan 2026 09:02:00, at 0:35:30.0", said, StringComparison.Ordinal);
        Assert.Contains("Compressor sounds rough.", said, StringComparison.Ordinal);
        (code, said, error) = await CommandLineTests.RunAsync("handover", Store, "--out", pdf, "--out", _folder.PathOf("night.html"));
        Assert.True(code == ExitCode.Done, error);
        Assert.Empty(said);
        Assert.Equal("%PDF"u8.ToArray(), (await File.ReadAllBytesAsync(pdf))[..4]);
        Assert.Contains("Handed over to Tom Ashby. Look at the compressor.", await File.ReadAllTextAsync(_folder.PathOf("night.html")), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(ExitCode.Usage, "turn them round", "--from", "2026-01-16", "--to", "2026-01-15")]
    [InlineData(ExitCode.Usage, "tells no kind of report", "--out", "night.docx")]
    [InlineData(ExitCode.BadInput, "choose a later end", "--to", "2026-01-01")]
    public async Task What_can_t_be_told_is_refused_with_its_remedy(int expected, string says, params string[] arguments)
    {
        (int code, _, string error) = await CommandLineTests.RunAsync(["handover", Store, .. arguments]);
        Assert.Equal((expected, true), (code, error.Contains(says, StringComparison.Ordinal)));
    }

    [Fact]
    public async Task A_store_in_which_nothing_was_recorded_and_a_folder_without_one_are_told_apart()
    {
        string empty = _folder.PathOf("empty");
        Directory.CreateDirectory(empty);
        (int code, _, string error) = await CommandLineTests.RunAsync("handover", empty);
        Assert.Equal((ExitCode.BadInput, true), (code, error.Contains("holds no store", StringComparison.Ordinal)));
        BenchStore.Open(empty, new BenchStoreOptions()).Dispose();
        (code, _, error) = await CommandLineTests.RunAsync("handover", empty);
        Assert.Equal((ExitCode.BadInput, true), (code, error.Contains("nothing was recorded here yet", StringComparison.Ordinal)));
    }

    [Fact]
    public async Task The_API_tells_the_same()
    {
        using var view = new StoredView(Store);
        await using ServedBench served = await ServedBench.StartAsync(new WebSettings(), view, new FakeBench(TimeProvider.System));
        const string path = "/api/v1/benches/failing-compressor/handover";
        JsonElement shift = await served.GetAsync($"{path}?from=2026-01-15T07:00:00Z&to=2026-01-15T08:37:30Z");
        HandOver known = HandOverReader.Read(Store, AShift.Utc("07:00:00"), AShift.Utc("08:37:30"));
        Assert.Equal("locked", shift.GetProperty("state").GetString());
        Assert.Equal(known.Next.Select(n => n.Text), shift.GetProperty("next").EnumerateArray().Select(n => n.GetProperty("text").GetString()));
        Assert.Equal(known.Alarms.Select(a => a.Line.Id), shift.GetProperty("alarms").EnumerateArray().Select(a => a.GetProperty("id").GetString()));
        Assert.Equal("0:35:30.0", shift.GetProperty("passes")[0].GetProperty("place").GetProperty("text").GetString());
        Assert.Equal(known.Entries.Count, shift.GetProperty("entries").GetArrayLength());
        JsonElement now = await served.GetAsync(path);
        Assert.Equal("hand-over", now.GetProperty("notes").EnumerateArray().Last().GetProperty("kind").GetString());

        await served.GetAsync($"{path}?from=2026-01-16&to=2026-01-15", HttpStatusCode.BadRequest);
        await served.GetAsync($"{path}?from=yesterday", HttpStatusCode.BadRequest);
        await served.GetAsync($"{path}?from=2025-01-01T00:00:00Z&to=2025-01-02T00:00:00Z", HttpStatusCode.NotFound);
        await served.GetAsync("/api/v1/benches/nowhere/handover", HttpStatusCode.NotFound);
        JsonElement none = await served.GetAsync("/api/v1/benches/practice/handover", HttpStatusCode.NotFound);
        Assert.Contains("keeps no store", none.GetProperty("detail").GetString(), StringComparison.Ordinal);
    }

    private Document Sheet(DateTimeOffset made) => HandOverDocument.Of(HandOverReader.Read(Store, AShift.Utc("07:00:00"), AShift.Utc("08:40:00")), TimeZoneInfo.Utc, made);

    private byte[] Pdf(DateTimeOffset made)
    {
        using var stream = new MemoryStream();
        PdfDocument.Write(stream, Sheet(made));
        return stream.ToArray();
    }

    private string Html(DateTimeOffset made)
    {
        using var stream = new MemoryStream();
        HtmlDocument.Write(stream, Sheet(made));
        return Encoding.UTF8.GetString(stream.ToArray());
    }


    [GeneratedRegex("/Type /Page\\b", RegexOptions.None, 5000)]
    private static partial Regex PageObject();
}
