using System.Text;
using System.Text.Json;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Notices;
using DriftWatch.Notices.Alive;
using DriftWatch.Notices.Routes;
using Json.Schema;
using Microsoft.Extensions.Time.Testing;
using MimeKit;

namespace DriftWatch.Tests.Notices;

/// <summary>What goes out, to the byte, and how the contact of a lamp behaves.</summary>
public sealed class RouteTests
{
    private static readonly NoticeWriter Writer = new("bench", "Bench 1");

    /// <summary>RFC 4231, test case 2, is HMAC-SHA-256 of "what do ya want for nothing?" under "Jefe": cut at the full stop that ours puts in, the same primitive.</summary>
    [Fact]
    public void The_signature_is_that_of_the_published_algorithm_over_timestamp_full_stop_body()
    {
        Assert.Equal(
            "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843",
            Convert.ToHexStringLower(System.Security.Cryptography.HMACSHA256.HashData("Jefe"u8, "what do ya want for nothing?"u8)));

        // python3: hmac.new(b'k\xc3\xa9y', b'1764374400.{"a":1}', 'sha256').hexdigest()
        Assert.Equal(
            "v1=" + SignatureByPython,
            WebhookRoute.SignatureOf("kéy", "1764374400", "{\"a\":1}"u8));
    }

    private const string SignatureByPython = "226c26f839163b3b7ad620bbcc12dbfa6f591b8bb325e4fa455b6c3d7ce67ea6";

    [Fact]
    public void A_notice_follows_its_published_schema_and_reads_back_as_it_was()
    {
        JsonSchema schema = Schema();
        AlarmNotice one = Writer.Of(Book.Line("a", 7, priority: AlarmPriority.High) with { Cause = "regulator", Text = "Air \"below\"\n5 µm." }, "mail", TimeSpan.FromMinutes(5));
        AlarmNotice digest = Writer.Word(NoticeWriter.Gather(Writer.Digest(one, new string('a', 32)), Writer.Of(Book.Line("b", 8), "mail")));
        AlarmTransition failing = Book.Line("c", 9, priority: AlarmPriority.High) with { Tag = "store-failing.bench", Channel = null };
        AlarmNotice[] all =
        [
            one, digest, Writer.Test(new string('0', 32), "anna", "mail", 5), Writer.Unstored([failing], "mail", 5),
            Writer.Unstored([one.Alarm!, failing], "mail", 5), Writer.Unstored([one.Alarm!], "mail", 5), Writer.Of(failing with { Step = AlarmStep.Returned, To = AlarmState.Normal }, "mail"),
        ];
        foreach (AlarmNotice notice in all)
        {
            byte[] json = NoticeJson.ToUtf8(notice);
            using JsonDocument document = JsonDocument.Parse(json);
            Assert.True(schema.Evaluate(document.RootElement).IsValid, Encoding.UTF8.GetString(json));
            Assert.Equal(json, NoticeJson.ToUtf8(NoticeJson.Read(json)));
            Assert.Contains("no safety interlock", Encoding.UTF8.GetString(json), StringComparison.Ordinal);
            Assert.DoesNotContain('\n', notice.Subject);
        }

        Assert.Contains("Worst value 61.25 psi, limit 65 psi", one.Text, StringComparison.Ordinal);
        AlarmNotice placed = Writer.Of(one.Alarm! with { OnTape = new Measurement.Transfers.TapePlace(727.4, Measurement.Transfers.PositionBasis.Counter) }, "mail");
        Assert.Contains("\nOn the tape: 0:12:07.4, by the machine's counter.\n", placed.Text, StringComparison.Ordinal);
        Assert.DoesNotContain("On the tape", one.Text, StringComparison.Ordinal);
        AlarmNotice below = Writer.Of(one.Alarm! with { Value = -6.6, Limit = -6.25, Unit = "dB" }, "mail");
        Assert.Contains("Worst value −6.6 dB, limit −6.25 dB", below.Text, StringComparison.Ordinal);
        Assert.Contains("\"value\":-6.6,", Encoding.UTF8.GetString(NoticeJson.ToUtf8(below)), StringComparison.Ordinal); // plain where a program reads it
        Assert.Throws<FormatException>(() => NoticeJson.Read("{}"u8.ToArray()));
    }

