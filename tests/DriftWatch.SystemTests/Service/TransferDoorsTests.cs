using System.Globalization;
using System.Text.Json;
using System.Text.RegularExpressions;

namespace DriftWatch.SystemTests.Service;

/// <summary>
/// A tape's way through the bench by both doors: the power goes after each entry and nothing of what was answered is lost or entered twice;
/// and ninety recorded minutes taken through by commands, and by the door that the page uses, give one report. No page is opened here: what
/// a person writes down afterwards in a browser is <c>WrittenAfterwardsTests</c>.
/// </summary>
public sealed partial class TransferDoorsTests : IDisposable
{
    private const string Name = "sound-transfer";
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-doors-").FullName;

    /// <summary>The way of a pass, each entry with its instant in the recording, by the fields of the door.</summary>
    private static readonly (string Verb, string Kind, string At, (string Key, object Value)[] Fields)[] Way =
    [
        ("tape", "tape-described", "07:50:00", [("identifier", "MC-0117"), ("title", "Harbour regatta"), ("standard", "525/60"), ("band", "high-band"), ("speedInchesPerSecond", 15.0), ("condition", "two splices")]),
        ("open", "transfer-opened", "07:52:00", []),
        ("pass", "pass-opened", "07:55:00", []),
        ("check", "check-signed", "07:56:00", [("check", "air-before-wheel"), ("answer", "done")]),
        ("check", "check-signed", "07:57:00", [("check", "filter-drained"), ("answer", "not-done"), ("note", "The drain is stuck.")]),
        ("step", "line-up-step", "08:01:30", [("step", "tracking"), ("before", -3.0), ("after", -0.4), ("turned", "tracking, half a turn")]),
        ("lined-up", "line-up-ended", "08:01:50", []),
        ("begin", "run-began", "08:02:10", []),
        ("note", "note", "08:11:40", [("mark", true), ("note", "splice")]),
        ("end", "run-ended", "09:26:50", []),
        ("verdict", "verdict-given", "09:40:00", []),
        ("countersign", "verdict-countersigned", "09:45:00", [("by", "Tom Ashby")]),
    ];

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task The_power_goes_after_each_entry_and_the_way_goes_on_where_it_was()
    {
        string bench = Path.Combine(AppContext.BaseDirectory, "device-profiles", "practice-rig", "bench.toml");
        string store = Path.Combine(_folder, "killed");
        for (int i = 0; i <= Way.Length; i++)
        {
            using ServiceProcess service = await ServiceProcess.WatchAsync(bench, store);
            if (i > 0)
            {
                await ExpectKeptAsync(service, i - 1);
            }

            if (i < Way.Length)
            {
                JsonElement answer = await service.PostAsync("/api/v1/benches/practice/entries", Body(i, about: false));
                Assert.True(answer.TryGetProperty("input", out JsonElement input) && input.GetInt64() > 0, answer.GetRawText());
            }

            service.KillHard(); // at once: what was answered is stored
        }
    }

    private static async Task ExpectKeptAsync(ServiceProcess service, int entry)
    {
        // Its answer might have been lost: sent again, it is entered once.
        JsonElement again = await service.PostAsync("/api/v1/benches/practice/entries", Body(entry, about: false));
        Assert.True(again.TryGetProperty("input", out JsonElement input), again.GetRawText());
        Assert.Equal(0, input.GetInt64());
        if (entry < 2)
        {
            Assert.Equal(1, (await service.GetAsync("/api/v1/benches/practice/tapes")).GetArrayLength());
            return;
        }

        JsonElement pass = Assert.Single((await service.GetAsync($"/api/v1/benches/practice/transfers/{TransferId}")).GetProperty("passes").EnumerateArray());
        Assert.Equal(entry - 1, pass.GetProperty("entries").GetInt32());
        Assert.Equal(entry == Way.Length - 1, pass.GetProperty("next").GetString() == "Done.");
    }

