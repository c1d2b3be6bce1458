using DriftWatch.Configuration;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Notices;
using DriftWatch.Notices.Routes;
using DriftWatch.Tests.Configuration;

namespace DriftWatch.Tests.Notices;

/// <summary>A bench file's notices: what is read, what is a mistake, and what is a warning with which watching goes on.</summary>
public sealed class NoticeFileTests
{
    private const string Sound = BenchText.Head + BenchText.Volts;

    [Fact]
    public void Every_kind_of_route_is_read_with_its_defaults()
    {
        BenchFileResult result = BenchText.Load(Sound + """
            [[notice]]
            id = "night-shift"
            least-priority = "high"
            after = "5 min"
            quiet-from = "22:00"
            quiet-to = "07:00"
            [notice.e-mail]
            host = "mail.example.org"
            from = "bench@example.org"
            to = ["one@example.org", "Two <two@example.org>"]
            [[notice]]
            id = "hook"
            most = 3
            within = "1 min"
            follow-ups = true
            [notice.webhook]
            url = "https://example.org/x"
            [[notice]]
            id = "broker"
            [notice.mqtt]
            host = "broker.example.org"
            tls = true
            topic = "a/b"
            [[notice]]
            id = "horn"
            [notice.lamp]
            line = 17
            longest = "30 s"
            [[notice]]
            id = "here"
            [notice.desktop]
            [page]
            speech = false
            least-priority = "low"
            [heartbeat]
            every = "30 s"
            url = "https://example.org/alive"
            """);
        Assert.Empty(result.Mistakes);
        NoticeSettings notices = result.Bench!.Notices;
        Assert.Empty(notices.Warnings);
        Assert.Equal([RouteKind.EMail, RouteKind.Webhook, RouteKind.Mqtt, RouteKind.Lamp, RouteKind.Desktop], notices.Routes.Select(r => r.Kind));
        RouteSettings mail = notices.Routes[0];
        Assert.Equal((AlarmPriority.High, TimeSpan.FromMinutes(5), new TimeOnly(22, 0), new TimeOnly(7, 0), 6, 587), (mail.LeastPriority, mail.After, mail.QuietFrom, mail.QuietTo, mail.Most, mail.Mail!.Port));
        Assert.Equal(MailSecurity.Starttls, mail.Mail.Security);
        RouteSettings hook = notices.Routes[1];
        Assert.Equal((AlarmPriority.Medium, 3, TimeSpan.FromMinutes(1), true), (hook.LeastPriority, hook.Most, hook.Within, hook.FollowUps));
        Assert.Equal(8883, notices.Routes[2].Mqtt!.Port);
        Assert.Equal((17, TimeSpan.FromSeconds(30)), (notices.Routes[3].Lamp!.Pin, notices.Routes[3].Lamp!.Longest));
        Assert.Equal((AlarmPriority.Low, true, false), (notices.Page.LeastPriority, notices.Page.Sound, notices.Page.Speech));
        Assert.Equal((TimeSpan.FromSeconds(30), "example.org"), (notices.Heartbeat!.Every, notices.Heartbeat.Url!.Read().Host));
    }

    [Fact]
    public void Mistakes_are_told_all_at_once_and_to_the_letter()
    {
        BenchFileResult result = BenchText.Load(Sound + """
            [[notice]]
            id = "a"
            quiet-from = "25:00"
            [notice.webhook]
            url = "https://example.org"
            secret-env = "X"
            secret-file = "y"
            [[notice]]
            id = "a"
            afterr = "5 min"
            [[notice]]
            id = "b"
            [notice.desktop]
            [notice.lamp]
            line = 1
            [heartbeat]
            """);
        Assert.Null(result.Bench);
        Assert.Equal(
            [
                "b.toml(14,14): 'quiet-from' is \"25:00\", which is no time of day; write quiet-from = \"22:00\", hours 00 to 23 and minutes",
                "b.toml(14,14): quiet hours need a beginning and another end; write quiet-from = \"22:00\" and quiet-to = \"07:00\"",
                "b.toml(18,15): secret-env and secret-file both stand there; write one of them",
                "b.toml(19,1): [[notice]] 'a' has no way out; write exactly one of [notice.e-mail], [notice.webhook], [notice.mqtt], [notice.lamp], [notice.desktop] below it",
                "b.toml(20,6): route 'a' stands already in line 13; write another id",
                "b.toml(21,1): [[notice]] has no key 'afterr'; write 'after'",
                "b.toml(22,1): [[notice]] 'b' has 2 ways out; write exactly one of [notice.e-mail], [notice.webhook], [notice.mqtt], [notice.lamp], [notice.desktop] below it",
                "b.toml(27,1): [heartbeat] goes either to a URL or to a broker; write url = \"https://example.org/alive/bench-1\" (or url-env or url-file, where it is a key itself), or [heartbeat.mqtt] below it",
            ],
            result.Mistakes.Select(m => m.ToString()));
    }