    [Fact]
    public void A_notice_tells_local_time_with_its_offset_beside_utc_and_the_cause_in_words()
    {
        TimeZoneInfo zone = TimeZoneInfo.CreateCustomTimeZone("test", TimeSpan.FromHours(-3.5), "test", "test");
        AlarmTransition line = Book.Line("a", 7, atSeconds: 3600) with { Cause = "compressor-worn" };
        string text = new NoticeWriter("bench", "Bench", zone).Of(line, "mail").Text;
        Assert.Contains("began 1969-12-31 21:30:00 local time (UTC-03:30; 1970-01-01T01:00:00.000Z)", text, StringComparison.Ordinal);
        Assert.Contains("Probable cause: compressor worn.", text, StringComparison.Ordinal);
        Assert.Contains("began 1970-01-01T01:00:00.000Z", Writer.Of(line, "mail").Text, StringComparison.Ordinal);
    }

    [Fact]
    public void A_timeout_is_not_told_as_the_complaint_of_a_try_before_it()
    {
        using var key = System.Security.Cryptography.ECDsa.Create();
        var request = new System.Security.Cryptography.X509Certificates.CertificateRequest("CN=far", key, System.Security.Cryptography.HashAlgorithmName.SHA256);
        var day = new DateTimeOffset(2026, 3, 1, 0, 0, 0, TimeSpan.Zero);
        using System.Security.Cryptography.X509Certificates.X509Certificate2 shown = request.CreateSelfSigned(day, day.AddDays(30));
        const System.Net.Security.SslPolicyErrors errors = System.Net.Security.SslPolicyErrors.RemoteCertificateChainErrors;

        var late = new CertificateJudge(null, new FakeTimeProvider(day.AddDays(31)));
        Assert.False(late.Accept(shown, errors));
        Assert.Contains("expired on 2026-03-31", RouteWords.Of(new HttpRequestException("no"), late).Said, StringComparison.Ordinal);
        Assert.Equal("no answer in time", RouteWords.Of(new TaskCanceledException("waited"), late).Said);

        var early = new CertificateJudge(null, new FakeTimeProvider(day.AddDays(-1)));
        Assert.False(early.Accept(shown, errors));
        Assert.Contains("not good before 2026-03-01", early.Complaint, StringComparison.Ordinal);
    }

    /// <summary>Taken as the far end shows it: a beat is told by its answer alone, a look by the certificate too.</summary>
    [Fact]
    public async Task A_beat_that_is_answered_gets_through_though_the_certificate_runs_out_soon()
    {
        using var key = System.Security.Cryptography.RSA.Create(2048);
        var request = new System.Security.Cryptography.X509Certificates.CertificateRequest(
            "CN=localhost", key, System.Security.Cryptography.HashAlgorithmName.SHA256, System.Security.Cryptography.RSASignaturePadding.Pkcs1);
        var names = new System.Security.Cryptography.X509Certificates.SubjectAlternativeNameBuilder();
        names.AddDnsName("localhost");
        request.CertificateExtensions.Add(names.Build());
        DateTimeOffset now = TimeProvider.System.GetUtcNow();
        using System.Security.Cryptography.X509Certificates.X509Certificate2 shown = request.CreateSelfSigned(now.AddDays(-30), now.AddDays(5));
        string trust = Path.GetTempFileName();
        await File.WriteAllTextAsync(trust, shown.ExportCertificatePem());
        using var listener = new System.Net.Sockets.TcpListener(System.Net.IPAddress.Loopback, 0);
        listener.Start();
        Task serving = ServeAsync(listener, shown, 2);
        try
        {
            int port = ((System.Net.IPEndPoint)listener.LocalEndpoint).Port;
            var settings = new HeartbeatSettings { File = "b.toml", Line = 1, Url = new WebAddress(new Uri($"https://localhost:{port}/alive")), TrustFile = trust };
            await using (var heartbeat = new Heartbeat(settings, "bench", () => null, TimeProvider.System, Microsoft.Extensions.Logging.Abstractions.NullLogger.Instance))
            {
                RouteAnswer beat = await heartbeat.BeatAsync(default);
                Assert.Equal((true, "the server answers 200"), (beat.Done, beat.Said));
            }

            await using (var heartbeat = new Heartbeat(settings, "bench", () => null, TimeProvider.System, Microsoft.Extensions.Logging.Abstractions.NullLogger.Instance))
            {
                RouteAnswer look = await heartbeat.CheckAsync(default);
                Assert.False(look.Done);
                Assert.Contains("its certificate is good until", look.Said, StringComparison.Ordinal);
                Assert.Equal("renew the certificate", look.Remedy);
            }

            await serving;
        }
        finally
        {
            File.Delete(trust);
        }
    }

