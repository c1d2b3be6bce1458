using System.Globalization;
using System.Net;
using System.Net.Http.Headers;
using System.Net.NetworkInformation;
using System.Net.Security;
using System.Net.Sockets;
using System.Runtime.Versioning;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using System.Text.Json;
using Xunit.Abstractions;

namespace DriftWatch.SystemTests.Service;

/// <summary>The service on a network address: refused without access, and with it open to those who have a token, over its own TLS.</summary>
[SupportedOSPlatform("linux")] // modes of files
public sealed class AccessTests(ITestOutputHelper output) : IDisposable
{
    private static readonly string PracticeBench = Path.Combine(AppContext.BaseDirectory, "device-profiles", "practice-rig", "bench.toml");
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-access-").FullName;

    private string AccessFile => Path.Combine(_folder, "access.toml");

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task It_refuses_to_start_on_the_network_without_access_and_says_what_to_do()
    {
        string store = Path.Combine(_folder, "store");
        (int code, string said) = await ServiceProcess.RunAsync("watch", PracticeBench, "--store", store, "--listen", "0.0.0.0:0");
        output.WriteLine(said);
        Assert.Equal(2, code);
        Assert.Contains("driftwatch access add", said, StringComparison.Ordinal);
        Assert.False(Directory.Exists(store), "It had begun to watch.");
    }

