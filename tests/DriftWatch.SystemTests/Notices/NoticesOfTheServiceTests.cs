using System.Globalization;
using System.Net.Sockets;
using System.Text;
using System.Text.Json;
using DriftWatch.SystemTests.Service;
using Xunit.Abstractions;

namespace DriftWatch.SystemTests.Notices;

/// <summary>The whole service: a wire that is pulled, the alarm of it, and who is told, through kills and restarts.</summary>
public sealed class NoticesOfTheServiceTests(ITestOutputHelper output)
{
    [Fact]
    public async Task A_pulled_wire_is_told_by_every_route_once_and_a_restart_repeats_nothing()
    {
        using EmitterBench bench = NewBench();
        using var far = new Receivers(Path.Combine(bench.Folder, "far"));
        await far.BeginAsync();
        File.AppendAllText(bench.BenchFile, far.Toml() + string.Create(CultureInfo.InvariantCulture, $"\n[heartbeat]\nevery = \"1 s\"\nurl = \"http://127.0.0.1:{far.HookPort}/alive\"\n"));
        await bench.PlugIn();
        string store = Path.Combine(bench.Folder, "store");
        int told;
        using (ServiceProcess service = await ServiceProcess.WatchAsync(bench.BenchFile, store))
        {
            await Receivers.UntilAsync(() => far.Requests.Any(r => Receivers.Text(r, "path") == "/alive"), "a sign of life", said: () => Tail(service));
            bench.Unplug();
            await Receivers.UntilAsync(() => Alarms(far).Count > 0 && far.Letters.Count > 0 && far.Messages.Count > 0, "told by all three", said: () => Tail(service));
            await SettleAsync(far);
            told = Alarms(far).Count;

            JsonElement tests = await service.PostAsync($"/api/v1/benches/{EmitterBench.Id}/notices/test", new { by = "anna" });
            Assert.Equal(3, tests.GetProperty("tests").EnumerateArray().Count(t => t.GetProperty("done").GetBoolean()));
            JsonElement routes = (await service.GetAsync($"/api/v1/benches/{EmitterBench.Id}/notices")).GetProperty("routes");
            Assert.All(routes.EnumerateArray(), r => Assert.Equal("working", Receivers.Text(r, "state")));
            Assert.Equal("fresh", Receivers.Text((await service.GetAsync($"/api/v1/benches/{EmitterBench.Id}/health")).GetProperty("noticing"), "state"));
            Assert.Equal(0, (await service.StopAsync()).Code);
        }

        using ServiceProcess again = await ServiceProcess.WatchAsync(bench.BenchFile, store);
        await Task.Delay(TimeSpan.FromSeconds(4), TimeProvider.System);
        List<string> ids = [.. Alarms(far).Select(a => Receivers.Text(a, "id"))];
        output.WriteLine($"{told} notices before the restart, {ids.Count} after");
        Assert.Equal(ids.Count, ids.Distinct().Count());
        Assert.Equal(Alarms(far).Take(told).Select(a => Receivers.Text(a.GetProperty("alarm"), "id")).Distinct().Order(), Alarms(far).Select(a => Receivers.Text(a.GetProperty("alarm"), "id")).Distinct().Order());
        Assert.All(Alarms(far), a => Assert.Contains("no safety interlock", Receivers.Text(a, "caution"), StringComparison.Ordinal));
    }