    private static async Task ServeAsync(System.Net.Sockets.TcpListener listener, System.Security.Cryptography.X509Certificates.X509Certificate2 shown, int times)
    {
        for (int i = 0; i < times; i++)
        {
            using System.Net.Sockets.TcpClient client = await listener.AcceptTcpClientAsync();
            await using var stream = new System.Net.Security.SslStream(client.GetStream());
            await stream.AuthenticateAsServerAsync(shown);
            Assert.True(await stream.ReadAsync(new byte[4096]) > 0);
            await stream.WriteAsync("HTTP/1.1 200 OK\r\nContent-Length: 0\r\nConnection: close\r\n\r\n"u8.ToArray());
        }
    }

    [Fact]
    public void The_caution_of_a_notice_defers_to_who_protects()
    {
        foreach (string who in (string[])["no safety interlock", "machine's own protection", "pressure switch", "local codes", "licensed"])
        {
            Assert.Contains(who, AlarmNotice.Caution, StringComparison.Ordinal);
        }
    }

    /// <summary>Silence is what a heartbeat tells by: none may come while judging or storing stands still.</summary>
    [Fact]
    public async Task A_heartbeat_falls_silent_while_something_stands_still_and_comes_back_after_it()
    {
        using var listener = new System.Net.Sockets.TcpListener(System.Net.IPAddress.Loopback, 0);
        listener.Start();
        int port = ((System.Net.IPEndPoint)listener.LocalEndpoint).Port;
        int beats = 0;
        Task serving = Task.Run(async () =>
        {
            while (true)
            {
                using System.Net.Sockets.TcpClient client = await listener.AcceptTcpClientAsync();
                Assert.True(await client.GetStream().ReadAsync(new byte[4096]) > 0);
                Interlocked.Increment(ref beats);
                await client.GetStream().WriteAsync("HTTP/1.1 200 OK\r\nContent-Length: 0\r\nConnection: close\r\n\r\n"u8.ToArray());
            }
        });
        string? why = "the store takes nothing";
        var settings = new HeartbeatSettings { File = "b.toml", Line = 1, Every = TimeSpan.FromMilliseconds(50), Url = new WebAddress(new Uri($"http://127.0.0.1:{port}/alive")) };
        await using (var heartbeat = new Heartbeat(settings, "bench", () => Volatile.Read(ref why), TimeProvider.System, Microsoft.Extensions.Logging.Abstractions.NullLogger.Instance))
        {
            heartbeat.Start();
            await Task.Delay(TimeSpan.FromMilliseconds(1500), TimeProvider.System); // the first second gives none anyway
            Assert.Equal(0, Volatile.Read(ref beats));
            Volatile.Write(ref why, null);
            for (int i = 0; i < 400 && Volatile.Read(ref beats) < 3; i++)
            {
                await Task.Delay(TimeSpan.FromMilliseconds(25), TimeProvider.System);
            }

            Assert.True(Volatile.Read(ref beats) >= 3);
            Volatile.Write(ref why, "judging stands still");
            await Task.Delay(TimeSpan.FromMilliseconds(500), TimeProvider.System); // one may have been on its way
            int before = Volatile.Read(ref beats);
            await Task.Delay(TimeSpan.FromMilliseconds(500), TimeProvider.System);
            Assert.Equal(before, Volatile.Read(ref beats));
        }

        listener.Stop();
        await Assert.ThrowsAnyAsync<Exception>(() => serving);
    }

    [Fact]
    public void The_id_of_a_notice_is_that_of_what_it_tells_and_where()
    {
        AlarmTransition line = Book.Line("a", 7);
        Assert.Equal(Writer.Of(line, "mail").Id, new NoticeWriter("bench", "renamed").Of(line, "mail").Id);
        Assert.NotEqual(Writer.Of(line, "mail").Id, Writer.Of(line, "hook").Id);
        Assert.NotEqual(Writer.Of(line, "mail").Id, Writer.Of(line with { Place = 1 }, "mail").Id);
    }