    [Fact]
    public async Task It_refuses_an_access_file_that_others_may_read()
    {
        await AddAsync("Ida Wren", "operator");
        File.SetUnixFileMode(AccessFile, UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.OtherRead);
        (int code, string said) = await ServiceProcess.RunAsync("watch", PracticeBench, "--store", _folder, "--listen", "0.0.0.0:0", "--access", AccessFile);
        output.WriteLine(said);
        Assert.Equal(3, code);
        Assert.Contains($"chmod 600 {AccessFile}", said, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Over_its_own_certificate_a_stranger_is_told_nothing_and_a_token_reads_and_no_secret_is_logged()
    {
        string token = await AddAsync("Ida Wren", "operator");
        (string certificate, string key) = MakeCertificate();
        string port = ServiceProcess.FreePort().ToString(CultureInfo.InvariantCulture);
        IPAddress address = OwnAddress();
        using ServiceProcess service = ServiceProcess.Start(
            "watch", PracticeBench, "--store", Path.Combine(_folder, "store"), "--listen", $"0.0.0.0:{port}", "--allow-host", address.ToString(),
            "--access", AccessFile, "--certificate", certificate, "--key", key);
        using HttpClient client = Trusting(certificate);
        var root = new Uri($"https://{address}:{port}/");
        await UntilAliveAsync(client, root, service);

        Assert.Equal("""{"status":"alive"}""", await client.GetStringAsync(new Uri(root, "healthz")));
        using (HttpResponseMessage stranger = await client.GetAsync(new Uri(root, "api/v1/benches")))
        {
            Assert.Equal(HttpStatusCode.Unauthorized, stranger.StatusCode);
            Assert.Equal("Bearer", stranger.Headers.WwwAuthenticate.Single().Scheme);
        }

        client.DefaultRequestHeaders.Authorization = new AuthenticationHeaderValue("Bearer", token);
        using JsonDocument benches = JsonDocument.Parse(await client.GetStringAsync(new Uri(root, "api/v1/benches")));
        Assert.Equal("practice", benches.RootElement.GetProperty("items")[0].GetProperty("id").GetString()![..8]);
        Assert.Equal(0, (await service.StopAsync()).Code);
        string said = string.Join('\n', service.Said);
        output.WriteLine(said);
        Assert.Equal(1, service.TimesLogged(2100));
        Assert.Equal(0, service.TimesLogged(2101));
        Assert.NotEqual(0, service.TimesLogged(2106));
        Assert.DoesNotContain(token[12..], said, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Without_tls_it_says_that_tokens_go_in_the_clear()
    {
        await AddAsync("Ida Wren", "reader");
        using ServiceProcess service = ServiceProcess.Start(
            "watch", PracticeBench, "--store", Path.Combine(_folder, "store"), "--listen", "0.0.0.0:0", "--access", AccessFile);
        for (int i = 0; i < 600 && service.TimesLogged(2101) == 0; i++)
        {
            await Task.Delay(TimeSpan.FromMilliseconds(50), TimeProvider.System);
        }

        Assert.Equal(1, service.TimesLogged(2101));
        Assert.Equal(0, (await service.StopAsync()).Code);
    }

    /// <summary>Whoever reaches the service past the proxy writes what he likes into the headers that a proxy writes.</summary>
    [Fact]
    public async Task The_headers_of_a_proxy_are_believed_from_its_own_address_and_from_no_other()
    {
        await File.WriteAllTextAsync(AccessFile, "[proxy]\ntrusted = [\"127.0.0.1\"]\nname-header = \"X-Signed-In\"\nrole-header = \"X-Role\"\n");
        File.SetUnixFileMode(AccessFile, UnixFileMode.UserRead | UnixFileMode.UserWrite);
        string port = ServiceProcess.FreePort().ToString(CultureInfo.InvariantCulture);
        IPAddress address = OwnAddress();
        using ServiceProcess service = ServiceProcess.Start(
            "watch", PracticeBench, "--store", Path.Combine(_folder, "store"), "--listen", $"0.0.0.0:{port}", "--allow-host", address.ToString(), "--access", AccessFile);
        using var client = new HttpClient();
        await UntilAliveAsync(client, new Uri($"http://127.0.0.1:{port}/"), service);
        Assert.Equal(HttpStatusCode.OK, await SayingAsync("127.0.0.1"));
        Assert.Equal(HttpStatusCode.Unauthorized, await SayingAsync(address.ToString()));
        Assert.Equal(0, (await service.StopAsync()).Code);

        async Task<HttpStatusCode> SayingAsync(string host)
        {
            using var request = new HttpRequestMessage(HttpMethod.Get, $"http://{host}:{port}/api/v1/benches");
            foreach ((string name, string value) in (IEnumerable<(string, string)>)[("X-Forwarded-For", "127.0.0.1"), ("X-Signed-In", "Ida Wren"), ("X-Role", "operator")])
            {
                request.Headers.Add(name, value);
            }

            using HttpResponseMessage answer = await client.SendAsync(request);
            return answer.StatusCode;
        }
    }

    internal static async Task UntilAliveAsync(HttpClient client, Uri root, ServiceProcess service)
    {
        for (int i = 0; i < 600; i++)
        {
            try
            {
                using HttpResponseMessage answer = await client.GetAsync(new Uri(root, "healthz"));
                return;
            }
            catch (HttpRequestException)
            {
                await Task.Delay(TimeSpan.FromMilliseconds(50), TimeProvider.System);
            }
        }

        Assert.Fail("It did not listen within 30 s: " + string.Join('\n', service.Said));
    }

    /// <summary>An address of this machine that is not loopback, so that the service takes a request for one from elsewhere.</summary>
    internal static IPAddress OwnAddress() => NetworkInterface.GetAllNetworkInterfaces()
        .SelectMany(i => i.GetIPProperties().UnicastAddresses)
        .Select(a => a.Address)
        .First(a => a.AddressFamily == AddressFamily.InterNetwork && !IPAddress.IsLoopback(a));

    private static HttpClient Trusting(string certificate)
    {
        byte[] own = X509CertificateLoader.LoadCertificateFromFile(certificate).RawData;
        return new HttpClient(new SocketsHttpHandler
        {
            SslOptions = new SslClientAuthenticationOptions
            {
                RemoteCertificateValidationCallback = (_, shown, _, _) => shown is not null && shown.GetRawCertData().AsSpan().SequenceEqual(own),
            },
        });
    }

    private async Task<string> AddAsync(string name, string role)
    {
        (int code, string said) = await ServiceProcess.RunAsync("access", "add", name, "--role", role, "--file", AccessFile);
        Assert.True(code == 0, said);
        return said.Split('\n').Single(line => line.StartsWith("dw-", StringComparison.Ordinal));
    }

    private (string Certificate, string Key) MakeCertificate()
    {
        using var pair = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        var request = new CertificateRequest("CN=bench-pc", pair, HashAlgorithmName.SHA256);
        DateTimeOffset now = TimeProvider.System.GetUtcNow();
        using X509Certificate2 made = request.CreateSelfSigned(now.AddDays(-1), now.AddDays(1));
        string certificate = Path.Combine(_folder, "bench-pc.pem"), key = Path.Combine(_folder, "bench-pc.key");
        File.WriteAllText(certificate, made.ExportCertificatePem());
        File.WriteAllText(key, pair.ExportPkcs8PrivateKeyPem());
        File.SetUnixFileMode(key, UnixFileMode.UserRead | UnixFileMode.UserWrite);
        return (certificate, key);
    }
}