    [Fact]
    public async Task Killed_while_one_is_on_its_way_it_goes_again_with_the_same_id_and_none_is_lost()
    {
        using EmitterBench bench = NewBench();
        using var far = new Receivers(Path.Combine(bench.Folder, "far"));
        await far.BeginAsync();
        File.AppendAllText(bench.BenchFile, far.Toml());
        await bench.PlugIn();
        string store = Path.Combine(bench.Folder, "store");
        far.WebhookMode = "hang";
        using (ServiceProcess service = await ServiceProcess.WatchAsync(bench.BenchFile, store))
        {
            await Task.Delay(TimeSpan.FromSeconds(1), TimeProvider.System);
            bench.Unplug();
            await Receivers.UntilAsync(() => far.Requests.Any(r => Receivers.Text(r, "method") == "POST"), "one is on its way", said: () => Tail(service));
            await Receivers.UntilAsync(() => far.Letters.Count > 0, "the other routes are not held up", said: () => Tail(service));
            service.KillHard();
        }

        far.WebhookMode = "ok";
        string flying = Receivers.Header(far.Requests.First(r => Receivers.Text(r, "method") == "POST"), "idempotency-key");
        using ServiceProcess again = await ServiceProcess.WatchAsync(bench.BenchFile, store);
        await Receivers.UntilAsync(() => far.Posts.Count > 0, "it goes again", said: () => Tail(again));
        await SettleAsync(far);
        Assert.Equal(flying, Receivers.Header(far.Posts[0], "idempotency-key"));
        string[] posted = [.. far.Posts.Select(p => Receivers.Header(p, "idempotency-key"))];
        Assert.Equal(posted.Length, posted.Distinct().Count());
        string[] letters = [.. far.Letters.Select(l => Receivers.Text(l, "id"))];
        output.WriteLine($"{posted.Length} posts, {letters.Length} letters of which {letters.Distinct().Count()} are different");
        Assert.InRange(letters.Length - letters.Distinct().Count(), 0, 1); // a letter taken and not yet marked at the kill goes again
        Assert.Equal(posted.Length, letters.Distinct().Count());
    }

    [Fact]
    public async Task Wrong_routes_are_told_at_the_start_and_by_check_while_watching_goes_on()
    {
        using EmitterBench bench = NewBench();
        int nobody = Receivers.FreePort();
        int line = File.ReadAllText(bench.BenchFile).Count(c => c == '\n') + 1;
        File.AppendAllText(bench.BenchFile, string.Create(CultureInfo.InvariantCulture, $"""
            [[notice]]
            id = "hook"
            [notice.webhook]
            url = "no url"
            [[notice]]
            id = "broker"
            [notice.mqtt]
            host = "127.0.0.1"
            port = {nobody}
            topic = "a"

            """));
        (int code, string said) = await ServiceProcess.RunAsync("check", bench.BenchFile, "--quiet");
        Assert.Equal(0, code);
        Assert.Contains($"bench.toml({line + 3},7): warning: \"no url\" is no URL of a web server; write url = ", said, StringComparison.Ordinal);
        Assert.Contains($"bench.toml({line + 4},1): warning: route broker: nobody listens there; look at host and port", said, StringComparison.Ordinal);
        Assert.Equal(1, (await ServiceProcess.RunAsync("check", bench.BenchFile, "--quiet", "--strict", "--offline")).Code);
        (code, said) = await ServiceProcess.RunAsync("notices", "test", bench.BenchFile, "--route", "broker");
        Assert.Equal(1, code);
        Assert.Contains("broker: NOT sent", said, StringComparison.Ordinal);

        using ServiceProcess service = await ServiceProcess.WatchAsync(bench.BenchFile, Path.Combine(bench.Folder, "store"));
        await Receivers.UntilAsync(() => service.TimesLogged(1204) == 2, "both are told at the start", said: () => Tail(service));
        Assert.Equal("fresh", Receivers.Text((await service.GetAsync($"/api/v1/benches/{EmitterBench.Id}/health")).GetProperty("judging"), "state"));
    }

