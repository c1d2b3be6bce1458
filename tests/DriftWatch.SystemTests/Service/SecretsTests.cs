using System.Globalization;
using System.IO.Compression;
using System.Net;
using System.Net.Http.Headers;
using System.Net.Http.Json;
using System.Runtime.Versioning;
using System.Text;
using System.Text.Json;
using Xunit.Abstractions;

namespace DriftWatch.SystemTests.Service;

/// <summary>
/// A bench with every kind of secret there is: passwords and a signing secret from files and from the environment, addresses that are
/// keys themselves, a token and a session. Whatever then comes out, by page, API, log, store, export or report, holds none of them.
/// </summary>
[SupportedOSPlatform("linux")] // modes of files
public sealed class SecretsTests(ITestOutputHelper output) : IDisposable
{
    private const string MailPassword = "plum-7f3a91c2e6";
    private const string SigningSecret = "quince-b84d02f7a1";
    private const string BrokerPassword = "medlar-19c5e7d3b0";
    private const string HookKey = "sloe-5e2d8a90c4";
    private const string AliveKey = "damson-c07f41b6e2";
    private const string MirrorAddress = "bullace-3d81f6a05c";
    private const string MirrorPassword = "greengage-90b2c4e7d8";

    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-secrets-").FullName;
    private readonly List<(string Where, byte[] What)> _out = [];

    private string Store => Path.Combine(_folder, "store");

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task No_secret_is_in_pages_answers_logs_the_store_exports_or_reports()
    {
        string bench = await WriteBenchAsync();
        string accessFile = Path.Combine(_folder, "access.toml");
        (int code, string said) = await ServiceProcess.RunAsync("access", "add", "Ida Wren", "--role", "operator", "--file", accessFile);
        Assert.True(code == 0, said);
        string token = said.Split('\n').Single(line => line.StartsWith("dw-", StringComparison.Ordinal)).Trim();
        string port = ServiceProcess.FreePort().ToString(CultureInfo.InvariantCulture);
        var environment = new Dictionary<string, string> 
        {
            ["DRIFTWATCH_TEST_MIRROR"] = $"http://127.0.0.1:{ServiceProcess.FreePort()}/{MirrorAddress}",
            ["DRIFTWATCH_TEST_MAIL"] = MailPassword, ["DRIFTWATCH_TEST_ALIVE"] = $"http://127.0.0.1:{ServiceProcess.FreePort()}/{AliveKey}",
        };
        string cookie;
        using (ServiceProcess service = ServiceProcess.Start(
            environment, "watch", bench, "--store", Store, "--listen", $"0.0.0.0:{port}", "--allow-host", AccessTests.OwnAddress().ToString(), "--access", accessFile))
        {
            using var handler = new HttpClientHandler { UseCookies = false }; // a program's way: with a cookie it would have to be a page
            using var client = new HttpClient(handler) { BaseAddress = new Uri($"http://{AccessTests.OwnAddress()}:{port}/") };
            await AccessTests.UntilAliveAsync(client, client.BaseAddress, service);
            cookie = await SignInAsync(client, token);
            client.DefaultRequestHeaders.Authorization = new AuthenticationHeaderValue("Bearer", token);
            using (HttpResponseMessage wrong = await client.PostAsJsonAsync(new Uri("api/v1/session", UriKind.Relative), new { token = token[..^4] + "aaaa" }))
            {
                await TakeAsync("a wrong sign-in", wrong);
            }

            await AskAllAsync(client);
            using (HttpResponseMessage tried = await client.PostAsJsonAsync(new Uri("api/v1/benches/practice/notices/test", UriKind.Relative), new { by = "Ida Wren" }))
            {
                await TakeAsync("all routes tried", tried);
                string answer = await tried.Content.ReadAsStringAsync();
                Assert.All((string[])["letters", "hook", "broker"], route => Assert.Contains($"\"{route}\"", answer, StringComparison.Ordinal));
            }

            await AskAllAsync(client);
            Assert.Equal(0, (await service.StopAsync()).Code);
            _out.Add(("the service's log", Encoding.UTF8.GetBytes(string.Join('\n', service.Said))));
        }

        await ReportAsync(bench);
        TakeFolder("store", Store);
        TakeFolder("reports", Path.Combine(_folder, "reports"));
        output.WriteLine($"{_out.Count} things said, {_out.Sum(o => (long)o.What.Length):N0} bytes: {string.Join("; ", _out.Select(o => o.Where))}");

        Assert.True(_out.Count > 60, "Too little came out to be worth searching.");
        Assert.Contains(_out, o => Holds(o.What, "letters"));
        string[] secrets = [MailPassword, SigningSecret, BrokerPassword, HookKey, AliveKey, MirrorAddress, MirrorPassword, token[12..], cookie];
        Assert.All(secrets, secret => Assert.True(Holds(Encoding.UTF8.GetBytes("before " + secret + " after"), secret)));
        Assert.Empty(Told(_out, secrets));

    }