    [Theory]
    [InlineData("[notice.webhook]\nsecret-env = \"PATH\"", 14, "[notice.webhook] goes nowhere")]
    [InlineData("[notice.webhook]\nurl-env = \"A\"\nurl-file = \"b\"", 16, "url-env and url-file both stand there")]
    [InlineData("[notice.webhook]\nurl = \"https://example.org\"\nurl-env = \"A\"", 15, "a URL stands in the file and is kept as a secret too")]
    public void A_webhook_has_one_url(string route, int line, string said)
    {
        BenchFileResult result = BenchText.Load(Sound + "[[notice]]\nid = \"a\"\n" + route + "\n");
        FileMistake mistake = Assert.Single(result.Mistakes);
        Assert.Equal((line, said), (mistake.Line, mistake.What));
    }

    [Fact]
    public void A_url_that_is_a_key_is_read_from_where_it_is_kept_and_never_told()
    {
        const string variable = "DRIFTWATCH_TEST_URL_OF_NOTICE_FILES";
        var address = new WebAddress(null, new SecretPlace(variable, null));
        Assert.Equal($"the environment has no {variable}", address.WhyNot()!.Value.What);
        try
        {
            Environment.SetEnvironmentVariable(variable, "example.org/s3cret");
            Assert.Equal($"what {variable} holds is no URL of a web server", address.WhyNot()!.Value.What);
            Environment.SetEnvironmentVariable(variable, "https://example.org/s3cret");
            Assert.Equal(new Uri("https://example.org/s3cret"), address.Read());
            BenchFileResult result = BenchText.Load(Sound + $"[[notice]]\nid = \"a\"\n[notice.webhook]\nurl-env = \"{variable}\"\n[heartbeat]\nurl-env = \"{variable}\"\n");
            Assert.Empty(result.Mistakes);
            Assert.Empty(result.Bench!.Notices.Warnings);
            Assert.Equal(new Uri("https://example.org/s3cret"), result.Bench.Notices.Heartbeat!.Url!.Read());
            Assert.DoesNotContain("s3cret", result.Bench.Notices.ToString(), StringComparison.Ordinal);
        }
        finally
        {
            Environment.SetEnvironmentVariable(variable, null);
        }
    }