    [Fact]
    public void A_letter_is_the_same_each_time_and_says_who_sent_it()
    {
        var route = new MailRoute(
            new MailSettings { Host = "h", Port = 25, From = "Bench <bench@example.org>", To = ["a@example.org", "B <b@example.org>"] }, TimeProvider.System);
        AlarmNotice notice = Writer.Of(Book.Line("a", 7, priority: AlarmPriority.High), "mail");
        MimeMessage letter = route.Letter(notice);
        Assert.Equal(letter.ToString(), route.Letter(notice).ToString());
        Assert.Equal(notice.Id + "@example.org", letter.MessageId);
        Assert.Equal("auto-generated", letter.Headers["Auto-Submitted"]);
        Assert.Equal(MessageImportance.High, letter.Importance);
        Assert.Equal(2, letter.To.Count);
        Assert.Contains(AlarmNotice.Caution, letter.TextBody, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_lamp_is_lit_while_somebody_is_waited_for_and_open_when_the_service_stops()
    {
        var contact = new FakeContact();
        var lamp = new LampRoute(new LampSettings { Chip = 0, Pin = 17 }, new FakeTimeProvider(), () => contact);
        lamp.Show([]);
        Assert.False(contact.Closed);
        lamp.Show(["a", "b"]);
        Assert.True(contact.Closed);
        lamp.Show(["b"]);
        lamp.Show(["b"]);
        Assert.Equal(2, contact.Sets);
        lamp.Show([]);
        Assert.False(contact.Closed);
        lamp.Show(["c"]);
        await lamp.DisposeAsync();
        Assert.False(contact.Closed);
    }

    [Fact]
    public void A_horn_falls_silent_and_sounds_again_with_the_next_that_calls()
    {
        var contact = new FakeContact();
        var time = new FakeTimeProvider();
        var horn = new LampRoute(new LampSettings { Chip = 0, Pin = 17, Longest = TimeSpan.FromSeconds(30) }, time, () => contact);
        horn.Know(["old"]);
        horn.Show(["old"]);
        Assert.False(contact.Closed); // stood already when the service began
        horn.Show(["old", "new"]);
        time.Advance(TimeSpan.FromSeconds(29));
        horn.Show(["old", "new"]);
        Assert.True(contact.Closed);
        time.Advance(TimeSpan.FromSeconds(1));
        horn.Show(["old", "new"]);
        Assert.False(contact.Closed);
        horn.Show(["new"]);
        Assert.False(contact.Closed); // one is answered for: that calls nobody
        horn.Show(["new", "newest"]);
        Assert.True(contact.Closed);
    }

    [Fact]
    public async Task A_test_of_a_lamp_closes_it_for_a_second_and_leaves_it_as_it_was()
    {
        var contact = new FakeContact();
        var time = new FakeTimeProvider();
        var lamp = new LampRoute(new LampSettings { Chip = 0, Pin = 17 }, time, () => contact);
        lamp.Show([]);
        Task<RouteAnswer> test = lamp.SendAsync(Writer.Test(new string('0', 32), "anna", "lamp", 0), 1, default);
        Assert.True(contact.Closed);
        lamp.Show([]);
        Assert.True(contact.Closed);
        time.Advance(TimeSpan.FromSeconds(1));
        Assert.True((await test).Done);
        Assert.False(contact.Closed);
    }

    [Fact]
    public async Task A_contact_that_is_not_there_is_told_and_tried_again()
    {
        var contact = new FakeContact();
        bool isThere = false;
        var lamp = new LampRoute(new LampSettings { Chip = 3, Pin = 17 }, new FakeTimeProvider(), () => isThere ? contact : throw new IOException("no such chip"));
        Assert.Throws<IOException>(() => lamp.Show(["a"]));
        RouteAnswer answer = await lamp.CheckAsync(default);
        Assert.False(answer.Done);
        Assert.Contains("/dev/gpiochip3", answer.Remedy!, StringComparison.Ordinal);
        isThere = true;
        lamp.Show(["a"]);
        Assert.True(contact.Closed);
    }

    private static JsonSchema Schema()
    {
        using Stream stream = typeof(NoticeJson).Assembly.GetManifestResourceStream("DriftWatch.Notices.schemas.notice.schema.json")!;
        using var reader = new StreamReader(stream);
        return JsonSchema.FromText(reader.ReadToEnd());
    }

    private sealed class FakeContact : IContact
    {
        public bool Closed { get; private set; }

        public int Sets { get; private set; }

        public void Set(bool closed)
        {
            Closed = closed;
            Sets++;
        }

        public void Dispose()
        {
        }
    }
}