    [Fact]
    public async Task Ninety_recorded_minutes_give_the_same_report_by_commands_and_by_the_door()
    {
        string recordings = Path.Combine(Checkout(), "replay-data", Name);
        string[] stores = ["by-commands", "by-page"];
        string one = Path.Combine(_folder, stores[0], Name);
        (int code, string said) = await ServiceProcess.RunAsync("import", Path.Combine(recordings, "recording.csv.gz"), "--store", one);
        Assert.True(code == 0, said);
        string other = Directory.CreateDirectory(Path.Combine(_folder, stores[1], Name)).FullName;
        foreach (string file in Directory.EnumerateFiles(one).Where(f => !Path.GetFileName(f).StartsWith("writer.", StringComparison.Ordinal)))
        {
            File.Copy(file, Path.Combine(other, Path.GetFileName(file)));
        }

        for (int i = 0; i < Way.Length; i++)
        {
            (code, said) = await ServiceProcess.RunAsync(Command(i, one));
            Assert.True(code == 0, said);
        }

        string served;
        using (ServiceProcess service = await ServiceProcess.WatchAsync(Path.Combine(recordings, "bench.toml"), Path.Combine(_folder, stores[1])))
        {
            for (int i = 0; i < Way.Length; i++)
            {
                JsonElement answer = await service.PostAsync($"/api/v1/benches/{Name}/entries", Body(i, about: true));
                Assert.True(answer.TryGetProperty("input", out _), answer.GetRawText());
            }

            using var client = new HttpClient();
            served = await client.GetStringAsync(new Uri($"http://127.0.0.1:{service.Port}/api/v1/benches/{Name}/transfers/{TransferId}/report.html"));
            Assert.Equal(0, (await service.StopAsync()).Code);
        }

        string[] reports = [.. await Task.WhenAll(new[] { one, other }.Select(ReportAsync))];
        Assert.True(reports[0].Length > 500_000 && reports[0].Contains("MC-0117", StringComparison.Ordinal), "This is no report.");
        Assert.Equal(Undated(reports[0]), Undated(reports[1]));
        Assert.Equal(Undated(reports[0]), Undated(served));
        Assert.NotEqual(Undated(reports[0]), Undated(reports[0].Replace("two splices", "three splices", StringComparison.Ordinal)));
    }

    private async Task<string> ReportAsync(string store)
    {
        string file = Path.Combine(_folder, Path.GetFileName(Path.GetDirectoryName(store)!) + ".html");
        (int code, string said) = await ServiceProcess.RunAsync("report", store, "--transfer", TransferId.ToString(), "--out", file);
        Assert.True(code == 0, said);
        return await File.ReadAllTextAsync(file);
    }

    private static string Undated(string report) => Made().Replace(report, "");

    [GeneratedRegex("<time datetime=\"[^\"]+\">[^<]+</time>", RegexOptions.None, 5000)]
    private static partial Regex Made();

    private static Guid Id(int entry) => Guid.Parse($"0190a6f0-{entry.ToString("x4", CultureInfo.InvariantCulture)}-7000-8000-000000000001");

    private static Guid TransferId => Guid.Parse("0190a6f0-00fe-7000-8000-000000000001");

    private static Guid PassId => Guid.Parse("0190a6f0-00fd-7000-8000-000000000001");

    private static Guid TapeId => Guid.Parse("0190a6f0-00ff-7000-8000-000000000001");

    private static Dictionary<string, object> Body(int entry, bool about)
    {
        (_, string kind, string at, (string, object)[] fields) = Way[entry];
        var body = new Dictionary<string, object> { ["kind"] = kind, ["id"] = Id(entry), ["by"] = "Ida Wren" };
        if (about)
        {
            body["about"] = $"2026-01-15T{at}Z";
        }

        if (entry < 2)
        {
            body["tape"] = TapeId;
        }

        if (kind is "transfer-opened")
        {
            body["transfer"] = TransferId;
        }

        if (kind is "pass-opened")
        {
            body["pass"] = PassId;
        }

        foreach ((string key, object value) in fields)
        {
            body[key] = value;
        }

        return body;
    }

    private static string[] Command(int entry, string store)
    {
        (string verb, _, string at, (string Key, object Value)[] fields) = Way[entry];
        string by = fields.Where(f => f.Key == "by").Select(f => (string)f.Value).FirstOrDefault("Ida Wren");
        List<string> words = ["transfer", verb, store];
        string[] places = ["check", "step"];
        words.AddRange(fields.Where(f => places.Contains(f.Key)).Select(f => (string)f.Value));
        words.AddRange(["--id", Id(entry).ToString(), "--by", by, "--about", $"2026-01-15T{at}Z"]);
        if (entry < 2)
        {
            words.AddRange(["--tape", TapeId.ToString()]);
        }

        if (verb is "open" or "pass")
        {
            words.AddRange(verb == "open" ? ["--transfer", TransferId.ToString()] : ["--pass", PassId.ToString()]);
        }

        foreach ((string key, object value) in fields.Where(f => f.Key != "by" && !places.Contains(f.Key)))
        {
            words.Add(key == "speedInchesPerSecond" ? "--speed" : "--" + key);
            if (value is not true)
            {
                words.Add(Convert.ToString(value, CultureInfo.InvariantCulture)!);
            }
        }

        return [.. words];
    }

    private static string Checkout()
    {
        string? folder = AppContext.BaseDirectory;
        while (folder is not null && !File.Exists(Path.Combine(folder, "DriftWatch.sln")))
        {
            folder = Path.GetDirectoryName(folder);
        }

        return folder ?? throw new InvalidOperationException("The tests run outside of the checkout.");
    }
}