    private async Task<string> WriteBenchAsync()
    {
        await File.WriteAllTextAsync(Path.Combine(_folder, "signing"), SigningSecret + "\n");
        await File.WriteAllTextAsync(Path.Combine(_folder, "broker"), BrokerPassword + "\n");
        await File.WriteAllTextAsync(Path.Combine(_folder, "mirror"), MirrorPassword + "\n");
        int nobody = ServiceProcess.FreePort();
        await File.WriteAllTextAsync(Path.Combine(_folder, "hook"), $"http://127.0.0.1:{nobody}/{HookKey}?key={HookKey}\n");
        foreach (string file in (string[])["signing", "broker", "hook", "mirror"])
        {
            File.SetUnixFileMode(Path.Combine(_folder, file), UnixFileMode.UserRead | UnixFileMode.UserWrite);
        }

        string practice = await File.ReadAllTextAsync(Path.Combine(AppContext.BaseDirectory, "device-profiles", "practice-rig", "bench.toml"));
        string path = Path.Combine(_folder, "bench.toml");
        await File.WriteAllTextAsync(path, practice + string.Create(CultureInfo.InvariantCulture, $$"""


            [[notice]]
            id = "letters"
            e-mail = { host = "127.0.0.1", port = {{nobody}}, user = "bench", password-env = "DRIFTWATCH_TEST_MAIL", from = "bench@example.org", to = ["shift@example.org"] }

            [[notice]]
            id = "hook"
            webhook = { url-file = "hook", secret-file = "signing" }

            [[notice]]
            id = "broker"
            mqtt = { host = "127.0.0.1", port = {{nobody}}, topic = "bench/notices", user = "bench", password-file = "broker" }

            [heartbeat]
            every = "1 s"
            url-env = "DRIFTWATCH_TEST_ALIVE"

            [[mirror]]
            id = "annex"
            url-env = "DRIFTWATCH_TEST_MIRROR"
            way = "v1"
            user = "bench"
            key-file = "mirror"
            """));
        return path;
    }

    private static async Task<string> SignInAsync(HttpClient client, string token)
    {
        using HttpResponseMessage answer = await client.PostAsJsonAsync(new Uri("api/v1/session", UriKind.Relative), new { token });
        Assert.True(answer.IsSuccessStatusCode, await answer.Content.ReadAsStringAsync());
        string set = answer.Headers.GetValues("Set-Cookie").First();
        return set[(set.IndexOf('=', StringComparison.Ordinal) + 1)..set.IndexOf(';', StringComparison.Ordinal)];
    }