    [Theory]
    [InlineData("[notice.webhook]\nurl-file = \"none\"", "none can't be read", true)]
    [InlineData("[notice.webhook]\nurl = \"bench at example\"", "\"bench at example\" is no URL of a web server")]
    [InlineData("[notice.webhook]\nurl = \"ftp://example.org\"", "\"ftp://example.org\" is no URL of a web server")]
    [InlineData("[notice.webhook]\nurl = \"https://me:pw@example.org\"", "'url' holds a name or password, which would stand in logs")]
    [InlineData("[notice.webhook]\nurl = \"https://example.org\"\nsecret-env = \"NO_SUCH_VARIABLE_OF_OURS\"", "the environment has no NO_SUCH_VARIABLE_OF_OURS", true)]
    [InlineData("[notice.webhook]\nurl = \"https://example.org\"\ntrust-file = \"none.pem\"", "none.pem can't be read", true)]
    [InlineData("[notice.e-mail]\nhost = \"h\"\nfrom = \"bench\"\nto = [\"a@example.org\"]", "\"bench\" is no address of e-mail")]
    [InlineData("[notice.e-mail]\nhost = \"h\"\nfrom = \"a@example.org\"\nto = [\"b@example.org\", \"c\"]", "\"c\" is no address of e-mail")]
    [InlineData("[notice.e-mail]\nhost = \"h\"\nsecurity = \"none\"\nuser = \"u\"\npassword-env = \"PATH\"\nfrom = \"a@example.org\"\nto = [\"b@example.org\"]", "the password would go through the network in the clear")]
    [InlineData("[notice.mqtt]\nhost = \"h\"\ntopic = \"a/#\"", "a message goes to one topic, and + and # stand for several")]
    [InlineData("[notice.mqtt]\nhost = \"h\"\ntopic = \"a\"\npassword-env = \"PATH\"\ntls = true", "there is a password and no user")]
    public void What_may_be_right_tomorrow_is_a_warning_and_the_bench_is_watched(string route, string said, bool mayComeByItself = false)
    {
        BenchFileResult result = BenchText.Load(Sound + "[[notice]]\nid = \"a\"\n" + route + "\n");
        Assert.Empty(result.Mistakes);
        FileMistake warning = Assert.Single(result.Bench!.Notices.Warnings);
        Assert.Contains(said, warning.What, StringComparison.Ordinal);
        Assert.True(warning.Line >= 14 && warning.Remedy.Length > 5, warning.ToString());
        Assert.Equal(mayComeByItself, Assert.Single(result.Bench.Notices.Routes).Trouble is null); // a secret is read at each use, so each use tries it
    }

    /// <summary>It would stand there as if it held: a lamp has no messages to gather or to follow up.</summary>
    [Theory]
    [InlineData("follow-ups = true")]
    [InlineData("most = 3")]
    [InlineData("within = \"1 min\"")]
    public void A_lamp_refuses_what_is_about_messages(string key)
    {
        BenchFileResult result = BenchText.Load(Sound + $"[[notice]]\nid = \"a\"\n{key}\n[notice.lamp]\nline = 17\n");
        FileMistake mistake = Assert.Single(result.Mistakes);
        Assert.Equal(14, mistake.Line);
        Assert.Equal($"take '{key[..key.IndexOf(' ', StringComparison.Ordinal)]}' out", mistake.Remedy);
    }

    [Fact]
    public async Task A_secret_that_was_not_there_at_the_start_is_tried_at_each_use_with_the_real_remedy()
    {
        BenchFileResult result = BenchText.Load(Sound + "[[notice]]\nid = \"a\"\n[notice.webhook]\nurl = \"http://127.0.0.1:9/\"\nsecret-env = \"NO_SUCH_VARIABLE_OF_OURS\"\n");
        RouteSettings settings = Assert.Single(result.Bench!.Notices.Routes);
        await using INoticeRoute route = RouteMaker.Make(settings, "bench", TimeProvider.System);
        RouteAnswer answer = await route.SendAsync(new NoticeWriter("bench", "Bench").Test(new string('0', 32), "anna", "a", 0), 1, default);
        Assert.Equal((false, "set NO_SUCH_VARIABLE_OF_OURS where the service is started"), (answer.Done, answer.Remedy));
    }

    [Fact]
    public void A_secret_that_others_may_read_is_refused_and_one_that_is_kept_is_read()
    {
        string path = Path.GetTempFileName();
        try
        {
            File.WriteAllText(path, "s3cret\n");
            if (!OperatingSystem.IsWindows())
            {
                File.SetUnixFileMode(path, UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.GroupRead);
                Assert.Equal($"chmod 600 {path}", Assert.Throws<SecretException>(() => Secrets.Read(new SecretPlace(null, path))).Remedy);
                File.SetUnixFileMode(path, UnixFileMode.UserRead | UnixFileMode.UserWrite);
            }

            Assert.Equal("s3cret", Secrets.Read(new SecretPlace(null, path)));
            File.WriteAllText(path, "\n");
            Assert.Throws<SecretException>(() => Secrets.Read(new SecretPlace(null, path)));
        }
        finally
        {
            File.Delete(path);
        }

        Assert.NotNull(Secrets.WhyNot(new SecretPlace(null, path)));
    }
}
