using System.Diagnostics;
using System.Text.Json;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Notices;
using DriftWatch.Notices.Routes;
using DriftWatch.Storage;
using DriftWatch.SystemTests.Lines;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Http;
using Microsoft.Extensions.Logging;
using Microsoft.Extensions.Logging.Abstractions;
using Xunit.Abstractions;

namespace DriftWatch.SystemTests.Notices;

/// <summary>The desk with its store and real routes to real receivers, which fail in all the ways receivers fail.</summary>
public sealed class RoutesAndReceiversTests(ITestOutputHelper output) : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-notices-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task A_heartbeat_reaches_its_topic_at_a_real_broker()
    {
        using var far = new Receivers(Path.Combine(_folder, "far"));
        await far.BeginBrokerAsync();
        var settings = new HeartbeatSettings
        {
            File = "bench.toml", Line = 1, Every = TimeSpan.FromMilliseconds(200),
            Mqtt = new MqttSettings { Host = "127.0.0.1", Port = far.BrokerPort, Topic = "tests/alive", User = Receivers.User, Password = new SecretPlace(null, far.At("password")) },
        };
        await using var heartbeat = new DriftWatch.Notices.Alive.Heartbeat(settings, "lab", () => null, TimeProvider.System, NullLogger.Instance);
        heartbeat.Start();
        await Receivers.UntilAsync(() => far.Messages.Count >= 3, "three beats at the broker", seconds: 30);
        Assert.All(far.Messages, beat => Assert.Equal(("driftwatch.heartbeat/1", "lab"), (Receivers.Text(beat, "format"), Receivers.Text(beat, "bench"))));
    }

    [Fact]
    public async Task Each_is_told_in_order_by_three_routes_whatever_their_far_ends_do()
    {
        using var far = new Receivers(Path.Combine(_folder, "far"));
        await far.BeginAsync();
        using BenchStore store = BenchStore.Open(Path.Combine(_folder, "store"), new BenchStoreOptions { BallastBytes = 0 });
        var clock = Stopwatch.StartNew();
        await using var desk = new NoticeDesk(store, new NoticeDeskOptions
        {
            Now = () => new EngineTime(clock.Elapsed.Ticks * 100),
            StoreTrouble = () => null,
            Logger = NullLogger.Instance,
        });
        desk.Use(Bench(), Settings(far));
        desk.Start();
        await Receivers.UntilAsync(() => desk.Reports().Count == 3, "the desk has its routes");

        Happen(store, desk, 1);
        await Receivers.UntilAsync(() => far.Posts.Count == 1 && far.Letters.Count == 1 && far.Messages.Count == 1, "the first is told by all", said: () => Stand(desk));

        // All three in trouble: a server's error, a refusal for now, a broker that is gone.
        far.WebhookMode = "500";
        far.MailMode = "451";
        far.EndBroker();
        Happen(store, desk, 2);
        await Receivers.UntilAsync(() => desk.Reports().All(r => r.FailingSinceUtc is not null), "all three fail", said: () => Stand(desk));
        Happen(store, desk, 3);
        far.WebhookMode = "drop";
        await Task.Delay(TimeSpan.FromSeconds(2), TimeProvider.System);
        far.WebhookMode = "429";
        await Receivers.UntilAsync(() => far.Requests.Any(r => Receivers.Text(r, "mode") == "429"), "it was asked to wait", said: () => Stand(desk));
        far.WebhookMode = "ok";
        far.MailMode = "ok";
        await far.BeginBrokerAsync();
        await Receivers.UntilAsync(
            () => far.Posts.Count == 3 && far.Letters.Count == 3 && far.Messages.Count >= 3, "all three are told of all three", said: () => Stand(desk));

        Assert.Equal(["alarm-1", "alarm-2", "alarm-3"], far.Posts.Select(p => AlarmOf(p)));
        Assert.Equal(["alarm-1", "alarm-2", "alarm-3"], far.Letters.Select(l => Receivers.Text(l, "subject").Split("of ")[1].TrimEnd('.')));
        Assert.Equal(["alarm-1", "alarm-2", "alarm-3"], far.Messages.DistinctBy(m => Receivers.Text(m, "id")).Select(m => Receivers.Text(m.GetProperty("alarm"), "id")));
        Assert.All(far.Posts, p => Assert.True(p.GetProperty("signed").GetBoolean()));
        Assert.All(far.Letters, l => Assert.True(l.GetProperty("tls").GetBoolean()));
        Assert.All(far.Letters, l => Assert.Equal(["shift@example.org"], l.GetProperty("to").EnumerateArray().Select(t => t.GetString())));

        // The same notice had the same key at each try, and the far end's wish to wait was heeded.
        foreach (IGrouping<string, JsonElement> notice in far.Requests.Where(r => Receivers.Text(r, "method") == "POST").GroupBy(AlarmOf))
        {
            Assert.Single(notice.Select(r => Receivers.Header(r, "idempotency-key")).Distinct());
            Assert.Single(notice.Select(r => Receivers.Text(r, "body")).Distinct());
        }

        JsonElement asked = far.Requests.Last(r => Receivers.Text(r, "mode") == "429");
        JsonElement next = far.Requests.First(r => r.GetProperty("at").GetDouble() > asked.GetProperty("at").GetDouble());
        Assert.True(next.GetProperty("at").GetDouble() - asked.GetProperty("at").GetDouble() > 2.9);
        output.WriteLine(Stand(desk));
    }

    [Fact]
    public async Task A_web_server_that_hangs_until_we_give_up_and_comes_back_is_told_each_once_in_order()
    {
        using var far = new Receivers(Path.Combine(_folder, "far"));
        await far.BeginAsync();
        using BenchStore store = BenchStore.Open(Path.Combine(_folder, "store"), new BenchStoreOptions { BallastBytes = 0 });
        var clock = Stopwatch.StartNew();
        await using var desk = new NoticeDesk(store, new NoticeDeskOptions
        {
            Now = () => new EngineTime(clock.Elapsed.Ticks * 100),
            StoreTrouble = () => null,
            Logger = NullLogger.Instance,
        });
        desk.Use(Bench(), Settings(far));
        desk.Start();
        await Receivers.UntilAsync(() => desk.Reports().Count == 3, "the desk has its routes");
        Happen(store, desk, 1);
        await Receivers.UntilAsync(() => far.Posts.Count == 1, "the first is told", said: () => Stand(desk));

        far.WebhookMode = "hang";
        Happen(store, desk, 2);
        Happen(store, desk, 3);
        await Receivers.UntilAsync(() => far.Letters.Count == 3, "who hangs holds nobody else up", seconds: 12, said: () => Stand(desk));
        await Receivers.UntilAsync(() => Hanging().Count == 2, "it is given up and tried again", seconds: 40, said: () => Stand(desk));
        Assert.Equal("no answer in time", desk.Reports()[0].LastError);
        far.WebhookMode = "ok";
        Happen(store, desk, 4);
        await Receivers.UntilAsync(() => far.Posts.Count == 4, "all are told once it is back", seconds: 60, said: () => Stand(desk));
        await NoticesOfTheServiceTests.SettleAsync(far);

        Assert.Equal(["alarm-1", "alarm-2", "alarm-3", "alarm-4"], far.Posts.Select(AlarmOf));
        Assert.All(Hanging(), r => Assert.Equal("alarm-2", AlarmOf(r))); // the others wait behind it
        List<JsonElement> second = [.. far.Requests.Where(r => Receivers.Text(r, "method") == "POST" && AlarmOf(r) == "alarm-2")];
        Assert.Equal(3, second.Count);
        Assert.Single(second.Select(r => Receivers.Header(r, "idempotency-key")).Distinct());
        Assert.Single(second.Select(r => Receivers.Text(r, "body")).Distinct());
        Assert.All(second, r => Assert.True(r.GetProperty("signed").GetBoolean())); // each try anew, or a late one would be taken for a replay
        Assert.Equal(3, second.Select(r => Receivers.Header(r, "driftwatch-timestamp")).Distinct().Count());

        // 15 s of patience, then 2 s and 4 s less a jitter of up to half; a turn may come a second late.
        double[] at = [.. second.Select(r => r.GetProperty("at").GetDouble())];
        output.WriteLine($"tries at 0 s, {at[1] - at[0]:0.0} s, {at[2] - at[0]:0.0} s");
        Assert.InRange(at[1] - at[0], 15.9, 20);
        Assert.InRange(at[2] - at[1], 16.9, 22);
        Assert.Empty(store.OpenNotices());
        Assert.Null(desk.Reports()[0].FailingSinceUtc);

        List<JsonElement> Hanging() => [.. far.Requests.Where(r => Receivers.Text(r, "method") == "POST" && Receivers.Text(r, "mode") == "hang")];
    }

    [Fact]
    public async Task A_test_and_a_check_say_what_is_wrong_with_each_route()
    {
        using var far = new Receivers(Path.Combine(_folder, "far"));
        await far.BeginAsync();
        far.WriteSecret("wrong", "not the password");
        NoticeSettings sound = Settings(far);
        foreach (RouteSettings route in sound.Routes)
        {
            await AssertCheckAsync(route, true, "");
        }

        Assert.Empty(far.Letters);
        Assert.Empty(far.Posts);
        RouteSettings hook = sound.Routes[0];
        RouteSettings mail = sound.Routes[1];
        RouteSettings broker = sound.Routes[2];
        var wrong = new SecretPlace(null, far.At("wrong"));
        int nobody = Receivers.FreePort();
        await AssertCheckAsync(mail with { Mail = mail.Mail! with { Password = wrong } }, false, "refuses the user or the password");
        await AssertCheckAsync(mail with { Mail = mail.Mail! with { TrustFile = null } }, false, "issued by nobody this computer trusts");
        await AssertCheckAsync(mail with { Mail = mail.Mail! with { Host = "127.0.0.2" } }, false, "");
        await AssertCheckAsync(mail with { Mail = mail.Mail! with { Port = nobody } }, false, "nobody listens there");
        await AssertCheckAsync(mail with { Mail = mail.Mail! with { Security = MailSecurity.Tls } }, false, "no TLS on this port");
        await AssertCheckAsync(mail with { Mail = mail.Mail! with { Host = "no-such-host.invalid" } }, false, "the name of the host is not known");
        await AssertCheckAsync(broker with { Mqtt = broker.Mqtt! with { Password = wrong } }, false, "the broker refuses the connection");
        await AssertCheckAsync(broker with { Mqtt = broker.Mqtt! with { Port = nobody } }, false, "nobody listens there");
        await AssertCheckAsync(hook with { Webhook = hook.Webhook! with { Url = new WebAddress(new Uri($"http://127.0.0.1:{nobody}/x")) } }, false, "nobody listens there");
        far.WebhookMode = "404";
        await AssertCheckAsync(hook, false, "no such path (404)");
        far.WebhookMode = "302";
        await AssertCheckAsync(hook, false, "sends us elsewhere (302)");
    }

    [Theory]
    [InlineData(-2, true, "its certificate expired on")]
    [InlineData(5, true, "good until")]
    [InlineData(60, true, "")]
    [InlineData(60, false, "issued by nobody this computer trusts")]
    public async Task An_expired_certificate_is_told_and_one_that_soon_is_too(int days, bool isTrusted, string said)
    {
        string pem = Path.Combine(_folder, "shown.pem");
        using System.Security.Cryptography.X509Certificates.X509Certificate2 shown =
            Receivers.MakeCertificate(pem, Path.Combine(_folder, "shown.key"), TimeProvider.System.GetUtcNow().AddDays(days));
        WebApplicationBuilder builder = WebApplication.CreateSlimBuilder();
        builder.Logging.ClearProviders();
        builder.WebHost.UseKestrelHttpsConfiguration().ConfigureKestrel(o => o.ListenLocalhost(0 + Port, l => l.UseHttps(shown)));
        await using WebApplication server = builder.Build();
        server.Run(context => context.Response.WriteAsync("here"));
        await server.StartAsync();
        await AssertCheckAsync(
            Route("hook", RouteKind.Webhook) with { Webhook = new WebhookSettings { Url = new WebAddress(new Uri($"https://localhost:{Port}/")), TrustFile = isTrusted ? pem : null } }, said.Length == 0, said);
    }

    [Theory]
    [InlineData(60, "")]
    [InlineData(-2, "its certificate expired on")]
    public async Task Letters_and_messages_go_by_tls_from_the_start_and_an_expired_certificate_is_told(int days, string said)
    {
        using var far = new Receivers(Path.Combine(_folder, "far"));
        await far.BeginTlsAsync(TimeProvider.System.GetUtcNow().AddDays(days));
        var password = new SecretPlace(null, far.At("password"));
        RouteSettings[] routes =
        [
            Route("mail", RouteKind.EMail) with
            {
                Mail = new MailSettings
                {
                    Host = "localhost", Port = far.MailPort, Security = MailSecurity.Tls, User = Receivers.User, Password = password,
                    From = "bench@example.org", To = ["shift@example.org"], TrustFile = far.At("tls.pem"),
                },
            },
            Route("broker", RouteKind.Mqtt) with
            {
                Mqtt = new MqttSettings { Host = "127.0.0.1", Port = far.BrokerPort, Tls = true, Topic = "tests/notices", User = Receivers.User, Password = password, TrustFile = far.At("tls.pem") },
            },
        ];
        AlarmNotice notice = new NoticeWriter("bench", "Bench").Of(Line(1), "far");
        foreach (RouteSettings settings in routes)
        {
            await AssertCheckAsync(settings, said.Length == 0, said);
            await using INoticeRoute route = RouteMaker.Make(settings, "bench", TimeProvider.System);
            RouteAnswer answer = await RouteMaker.TryAsync(t => route.SendAsync(notice, 1, t), TimeProvider.System, default);
            Assert.True(answer.Done == (said.Length == 0), answer.Said);
            Assert.True(answer.Done || answer.Said.Contains(said, StringComparison.Ordinal), answer.Said);
        }

        Assert.Equal(said.Length == 0 ? 1 : 0, far.Letters.Count);
    }

    [Fact]
    public async Task A_desktop_shows_it_and_one_that_is_not_there_is_told()
    {
        string bus = $"unix:path={Path.Combine(_folder, "bus")}";
        using Companion daemon = Companion.Process("/usr/bin/dbus-daemon", "dbus-daemon", "--session", "--nofork", $"--address={bus}");
        await Receivers.UntilAsync(() => File.Exists(Path.Combine(_folder, "bus")), "the bus is there");
        var route = new DesktopRoute(new DesktopSettings { Bus = bus });
        AlarmNotice notice = new NoticeWriter("bench", "Bench <1>").Of(Line(1), "desktop");
        RouteAnswer nobody = await RouteMaker.TryAsync(t => route.SendAsync(notice, 1, t), TimeProvider.System, default);
        Assert.False(nobody.Done, nobody.Said);

        string log = Path.Combine(_folder, "desktop.log");
        Environment.SetEnvironmentVariable("DBUS_SESSION_BUS_ADDRESS", bus); // for the server, which finds its bus as any program of a session does
        try
        {
            using Companion server = await Companion.NoticeScript("desktop_sink.py", log);
            RouteAnswer answer = await RouteMaker.TryAsync(t => route.SendAsync(notice, 1, t), TimeProvider.System, default);
            Assert.True(answer.Done, answer.Said);
            JsonElement shown = JsonDocument.Parse(File.ReadAllLines(log)[^1]).RootElement;
            Assert.Equal(("DriftWatch", 2), (Receivers.Text(shown, "app"), shown.GetProperty("urgency").GetInt32()));
            Assert.Contains("Bench <1>", Receivers.Text(shown, "summary"), StringComparison.Ordinal);
            Assert.Contains("Bench &lt;1&gt;", Receivers.Text(shown, "body"), StringComparison.Ordinal);
        }
        finally
        {
            Environment.SetEnvironmentVariable("DBUS_SESSION_BUS_ADDRESS", null);
        }
    }

    private int Port { get; } = Receivers.FreePort();

    internal static AlarmTransition Line(long input) => new()
    {
        Id = $"alarm-{input}",
        Tag = "limit.supply-air",
        Input = input,
        Place = 0,
        Bench = "bench",
        BenchHash = "ab",
        Step = AlarmStep.Raised,
        From = AlarmState.Normal,
        To = AlarmState.Unacknowledged,
        IsActive = true,
        IsAcknowledged = false,
        Priority = AlarmPriority.High,
        At = EngineTime.FromSeconds(input),
        AtUtc = UtcText.ToNanoseconds(TimeProvider.System.GetUtcNow()),
        RaisedUtc = 5_000_000_000,
        StartUtc = 4_500_000_000,
        State = MachineState.Running,
        FirstOut = "f",
        Findings = 1,
        Text = $"This is of alarm-{input}.",
    };

    internal static Measurement.Benches.BenchDefinition Bench() => new()
    {
        Id = "bench",
        Label = "Bench",
        SourceHash = "ab",
        Machine = new Measurement.Benches.MachineDefinition { Label = "Machine" },
        Instruments = [],
        Channels = [],
    };

    private static NoticeSettings Settings(Receivers far) => new()
    {
        Routes =
        [
            Route("hook", RouteKind.Webhook) with { Webhook = new WebhookSettings { Url = new WebAddress(new Uri($"http://127.0.0.1:{far.HookPort}/bench")), Secret = new SecretPlace(null, far.At("webhook-secret")) } },
            Route("mail", RouteKind.EMail) with
            {
                Mail = new MailSettings
                {
                    Host = "localhost", Port = far.MailPort, User = Receivers.User, Password = new SecretPlace(null, far.At("password")),
                    From = "bench@example.org", To = ["shift@example.org", "gone@example.org"], TrustFile = far.At("mail.pem"),
                },
            },
            Route("broker", RouteKind.Mqtt) with
            {
                Mqtt = new MqttSettings { Host = "127.0.0.1", Port = far.BrokerPort, Topic = "tests/notices", User = Receivers.User, Password = new SecretPlace(null, far.At("password")) },
            },
        ],
    };

    private static RouteSettings Route(string id, RouteKind kind) =>
        new() { Id = id, Kind = kind, File = "b.toml", Line = 1, LeastPriority = AlarmPriority.Low };

    private static void Happen(BenchStore store, NoticeDesk desk, long input)
    {
        store.CommitJudged(input, [1], "build", [], [Line(input)]);
        desk.Wake();
    }

    private static string AlarmOf(JsonElement request) =>
        Receivers.Text(JsonDocument.Parse(Receivers.Text(request, "body")).RootElement.GetProperty("alarm"), "id");

    private static string Stand(NoticeDesk desk) =>
        string.Join("; ", desk.Reports().Select(r => $"{r.Settings.Id}: {r.Waiting} wait, {r.Sent} sent, {r.LastSaid}, {r.LastError}"));

    private async Task AssertCheckAsync(RouteSettings settings, bool isSound, string said)
    {
        await using INoticeRoute route = RouteMaker.Make(settings, "check", TimeProvider.System);
        RouteAnswer answer = await RouteMaker.TryAsync(route.CheckAsync, TimeProvider.System, default);
        output.WriteLine($"{settings.Id}: {answer.Done}, {answer.Said}; {answer.Remedy}");
        Assert.True(answer.Done == isSound, $"{settings.Id}: {answer.Said}");
        Assert.Contains(said, answer.Said, StringComparison.Ordinal);
        Assert.True(isSound || said == "good until" || answer.Remedy is not null, answer.Said);
    }
}
