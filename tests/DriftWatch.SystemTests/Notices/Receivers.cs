using System.Globalization;
using System.Net;
using System.Net.Sockets;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using System.Text.Json;
using DriftWatch.SystemTests.Lines;

namespace DriftWatch.SystemTests.Notices;

/// <summary>The far ends of notices as processes of their own: a web server, a mail server, a broker. They note what they are given.</summary>
internal sealed class Receivers : IDisposable
{
    public const string Secret = "the tests' own s3cret";
    public const string User = "bench";
    public const string Password = "pass of the tests";

    private readonly List<Companion> _companions = [];
    private Companion? _broker;
    private Companion? _reader;

    public Receivers(string folder)
    {
        Folder = folder;
        Directory.CreateDirectory(folder);
        WebhookMode = MailMode = "ok";
        HookPort = FreePort();
        MailPort = FreePort();
        BrokerPort = FreePort();
        WriteSecret("webhook-secret", Secret);
        WriteSecret("password", Password);
    }

    public string Folder { get; }

    public int HookPort { get; }

    public int MailPort { get; }

    public int BrokerPort { get; }

    public string WebhookMode
    {
        set => File.WriteAllText(At("hook-mode"), value);
    }

    public string MailMode
    {
        set => File.WriteAllText(At("mail-mode"), value);
    }

    /// <summary>What the web server was given, in order.</summary>
    public IReadOnlyList<JsonElement> Requests => Lines("hook.log");

    /// <summary>Those POSTs it took.</summary>
    public IReadOnlyList<JsonElement> Posts => [.. Requests.Where(r => Text(r, "method") == "POST" && Text(r, "mode") == "ok")];

    public IReadOnlyList<JsonElement> Letters => Lines("mail.log");

    public IReadOnlyList<JsonElement> Messages => _reader is null
        ? []
        : [.. _reader.Said.Split('\n').Where(l => l.StartsWith('{')).Select(l => JsonDocument.Parse(l).RootElement)];

    /// <summary>The routes of all three as they stand in a bench file.</summary>
    public string Toml(string more = "") => string.Create(CultureInfo.InvariantCulture, $"""

        [[notice]]
        id = "hook"
        least-priority = "low"
        {more}
        [notice.webhook]
        url = "http://127.0.0.1:{HookPort}/bench"
        secret-file = "{At("webhook-secret")}"

        [[notice]]
        id = "mail"
        least-priority = "low"
        {more}
        [notice.e-mail]
        host = "localhost"
        port = {MailPort}
        user = "{User}"
        password-file = "{At("password")}"
        from = "bench@example.org"
        to = ["shift@example.org", "gone@example.org"]
        trust-file = "{At("mail.pem")}"

        [[notice]]
        id = "broker"
        least-priority = "low"
        {more}
        [notice.mqtt]
        host = "127.0.0.1"
        port = {BrokerPort}
        topic = "tests/notices"
        user = "{User}"
        password-file = "{At("password")}"

        """);

    public async Task BeginAsync()
    {
        MakeCertificate(At("mail.pem"), At("mail.key"), TimeProvider.System.GetUtcNow().AddDays(60));
        _companions.Add(await Companion.NoticeScript("hook_sink.py", Plain(HookPort), At("hook.log"), At("hook-mode"), Secret));
        _companions.Add(await Companion.NoticeScript("mail_sink.py", Plain(MailPort), At("mail.log"), At("mail-mode"), At("mail.pem"), At("mail.key"), User, Password));
        await BeginBrokerAsync();
    }

    /// <summary>A mail server and a broker that speak TLS from the start, with a certificate that is good until then.</summary>
    public async Task BeginTlsAsync(DateTimeOffset until)
    {
        MakeCertificate(At("tls.pem"), At("tls.key"), until).Dispose();
        _companions.Add(await Companion.NoticeScript("mail_sink.py", Plain(MailPort), At("mail.log"), At("mail-mode"), At("tls.pem"), At("tls.key"), User, Password, "tls"));
        File.WriteAllText(
            At("tls.conf"),
            $"listener {Plain(BrokerPort)} 127.0.0.1\nallow_anonymous false\npassword_file {At("broker.passwd")}\nuser root\ncertfile {At("tls.pem")}\nkeyfile {At("tls.key")}\n");
        await Companion.RunAsync("/usr/bin/mosquitto_passwd", "mosquitto", "-b", "-c", At("broker.passwd"), User, Password);
        _broker = Companion.Process("/usr/sbin/mosquitto", "mosquitto", "-c", At("tls.conf"));
        await UntilAsync(() => Listens(BrokerPort), "the broker listens");
    }