    /// <summary>Everything that can be asked by GET, as the API's own document lists it, and the pages.</summary>
    private async Task AskAllAsync(HttpClient client)
    {
        using JsonDocument document = JsonDocument.Parse(await client.GetStringAsync(new Uri("api/v1/openapi.json", UriKind.Relative)));
        int asked = 0;
        foreach (JsonProperty path in document.RootElement.GetProperty("paths").EnumerateObject().Where(p => p.Value.TryGetProperty("get", out _)))
        {
            string at = path.Name.TrimStart('/').Replace("{bench}", "practice", StringComparison.Ordinal).Replace("{channel}", "regulated-air", StringComparison.Ordinal).Replace("{mirror}", "annex", StringComparison.Ordinal);
            if (at.Contains('{', StringComparison.Ordinal) || at.EndsWith("/live", StringComparison.Ordinal))
            {
                continue; // names something that is not there, or never ends
            }

            using HttpResponseMessage answer = await client.GetAsync(new Uri(at, UriKind.Relative));
            await TakeAsync(at, answer);
            asked++;
        }

        Assert.True(asked > 20, "The API's document lists fewer questions than there are.");
        foreach (string page in (string[])["", "night.html", "bench.html", "heads.html", "transfers.html", "shift.html", "maintenance.html", "site.html", "signin.html", "healthz", "readyz"])
        {
            using HttpResponseMessage answer = await client.GetAsync(new Uri(page, UriKind.Relative));
            await TakeAsync("/" + page, answer);
        }

        using HttpResponseMessage live = await client.GetAsync(new Uri("api/v1/benches/practice/live", UriKind.Relative), HttpCompletionOption.ResponseHeadersRead);
        await using Stream stream = await live.Content.ReadAsStreamAsync();
        byte[] begin = new byte[20_000];
        _out.Add(("the live stream", begin[..await stream.ReadAtLeastAsync(begin, 4000, throwOnEndOfStream: false)]));
    }

    private async Task TakeAsync(string where, HttpResponseMessage answer)
    {
        Assert.NotEqual(HttpStatusCode.InternalServerError, answer.StatusCode);
        _out.Add((where, [.. Encoding.UTF8.GetBytes(answer.Headers.ToString()), .. await answer.Content.ReadAsByteArrayAsync()]));
    }

    /// <summary>What the command line makes of the bench and of what was stored.</summary>
    private async Task ReportAsync(string bench)
    {
        string reports = Directory.CreateDirectory(Path.Combine(_folder, "reports")).FullName;
        string stored = Path.Combine(Store, "practice");
        string In(string name) => Path.Combine(reports, name);
        foreach (string[] verb in (string[][])
        [
            ["check", bench], ["probe", bench], ["export", stored, "--out", In("all.csv")], ["export", stored, "--out", In("all.dwlog.gz")],
            ["export", stored, "--out", In("all.jsonl")], ["plot", stored, "--out", In("all.svg")], ["alarms", stored, "--json"], ["baselines", stored],
            ["judge", stored], ["backup", stored, "--out", In("copy")], ["notices", "test", bench],
        ])
        {
            (_, string said) = await ServiceProcess.RunAsync(verb);
            _out.Add((string.Join(' ', verb[0], Path.GetFileName(verb[^1])), Encoding.UTF8.GetBytes(said)));
        }

        Assert.True(File.Exists(In("all.dwlog.gz")), "Nothing was exported.");
    }

    private void TakeFolder(string name, string folder)
    {
        foreach (string file in Directory.EnumerateFiles(folder, "*", SearchOption.AllDirectories))
        {
            byte[] bytes = File.ReadAllBytes(file);
            _out.Add(($"{name}: {Path.GetRelativePath(folder, file)}", bytes));
            if (file.EndsWith(".gz", StringComparison.Ordinal))
            {
                using var plain = new MemoryStream();
                using var packed = new GZipStream(new MemoryStream(bytes), CompressionMode.Decompress);
                packed.CopyTo(plain);
                _out.Add(($"{name}: {Path.GetRelativePath(folder, file)}, unpacked", plain.ToArray()));
            }
        }
    }

    private static string[] Told(List<(string Where, byte[] What)> all, string[] secrets) =>
        [.. from o in all from secret in secrets from form in FormsOf(secret) where Holds(o.What, form) select $"{o.Where} holds {form}"];

    /// <summary>A secret as it is, and as protocols carry it.</summary>
    private static string[] FormsOf(string secret)
    {
        byte[] bytes = Encoding.UTF8.GetBytes(secret);
        return [secret, Convert.ToBase64String(bytes).TrimEnd('='), Convert.ToBase64String([0, .. "bench"u8, 0, .. bytes]).TrimEnd('='), Convert.ToHexString(bytes), Convert.ToHexStringLower(bytes)];
    }

    private static bool Holds(byte[] what, string text) => what.AsSpan().IndexOf(Encoding.UTF8.GetBytes(text)) >= 0;
}