    [Fact]
    public async Task Wrong_mail_settings_and_expired_certificates_are_told_by_check_and_at_the_start_with_what_to_do()
    {
        using EmitterBench bench = NewBench();
        using var far = new Receivers(Path.Combine(bench.Folder, "far"));
        using var expired = new Receivers(Path.Combine(bench.Folder, "expired"));
        await far.BeginAsync();
        await expired.BeginTlsAsync(TimeProvider.System.GetUtcNow().AddDays(-2));
        far.WriteSecret("wrong", "not the password");
        int line = File.ReadAllText(bench.BenchFile).Count(c => c == '\n');
        File.AppendAllText(bench.BenchFile, string.Create(CultureInfo.InvariantCulture, $"""
            [[notice]]
            id = "mail"
            e-mail = {Mail(far.MailPort, far.At("wrong"), far.At("mail.pem"), "starttls")}
            [[notice]]
            id = "no-mail"
            e-mail = {Mail(Receivers.FreePort(), far.At("password"), far.At("mail.pem"), "starttls")}
            [[notice]]
            id = "old-mail"
            e-mail = {Mail(expired.MailPort, expired.At("password"), expired.At("tls.pem"), "tls")}
            [[notice]]
            id = "old-broker"
            mqtt = {'{'} host = "127.0.0.1", port = {expired.BrokerPort}, tls = true, topic = "a", user = "{Receivers.User}", password-file = "{expired.At("password")}", trust-file = "{expired.At("tls.pem")}" {'}'}

            """));
        string day = TimeProvider.System.GetUtcNow().AddDays(-2).ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
        string[] told =
        [
            "route mail: it refuses the user or the password",
            "route no-mail: nobody listens there; look at host and port",
            $"route old-mail: its certificate expired on {day}",
            $"route old-broker: its certificate expired on {day}",
        ];
        (int code, string said) = await ServiceProcess.RunAsync("check", bench.BenchFile, "--quiet");
        output.WriteLine(said);
        Assert.Equal(0, code);
        for (int i = 0; i < told.Length; i++)
        {
            string warning = Assert.Single(said.Split('\n'), l => l.Contains(told[i], StringComparison.Ordinal));
            Assert.Contains($"bench.toml({line + 1 + (3 * i)},1): warning: {told[i]}", warning, StringComparison.Ordinal);
            Assert.Contains(';', warning); // what to do about it
        }

        Assert.DoesNotContain("not the password", said, StringComparison.Ordinal);
        Assert.Equal(1, (await ServiceProcess.RunAsync("check", bench.BenchFile, "--quiet", "--strict")).Code);

        using ServiceProcess service = await ServiceProcess.WatchAsync(bench.BenchFile, Path.Combine(bench.Folder, "store"));
        await Receivers.UntilAsync(() => told.All(t => service.Said.Any(s => s.Contains(t, StringComparison.Ordinal))), "all are told at the start", said: () => Tail(service));
        Assert.Equal("fresh", Receivers.Text((await service.GetAsync($"/api/v1/benches/{EmitterBench.Id}/health")).GetProperty("judging"), "state"));

        static string Mail(int port, string password, string trust, string security) => string.Create(
            CultureInfo.InvariantCulture,
            $"{{ host = \"localhost\", port = {port}, security = \"{security}\", user = \"{Receivers.User}\", password-file = \"{password}\", from = \"bench@example.org\", to = [\"shift@example.org\"], trust-file = \"{trust}\" }}");
    }

    [Fact]
    public async Task The_service_manager_is_told_that_it_is_ready_and_that_it_lives()
    {
        using EmitterBench bench = NewBench();
        string path = Path.Combine(bench.Folder, "notify");
        using var manager = new Socket(AddressFamily.Unix, SocketType.Dgram, ProtocolType.Unspecified);
        manager.Bind(new UnixDomainSocketEndPoint(path));
        manager.ReceiveTimeout = 20_000;
        var environment = new Dictionary<string, string> { ["NOTIFY_SOCKET"] = path, ["WATCHDOG_USEC"] = "1500000" };
        using ServiceProcess service = await ServiceProcess.WatchAsync(bench.BenchFile, Path.Combine(bench.Folder, "store"), environment);
        var said = new List<string>();
        byte[] buffer = new byte[256];
        await Task.Run(() =>
        {
            while (said.Count(s => s == "WATCHDOG=1") < 4)
            {
                said.Add(Encoding.ASCII.GetString(buffer, 0, manager.Receive(buffer)));
            }
        });
        Assert.Equal("READY=1", said[0]);
    }

    internal static EmitterBench NewBench()
    {
        EmitterBench bench = EmitterBench.Create();
        File.WriteAllText(
            bench.BenchFile,
            File.ReadAllText(bench.BenchFile).Replace("period = \"20 ms\"", "period = \"20 ms\"\nstale-advisory = \"1 s\"\nstale-alarm = \"2 s\"", StringComparison.Ordinal));
        return bench;
    }

    internal static List<JsonElement> Alarms(Receivers far) =>
        [.. far.Posts.Select(p => JsonDocument.Parse(Receivers.Text(p, "body")).RootElement).Where(n => Receivers.Text(n, "kind") == "alarm")];

    /// <summary>Until nothing new has come for a while.</summary>
    internal static async Task SettleAsync(Receivers far)
    {
        int last = -1;
        for (int now = Count(); now != last; now = Count())
        {
            last = now;
            await Task.Delay(TimeSpan.FromSeconds(2.5), TimeProvider.System);
        }

        int Count() => far.Posts.Count + far.Letters.Count + far.Messages.Count;
    }

    internal static string Tail(ServiceProcess service) => string.Join('\n', service.Said.TakeLast(12));
}