    public async Task BeginBrokerAsync()
    {
        if (!File.Exists(At("broker.conf")))
        {
            File.WriteAllText(At("broker.conf"), $"listener {Plain(BrokerPort)} 127.0.0.1\nallow_anonymous false\npassword_file {At("broker.passwd")}\nuser root\n");
            await Companion.RunAsync("/usr/bin/mosquitto_passwd", "mosquitto", "-b", "-c", At("broker.passwd"), User, Password);
        }

        _broker = Companion.Process("/usr/sbin/mosquitto", "mosquitto", "-c", At("broker.conf"));
        await UntilAsync(() => Listens(BrokerPort), "the broker listens");
        _reader ??= Companion.Process("/usr/bin/mosquitto_sub", "mosquitto-clients", "-h", "127.0.0.1", "-p", Plain(BrokerPort), "-u", User, "-P", Password, "-t", "tests/#", "-q", "1", "-i", "reader", "-c");
    }

    public void EndBroker() => _broker?.Dispose();

    public string At(string name) => Path.Combine(Folder, name);

    public void WriteSecret(string name, string secret)
    {
        File.WriteAllText(At(name), secret + "\n");
        if (!OperatingSystem.IsWindows())
        {
            File.SetUnixFileMode(At(name), UnixFileMode.UserRead | UnixFileMode.UserWrite);
        }
    }

    /// <summary>A certificate for localhost, signed by itself, with its key, as PEM.</summary>
    public static X509Certificate2 MakeCertificate(string certificatePath, string keyPath, DateTimeOffset until)
    {
        using var key = RSA.Create(2048);
        var request = new CertificateRequest("CN=localhost", key, HashAlgorithmName.SHA256, RSASignaturePadding.Pkcs1);
        var names = new SubjectAlternativeNameBuilder();
        names.AddDnsName("localhost");
        names.AddIpAddress(IPAddress.Loopback);
        request.CertificateExtensions.Add(names.Build());
        X509Certificate2 certificate = request.CreateSelfSigned(until.AddDays(-90), until);
        File.WriteAllText(certificatePath, certificate.ExportCertificatePem() + "\n");
        File.WriteAllText(keyPath, key.ExportPkcs8PrivateKeyPem() + "\n");
        return certificate;
    }

    public static async Task UntilAsync(Func<bool> isSo, string what, double seconds = 90, Func<string>? said = null)
    {
        DateTimeOffset limit = TimeProvider.System.GetUtcNow().AddSeconds(seconds);
        while (!isSo())
        {
            Assert.True(TimeProvider.System.GetUtcNow() < limit, $"Not within {seconds} s: {what}. {said?.Invoke()}");
            await Task.Delay(TimeSpan.FromMilliseconds(50), TimeProvider.System);
        }
    }

    public static string Text(JsonElement element, string name) => element.GetProperty(name).GetString() ?? "";

    public static string Header(JsonElement request, string name) => Text(request.GetProperty("headers"), name);

    public static int FreePort()
    {
        using var listener = new TcpListener(IPAddress.Loopback, 0);
        listener.Start();
        return ((IPEndPoint)listener.LocalEndpoint).Port;
    }

    public void Dispose()
    {
        foreach (Companion companion in _companions)
        {
            companion.Dispose();
        }

        _reader?.Dispose();
        _broker?.Dispose();
    }

    private static string Plain(int number) => number.ToString(CultureInfo.InvariantCulture);

    private static bool Listens(int port)
    {
        try
        {
            using var client = new TcpClient();
            client.Connect(IPAddress.Loopback, port);
            return true;
        }
        catch (SocketException)
        {
            return false;
        }
    }

    private List<JsonElement> Lines(string name) => !File.Exists(At(name))
        ? []
        : [.. File.ReadAllText(At(name)).Split('\n')[..^1].Where(l => l.Length > 0).Select(l => JsonDocument.Parse(l).RootElement)]; // what follows the last end of line is still being written
}
