using System.Net;
using System.Text;
using System.Text.Json;
using DriftWatch.Cli;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Maintaining;
using DriftWatch.Storage;
using DriftWatch.Tests.Cli;
using DriftWatch.Tests.Recordings;
using DriftWatch.Tests.Reports.Dossiers;
using DriftWatch.Tests.Web;
using DriftWatch.Web;

namespace DriftWatch.Tests.Reports.Maintaining;

/// <summary>The month of one recording, by command line, API and document.</summary>
[Collection(ImportedStores.Name)]
public sealed class MaintenanceStoreTests(ImportedStores stores) : IDisposable
{
    private static readonly DateTimeOffset Made = new(2026, 3, 1, 12, 0, 0, TimeSpan.Zero);
    private readonly RecordingFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void What_the_script_of_the_failing_compressor_did_stands_in_its_month()
    {
        MaintenanceRecord record = Read(stores.Compressor);
        Assert.Equal(50.0 / 60, record.WatchedHours, 0.02);
        Assert.InRange(record.TapeHours, 0.6, 0.72); // tape ran from 08:01 to 08:42
        Assert.Contains(record.Causes, c => c.Cause == "compressor-worn");
        Assert.Equal(3, record.Alarms.Calls); // one alarm: it came with the duty, and worsened with the supply and then with the air
        AirDay day = Assert.Single(record.Air.Days);
        Assert.True(day.Least <= day.Mean && day.Mean <= day.Greatest);
        Assert.Equal(3000, day.Count, 10.0); // one a second
        Assert.Equal("2026-01-15T00:00:00.000Z", UtcText.FromNanoseconds(day.Utc));
        Assert.All(record.Heads, h => Assert.False(h.Trend.IsKnown)); // one tape tells no wear
    }

    [Fact]
    public void Findings_that_are_not_counted_are_said_in_report_and_answer()
    {
        Assert.Null(Read(stores.Compressor).LeftOutWords);
        MaintenanceRecord record = MaintenanceReader.Read(stores.Compressor, Utc("2026-01-01"), Utc("2026-02-01"), mostLines: 2);
        string said = $"There were more findings than are told here: the oldest {record.LinesLeftOut} lines are left out. Hours of tape, causes and sags miss them; a record of fewer months counts all.";
        Assert.InRange(record.LinesLeftOut, 2, 200);
        Assert.Equal(said, DriftWatch.Web.Api.MaintenanceAnswer.Of(record).LeftOut);
        Assert.Contains(MaintenanceDocument.Of(record, TimeZoneInfo.Utc, Made).Blocks.OfType<Paragraph>(), p => p.Text == said);
    }

    [Fact]
    public void The_same_store_gives_the_same_report_but_for_the_date()
    {
        byte[] once = Pdf(Made);
        Assert.Equal(once, Pdf(Made));
        string[] html = Html(Made).Split('\n');
        Assert.Contains("2026-03-01T12:00:00Z", Assert.Single(html.Zip(Html(Made.AddDays(3)).Split('\n')), l => l.First != l.Second).First, StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_command_writes_a_month()
    {
        string pdf = _folder.PathOf("january.pdf");
        (int code, string said, string error) = await CommandLineTests.RunAsync("maintenance", stores.Compressor, "--month", "2026-01");
        Assert.True(code == ExitCode.Done, error);
        Assert.Contains("1 Jan 2026 00:00:00 to 1 Feb 2026 00:00:00 UTC", said, StringComparison.Ordinal);
        Assert.Contains("too few to say: ", said, StringComparison.Ordinal);
        (code, _, error) = await CommandLineTests.RunAsync("maintenance", stores.Compressor, "--month", "2026-01", "--zone", "Europe/Paris", "--out", pdf);
        Assert.True(code == ExitCode.Done, error);
        Assert.Equal("%PDF"u8.ToArray(), (await File.ReadAllBytesAsync(pdf))[..4]);
    }

    [Theory]
    [InlineData(ExitCode.Usage, "is no month", "--month", "2026-13")]
    [InlineData(ExitCode.Usage, "give --month, or both", "--from", "2026-01-01")]
    [InlineData(ExitCode.Usage, "give --month, or both", "--month", "2026-01", "--to", "2026-02-01")]
    [InlineData(ExitCode.Usage, "turn them round", "--from", "2026-02-01", "--to", "2026-01-01")]
    [InlineData(ExitCode.Usage, "longer than a year", "--from", "2024-01-01", "--to", "2026-01-01")]
    [InlineData(ExitCode.BadInput, "choose a later span", "--month", "2025-11")]
    public async Task What_can_t_be_told_is_refused_with_its_remedy(int expected, string says, params string[] arguments)
    {
        (int code, _, string error) = await CommandLineTests.RunAsync(["maintenance", stores.Compressor, .. arguments]);
        Assert.True(code == expected && error.Contains(says, StringComparison.Ordinal), $"{code}: {error}");
    }

    [Fact]
    public async Task A_store_in_which_nothing_was_recorded_says_so()
    {
        string empty = _folder.PathOf("empty");
        BenchStore.Open(empty, new BenchStoreOptions()).Dispose();
        (int code, _, string error) = await CommandLineTests.RunAsync("maintenance", empty, "--month", "2026-01");
        Assert.True(code == ExitCode.BadInput && error.Contains("nothing was recorded here yet", StringComparison.Ordinal), error);
    }

    [Fact]
    public async Task The_API_tells_the_same()
    {
        using var view = new StoredView(stores.Compressor);
        await using ServedBench served = await ServedBench.StartAsync(new WebSettings(), view);
        const string path = "/api/v1/benches/failing-compressor/maintenance";
        JsonElement told = await served.GetAsync($"{path}?from=2026-01-01T00:00:00Z&to=2026-02-01T00:00:00Z");
        MaintenanceRecord record = Read(stores.Compressor);
        Assert.Equal(record.TapeHours, told.GetProperty("tapeHours").GetDouble());
        Assert.Equal(record.Air.Days[0].Mean, told.GetProperty("air").GetProperty("mean").GetDouble());
        Assert.Equal(record.Heads.Count, told.GetProperty("heads").GetArrayLength());
        Assert.StartsWith("too few to say", told.GetProperty("heads")[0].GetProperty("says").GetString(), StringComparison.Ordinal);
        await served.GetAsync($"{path}?from=2026-02-01T00:00:00Z&to=2026-01-01T00:00:00Z", HttpStatusCode.BadRequest);
        await served.GetAsync($"{path}?from=2024-01-01T00:00:00Z&to=2026-01-01T00:00:00Z", HttpStatusCode.BadRequest);
        await served.GetAsync($"{path}?from=2025-01-01T00:00:00Z&to=2025-02-01T00:00:00Z", HttpStatusCode.NotFound);
    }

    private static MaintenanceRecord Read(string store) => MaintenanceReader.Read(store, Utc("2026-01-01"), Utc("2026-02-01"));

    private Document Report(DateTimeOffset made) => MaintenanceDocument.Of(Read(stores.Compressor), TimeZoneInfo.Utc, made);

    private byte[] Pdf(DateTimeOffset made)
    {
        using var stream = new MemoryStream();
        PdfDocument.Write(stream, Report(made));
        return stream.ToArray();
    }

    private string Html(DateTimeOffset made)
    {
        using var stream = new MemoryStream();
        HtmlDocument.Write(stream, Report(made));
        return Encoding.UTF8.GetString(stream.ToArray());
    }

    private static long Utc(string day) => UtcText.TryParse($"{day}T00:00:00Z", out long utc) ? utc : throw new FormatException(day);
}
